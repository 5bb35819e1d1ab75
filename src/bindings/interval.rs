//! `Interval` and `FTest`, and the values and labels that comparisons take.

use super::arrays::short;
use super::balance::or_why;
use super::error::argument;
use super::estimate::{PyEstimate, maybe_from};
use crate::estimate::{Estimate, Undefined};
use crate::study::compare::contrasted::MaybeInterval;
use crate::study::repeatability::interval::{FTest, Interval};
use pyo3::prelude::*;
use pyo3::types::PyString;

/// A number with its 95 % interval. `float()` gives the number.
///
/// >>> import pourline
/// >>> found = pourline.repeatability([60.1, 59.7, 60.4, 61.0, 60.8, 61.3], by=["Ada"] * 3 + ["Bo"] * 3)
/// >>> print(f"{found.within_sd:.2f} g")
/// 0.31 (0.18 to 0.88) g
#[pyclass(frozen, module = "pourline", name = "Interval")]
pub(super) struct PyInterval {
    inner: Interval,
}

impl From<Interval> for PyInterval {
    fn from(inner: Interval) -> Self {
        Self { inner }
    }
}

#[pymethods]
impl PyInterval {
    /// The number.
    #[getter]
    fn value(&self) -> f64 {
        self.inner.value
    }

    /// Lower end.
    #[getter]
    fn low(&self) -> f64 {
        self.inner.low
    }

    /// Upper end.
    #[getter]
    fn high(&self) -> f64 {
        self.inner.high
    }

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
}

/// A test of a ratio of two mean squares by Fisher's F distribution.
///
/// >>> import pourline
/// >>> found = pourline.repeatability([60.1, 59.7, 60.4, 61.0, 60.8, 61.3], by=["Ada"] * 3 + ["Bo"] * 3)
/// >>> found.difference.degrees, found.difference.degrees_below, round(found.difference.p, 4)
/// (1.0, 4.0, 0.0179)
#[pyclass(frozen, module = "pourline", name = "FTest")]
pub(super) struct PyFTest {
    inner: FTest,
}

impl From<FTest> for PyFTest {
    fn from(inner: FTest) -> Self {
        Self { inner }
    }
}

#[pymethods]
impl PyFTest {
    /// The ratio.
    #[getter]
    fn f(&self) -> f64 {
        self.inner.f
    }

    /// Degrees of freedom of the mean square above the line.
    #[getter]
    fn degrees(&self) -> f64 {
        self.inner.degrees
    }

    /// Degrees of freedom of that below.
    #[getter]
    fn degrees_below(&self) -> f64 {
        self.inner.degrees_below
    }

    /// How often chance alone gives a ratio as large.
    #[getter]
    fn p(&self) -> f64 {
        self.inner.p
    }

    fn __repr__(&self) -> String {
        let FTest { f, degrees, degrees_below, p } = self.inner;
        format!("FTest(f={f:?}, degrees={degrees:?}, degrees_below={degrees_below:?}, p={p:?})")
    }
}

/// Two ends, or an `Undefined` with the reason.
pub(super) fn ends(py: Python<'_>, interval: &MaybeInterval) -> PyResult<Py<PyAny>> {
    or_why(py, interval.clone().map(|[low, high]| (low, high)))
}

/// Something known, or an `Undefined` with the reason.
pub(super) fn known<'py, T: Clone, P>(py: Python<'py>, found: &Result<T, Undefined>) -> PyResult<Py<PyAny>>
where
    P: From<T> + pyo3::PyClass<Frozen = pyo3::pyclass::boolean_struct::True> + Into<PyClassInitializer<P>>,
{
    Ok(match found {
        Ok(known) => Py::new(py, P::from(known.clone()))?.into_any(),
        Err(why) => super::estimate::maybe(py, &Err(why.clone()))?,
    })
}

/// Numbers and Estimates; what is undefined is refused with its reason.
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

/// Labels: texts, or whatever writes itself as one.
pub(super) fn labels(name: &str, given: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    items(name, given)?.map(|item| item?.str()?.extract()).collect()
}

/// The name of a measure or factor.
pub(super) fn name_in(name: &str, given: Option<&Bound<'_, PyAny>>) -> PyResult<String> {
    let wrong = || argument(name, "a name of the study is needed, as a text");
    given.and_then(|given| given.extract().ok()).ok_or_else(wrong)
}

fn items<'py>(name: &str, given: &Bound<'py, PyAny>) -> PyResult<Bound<'py, pyo3::types::PyIterator>> {
    let wrong = || argument(name, format!("one a brew is needed, in a list or array, not {}", short(given)));
    if given.is_instance_of::<PyString>() {
        return Err(wrong());
    }
    given.try_iter().map_err(|_| wrong())
}
