//! `mean_beverage`: what one mean beverage mass would have done to the yields of many brews.

use super::brew::PyBrew;
use super::error::argument;
use super::study::study_from;
use super::table::table;
use crate::brew::result::Brew;
use crate::estimate::Estimate;
use crate::study::compare::beverage;
use crate::study::compare::two_yields::MeanBeverage;
use crate::study::gather::study::Missing;
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;

/// What the mean beverage mass does to the yields of some brews, and to their order.
///
/// >>> import pourline
/// >>> own = pourline.Table({"dose_g": [15, 15, 15], "beverage_g": [240, 246, 234], "tds_pct": [1.38, 1.36, 1.40]})
/// >>> found = pourline.mean_beverage(own)
/// >>> found.mean_beverage_g, found.rank_changes, f"{found.rms_error_pct:.2f}"
/// (240.0, 2, '0.45')
#[pyclass(frozen, module = "pourline", name = "MeanBeverage")]
pub(super) struct PyMeanBeverage {
    inner: MeanBeverage,
}

#[pymethods]
impl PyMeanBeverage {
    /// The mean of the brews that could take part, g.
    #[getter]
    fn mean_beverage_g(&self) -> f64 {
        self.inner.mean_beverage_g
    }

    /// Sd of the beverage from brew to brew, g.
    #[getter]
    fn beverage_spread_g(&self) -> f64 {
        self.inner.beverage_spread_g
    }

    /// Brews whose place changes.
    #[getter]
    fn rank_changes(&self) -> usize {
        self.inner.rank_changes
    }

    /// Pairs of brews, neighbours or not, whose order turns round.
    #[getter]
    fn pairs_flipped(&self) -> usize {
        self.inner.pairs_flipped
    }

    /// Neighbours by own yield whose order turns round; `clear` where they had been apart by more than two sd.
    #[getter]
    fn flips<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.flips_table())
    }

    /// Name of the brew with the largest error, and that error, percentage points.
    #[getter]
    fn largest_error_pct(&self) -> (String, Estimate) {
        let worst = &self.inner.brews[self.inner.largest];
        (worst.brew.clone(), worst.error_pct)
    }

    /// Root mean square of the errors, percentage points.
    #[getter]
    fn rms_error_pct(&self) -> f64 {
        self.inner.rms_error_pct
    }

    /// Brews that could not take part, with the reason.
    #[getter]
    fn missing<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &Missing::table(&self.inner.missing))
    }

    /// What to make of it, in sentences.
    #[getter]
    fn words(&self) -> Vec<String> {
        self.inner.words.clone()
    }

    /// A row a brew: beverage, yield by its own beverage and by the mean, the error, each with its sd, and both places.
    ///
    /// >>> import pourline
    /// >>> own = {"brew": ["1", "2"], "tds_pct": [1.4, 1.5], "dose_g": [15.0, 15.0], "beverage_g": [210.0, 190.0]}
    /// >>> pourline.mean_beverage(pourline.Table(own)).table()["error_pct"].round(3).tolist()
    /// [-0.933, 1.0]
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    /// Everything as JSON text.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> own = {"brew": ["1", "2"], "tds_pct": [1.4, 1.5], "dose_g": [15.0, 15.0], "beverage_g": [210.0, 190.0]}
    /// >>> json.loads(pourline.mean_beverage(pourline.Table(own)).to_json())["mean_beverage_g"]
    /// 200.0
    fn to_json(&self) -> PyResult<String> {
        serde_json::to_string(&self.inner).map_err(|e| argument("mean_beverage", e.to_string()))
    }

    fn __repr__(&self) -> String {
        format!("<MeanBeverage: {}>", self.inner.words[..2].join("; "))
    }
}

/// Compares the yields of brews with those that their mean beverage mass in place of each one's own gives.
///
/// `brews` are analysed brews, each taken with the options of its own extraction; or a `Study` or a table with `tds_pct`, `dose_g` and
/// `beverage_g`, taken by the plain balance of percolation.
///
/// >>> import pourline
/// >>> own = pourline.Table({"dose_g": [15, 15, 15], "beverage_g": [240, 246, 234], "tds_pct": [1.38, 1.36, 1.40]})
/// >>> found = pourline.mean_beverage(own)
/// >>> found.table()["own_rank"].tolist(), found.table()["with_mean_rank"].tolist()
/// ([2, 1, 3], [2, 3, 1])
#[pyfunction]
pub(super) fn mean_beverage(brews: &Bound<'_, PyAny>) -> PyResult<PyMeanBeverage> {
    let (mut analysed, mut failed): (Vec<Brew>, Vec<Missing>) = (Vec::new(), Vec::new());
    let listed = !brews.hasattr("__arrow_c_stream__")? && brews.try_iter().is_ok();
    if !listed {
        return Ok(PyMeanBeverage { inner: beverage::mean_beverage(&study_from(brews)?)? });
    }
    for (i, brew) in brews.try_iter()?.enumerate() {
        let (brew, name) = (brew?, format!("brew {}", i + 1));
        if let Ok(brew) = brew.cast::<PyBrew>() {
            let mut brew = brew.get().inner.clone();
            brew.meta.name.get_or_insert(name);
            analysed.push(brew);
        } else if brew.is_instance_of::<PyValueError>() {
            let reason = brew.str()?.extract()?;
            failed.push(Missing { brew: name, pour: None, what: "brew".into(), reason });
        } else {
            return Err(argument("brews", "Brews, a Study or a table are needed"));
        }
    }
    Ok(PyMeanBeverage { inner: beverage::mean_beverage_of(&analysed)?.without(failed) })
}
