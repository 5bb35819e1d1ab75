//! `Interval` and `FTest`, and the values and labels of comparisons.

use super::arrays::short;
use super::error::argument;
use super::estimate::{PyEstimate, maybe_from};
use super::run::run;
use super::show::class;
use super::study::study_from;
use crate::error::Result;
use crate::estimate::{Estimate, Undefined};
use crate::study::gather::study::Study;
use crate::study::repeatability::interval::{FTest, Interval};
use pyo3::prelude::*;
use pyo3::types::PyString;

Interval! { class
/// `float()` gives the number.
///
/// >>> import pourline
/// >>> found = pourline.repeatability([60.1, 59.7, 60.4, 61.0, 60.8, 61.3], by=["Ada"] * 3 + ["Bo"] * 3)
/// >>> print(f"{found.within_sd:.2f} g")
/// 0.31 (0.18 to 0.88) g
PyInterval("pourline", "Interval") {
    fn __float__(&self) -> f64 {
        self.inner.value
    }

    fn __repr__(&self) -> String {
        format!("Interval({:?}, low={:?}, high={:?})", self.inner.value, self.inner.low, self.inner.high)
    }

    /// The number and its ends in the given format; four digits without one.
    fn __format__(&self, py: Python<'_>, spec: &str) -> PyResult<String> {
        let format = py.import("builtins")?.getattr("format")?;
        let spec = if spec.is_empty() { ".4g" } else { spec };
        let one = |number: f64| -> PyResult<String> { format.call1((number, spec))?.extract() };
        Ok(format!("{} ({} to {})", one(self.inner.value)?, one(self.inner.low)?, one(self.inner.high)?))
    }

    fn __str__(&self, py: Python<'_>) -> PyResult<String> {
        self.__format__(py, "")
    }
}}

FTest! { class
/// >>> import pourline
/// >>> found = pourline.repeatability([60.1, 59.7, 60.4, 61.0, 60.8, 61.3], by=["Ada"] * 3 + ["Bo"] * 3)
/// >>> found.difference.degrees, found.difference.degrees_below, round(found.difference.p, 4)
/// (1.0, 4.0, 0.0179)
PyFTest("pourline", "FTest") {
    fn __repr__(&self) -> String {
        let FTest { f, degrees, degrees_below, p } = self.inner;
        format!("FTest(f={f:?}, degrees={degrees:?}, degrees_below={degrees_below:?}, p={p:?})")
    }
}}

/// A function of values with two labels each.
type OfValues<T> = fn(&[Estimate], &[String], &[String]) -> Result<T>;
/// A function of a study, a measure and two factors.
type OfStudy<T> = fn(&Study, &str, &str, &str) -> Result<T>;

/// The result of a function of values with two labels each; or that of a study, if a measure of it is named.
pub(super) fn two_way<T: Send + 'static>(
    data: &Bound<'_, PyAny>,
    measure: Option<&Bound<'_, PyAny>>,
    [first, second]: [(&str, &Bound<'_, PyAny>); 2],
    of_values: OfValues<T>,
    of_study: OfStudy<T>,
) -> PyResult<T> {
    if measure.is_none() {
        let values = estimates("data", data)?;
        let (first, second) = (labels(first.0, first.1)?, labels(second.0, second.1)?);
        return Ok(run(data.py(), move || of_values(&values, &first, &second))??);
    }
    let (study, measure) = (study_from(data)?, name_in("measure", measure)?);
    let (first, second) = (name_in(first.0, Some(first.1))?, name_in(second.0, Some(second.1))?);
    Ok(run(data.py(), move || of_study(&study, &measure, &first, &second))??)
}

/// Numbers and Estimates; an undefined one is an error with its reason.
pub(super) fn estimates(name: &str, given: &Bound<'_, PyAny>) -> PyResult<Vec<Estimate>> {
    let mut all = Vec::new();
    for (i, item) in items(name, given)?.enumerate() {
        let item = item?;
        if let Ok(estimate) = item.cast::<PyEstimate>() {
            all.push(estimate.get().inner);
        } else if let Ok(number) = item.extract::<f64>() {
            all.push(Estimate::exact(number));
        } else {
            let why = |why: Undefined| argument(name, format!("row {}: {why}", i + 1));
            all.push(maybe_from(name, &item)?.map_err(why)?);
        }
    }
    Ok(all)
}

/// Labels: texts, or objects with a text form.
pub(super) fn labels(name: &str, given: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    items(name, given)?.map(|item| item?.str()?.extract()).collect()
}

/// The name of a measure or factor.
pub(super) fn name_in(name: &str, given: Option<&Bound<'_, PyAny>>) -> PyResult<String> {
    let wrong = || argument(name, "a name of the study is needed, as a text");
    given.and_then(|given| given.extract().ok()).ok_or_else(wrong)
}

fn items<'py>(name: &str, given: &Bound<'py, PyAny>) -> PyResult<Bound<'py, pyo3::types::PyIterator>> {
    let wrong =
        || argument(name, format!("one per brew is needed, in a list or array, not {}", short(given)));
    if given.is_instance_of::<PyString>() {
        return Err(wrong());
    }
    given.try_iter().map_err(|_| wrong())
}
