//! `repeatability` and `Repeatability`.

use super::error::argument;
use super::interval::{PyFTest, PyInterval, estimates, known, labels, name_in};
use super::study::study_from;
use super::table::table;
use crate::estimate::Estimate;
use crate::study::repeatability::spread::Repeatability;
use pyo3::prelude::*;

/// Spread within and between groups of brews, in the unit of the values; intervals of 95 %.
///
/// >>> import pourline
/// >>> masses_g = [pourline.Estimate(mass, 0.1) for mass in (60.1, 59.7, 60.4, 61.0, 60.8, 61.3)]
/// >>> found = pourline.repeatability(masses_g, by=["Ada", "Ada", "Ada", "Bo", "Bo", "Bo"])
/// >>> print(found.of_hand_sd)
/// 0.2887 (0.1533 to 0.8722)
#[pyclass(frozen, module = "pourline", name = "Repeatability")]
pub(super) struct PyRepeatability {
    inner: Repeatability,
    /// Values and groups, for the figure.
    values: Vec<f64>,
    labels: Vec<String>,
}

#[pymethods]
impl PyRepeatability {
    /// Number of brews.
    #[getter]
    fn brews(&self) -> usize {
        self.inner.brews
    }

    /// Value of each brew.
    #[getter]
    fn values(&self) -> Vec<f64> {
        self.values.clone()
    }

    /// Group of each brew.
    #[getter]
    fn labels(&self) -> Vec<String> {
        self.labels.clone()
    }

    /// Mean of all brews, with its sd.
    #[getter]
    fn mean(&self) -> Estimate {
        self.inner.mean
    }

    /// Sd of brews of one group: the repeatability sd.
    #[getter]
    fn within_sd(&self) -> PyInterval {
        self.inner.within_sd.into()
    }

    /// What of it the measurement explains.
    #[getter]
    fn of_scale_sd(&self) -> f64 {
        self.inner.of_scale_sd
    }

    /// What is left for the hand and the coffee.
    #[getter]
    fn of_hand_sd(&self) -> PyInterval {
        self.inner.of_hand_sd.into()
    }

    /// Sd of the true means of groups.
    #[getter]
    fn between_sd(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyInterval>(py, &self.inner.between_sd)
    }

    /// Sd of brews of different groups: the reproducibility sd.
    #[getter]
    fn reproducibility_sd(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyInterval>(py, &self.inner.reproducibility_sd)
    }

    /// Two brews of one group differ by less than this in 95 % of cases.
    #[getter]
    fn repeatability_limit(&self) -> PyInterval {
        self.inner.repeatability_limit.into()
    }

    /// Two brews of different groups differ by less than this in 95 % of cases.
    #[getter]
    fn reproducibility_limit(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyInterval>(py, &self.inner.reproducibility_limit)
    }

    /// `within_sd` in percent of the mean.
    #[getter]
    fn within_cv_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyInterval>(py, &self.inner.within_cv_pct)
    }

    /// `reproducibility_sd` in percent of the mean.
    #[getter]
    fn reproducibility_cv_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyInterval>(py, &self.inner.reproducibility_cv_pct)
    }

    /// Share of the variance of single brews that lies between groups, 0 to 1: ICC(1,1).
    #[getter]
    fn between_share(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyInterval>(py, &self.inner.between_share)
    }

    /// Whether groups differ at all.
    #[getter]
    fn difference(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyFTest>(py, &self.inner.difference)
    }

    /// What a reader must know, in sentences.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.inner.warnings.clone()
    }

    /// A row a group: group, brews, mean, sd.
    ///
    /// >>> import pourline
    /// >>> print(pourline.repeatability([5.1, 5.3, 4.7, 4.6], by=["x", "x", "y", "y"]).table())
    /// group  brews  mean     sd
    ///     x      2   5.2  0.141
    ///     y      2  4.65  0.071
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    fn __repr__(&self) -> String {
        format!("<Repeatability of {} brews in {} groups>", self.inner.brews, self.inner.groups.len())
    }
}

/// How far brews lie apart that ought to be the same: within a group and between groups (ISO 5725-2, groups of any size).
///
/// `data` is either values (numbers or `Estimate`s, whose sd is taken for the measurement's own), with `by` the group of each; or a `Study`, brews or a
/// table, with `measure` and `by` names in it.
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
    if measure.is_none() {
        let (values, labels) = (estimates("data", data)?, labels("by", by)?);
        if labels.len() != values.len() {
            return Err(argument(
                "by",
                format!("{} for {} values; one each is needed", labels.len(), values.len()),
            ));
        }
        let inner = py.detach(|| crate::study::repeatability::spread::repeatability(&values, &labels))?;
        return Ok(PyRepeatability { inner, values: values.iter().map(|v| v.value).collect(), labels });
    }
    let (study, measure, by) = (study_from(data)?, name_in("measure", measure)?, name_in("by", Some(by))?);
    let inner = py.detach(|| study.repeatability(&measure, &by))?;
    let mut taken = study.take(&measure, &[&by])?;
    let values = taken.values.iter().map(|v| v.value).collect();
    Ok(PyRepeatability { inner, values, labels: taken.levels.swap_remove(0) })
}
