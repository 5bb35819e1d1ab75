//! `repeatability` and `Repeatability`.

use super::error::argument;
use super::interval::{estimates, labels, name_in};
use super::run::run;
use super::show::{Show, class};
use super::study::study_from;
use crate::study::repeatability::spread::Repeatability;
use pyo3::prelude::*;

Repeatability! { class
/// >>> import pourline
/// >>> masses_g = [pourline.Estimate(mass, 0.1) for mass in (60.1, 59.7, 60.4, 61.0, 60.8, 61.3)]
/// >>> found = pourline.repeatability(masses_g, by=["Ada", "Ada", "Ada", "Bo", "Bo", "Bo"])
/// >>> print(found.of_hand_sd)
/// 0.2887 (0.1533 to 0.8722)
PyRepeatability("pourline", "Repeatability")
[
    /// Group of each brew.
    labels: Vec<String> = |of| of.labels.clone();
] {
    /// Value of each brew.
    #[getter]
    fn values(&self) -> Vec<f64> {
        self.inner.values.clone()
    }

    /// One row per group: group, brews, mean, sd.
    ///
    /// >>> import pourline
    /// >>> print(pourline.repeatability([5.1, 5.3, 4.7, 4.6], by=["x", "x", "y", "y"]).table())
    /// group  brews  mean     sd
    ///     x      2   5.2  0.141
    ///     y      2  4.65  0.071
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    fn __repr__(&self) -> String {
        format!("<Repeatability of {} brews in {} groups>", self.inner.brews, self.inner.groups.len())
    }
}}

/// Repeatability and reproducibility: sd of brews within a group and across groups (ISO 5725-2).
///
/// `data` is either values (numbers or `Estimate`s, whose sd is that of the measurement), with `by` the group of each;
/// or a `Study`, brews or a table, with `measure` and `by` names in it. Groups may differ in size.
///
/// >>> import pourline
/// >>> own = pourline.Table({"person": ["Ada", "Ada", "Bo", "Bo"], "mass_g": [60.0, 61.0, 59.0, 60.2]})
/// >>> found = pourline.repeatability(own, measure="mass_g", by="person")
/// >>> print(f"two brews of one person differ by less than {found.repeatability_limit.value:.1f} g")
/// two brews of one person differ by less than 2.2 g
#[pyfunction]
#[pyo3(signature = (data, *, by, measure = None))]
pub(super) fn repeatability(
    py: Python<'_>,
    data: &Bound<'_, PyAny>,
    by: &Bound<'_, PyAny>,
    measure: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyRepeatability> {
    let found = if measure.is_some() {
        let (study, measure, by) =
            (study_from(data)?, name_in("measure", measure)?, name_in("by", Some(by))?);
        run(py, move || study.repeatability(&measure, &by))??
    } else {
        let (values, by) = (estimates("data", data)?, labels("by", by)?);
        if by.len() != values.len() {
            let message = format!("{} for {} values; one each is needed", by.len(), values.len());
            return Err(argument("by", message));
        }
        run(py, move || crate::study::repeatability::spread::repeatability(&values, &by))??
    };
    Ok(found.into())
}
