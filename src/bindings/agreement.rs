//! `agreement` and `Agreement`.

use super::interval::{PyInterval, estimates, known, name_in};
use super::study::study_from;
use super::table::table;
use crate::study::repeatability::agreement::Agreement;
use numpy::PyArray1;
use pyo3::prelude::*;

/// How far the values of two scales or methods lie apart, first less second, in their unit; intervals of 95 %.
///
/// >>> import pourline
/// >>> found = pourline.agreement([60.1, 45.3, 80.2, 30.0, 55.4], [60.0, 45.1, 80.4, 29.8, 55.3])
/// >>> print(f"{found.bias:.2f}")
/// 0.08 (-0.12 to 0.28)
/// >>> found.warnings[0]
/// '5 pairs leave wide limits: read their intervals, not the limits alone'
#[pyclass(frozen, module = "pourline", name = "Agreement")]
pub(super) struct PyAgreement {
    inner: Agreement,
}

#[pymethods]
impl PyAgreement {
    /// Number of pairs.
    #[getter]
    fn pairs(&self) -> usize {
        self.inner.pairs
    }

    /// Mean difference.
    #[getter]
    fn bias(&self) -> PyInterval {
        self.inner.bias.into()
    }

    /// Sd of the differences.
    #[getter]
    fn sd(&self) -> PyInterval {
        self.inner.sd.into()
    }

    /// What of it the stated sd of the values explain.
    #[getter]
    fn of_scale_sd(&self) -> f64 {
        self.inner.of_scale_sd
    }

    /// The lower limit of agreement: 95 % of differences lie between the limits.
    #[getter]
    fn lower_limit(&self) -> PyInterval {
        self.inner.lower_limit.into()
    }

    /// The upper limit of agreement.
    #[getter]
    fn upper_limit(&self) -> PyInterval {
        self.inner.upper_limit.into()
    }

    /// How the difference grows with the mean of the two.
    #[getter]
    fn slope(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyInterval>(py, &self.inner.slope)
    }

    /// How often chance alone gives a slope as steep.
    #[getter]
    fn slope_p(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        match &self.inner.slope_p {
            Ok(p) => Ok(p.into_pyobject(py)?.into_any().unbind()),
            Err(why) => super::estimate::maybe(py, &Err(why.clone())),
        }
    }

    /// Mean of each pair.
    #[getter]
    fn means<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<f64>> {
        PyArray1::from_slice(py, &self.inner.means)
    }

    /// Difference of each pair.
    #[getter]
    fn differences<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<f64>> {
        PyArray1::from_slice(py, &self.inner.differences)
    }

    /// What a reader must know, in sentences.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.inner.warnings.clone()
    }

    /// A row a pair: mean, difference, and whether it lies outside of the limits (1) or not (0).
    ///
    /// >>> import pourline
    /// >>> pourline.agreement([5.1, 5.3, 5.6], [5.0, 5.4, 5.5]).table().columns
    /// ['mean', 'difference', 'outside']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    fn __repr__(&self) -> String {
        format!("<Agreement of {} pairs>", self.inner.pairs)
    }
}

/// How far two scales or methods agree: limits of agreement (Bland and Altman 1986) with exact intervals.
///
/// `first` and `second` are values, the same brews in the same order; or, with a `study` (a `Study`, brews or a table), names of two measures in it.
///
/// >>> import pourline
/// >>> own = pourline.Table({"by_dial_pct": [1.30, 1.42, 1.25, 1.37], "by_drying_pct": [1.28, 1.41, 1.25, 1.33]})
/// >>> round(pourline.agreement("by_dial_pct", "by_drying_pct", study=own).bias.value, 4)
/// 0.0175
#[pyfunction]
#[pyo3(signature = (first, second, *, study = None))]
pub(super) fn agreement(
    py: Python<'_>,
    first: &Bound<'_, PyAny>,
    second: &Bound<'_, PyAny>,
    study: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyAgreement> {
    let inner = if let Some(study) = study {
        let study = study_from(study)?;
        let (first, second) = (name_in("first", Some(first))?, name_in("second", Some(second))?);
        py.detach(|| study.agreement(&first, &second))?
    } else {
        let (first, second) = (estimates("first", first)?, estimates("second", second)?);
        py.detach(|| crate::study::repeatability::agreement::agreement(&first, &second))?
    };
    Ok(PyAgreement { inner })
}
