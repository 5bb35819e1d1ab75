//! `mean_beverage`: effect of one mean beverage mass on the yields of brews.

use super::json::text;
use super::show::{Show, class};
use super::study::{listed_brews, study_from};
use crate::estimate::Estimate;
use crate::study::compare::beverage;
use crate::study::compare::two_yields::MeanBeverage;
use crate::study::gather::study::Missing;
use crate::table::Table;
use pyo3::prelude::*;

MeanBeverage! { class
/// >>> import pourline
/// >>> own = {"dose_g": [15, 15, 15], "beverage_g": [240, 246, 234], "tds_pct": [1.38, 1.36, 1.40]}
/// >>> found = pourline.mean_beverage(pourline.Table(own))
/// >>> found.mean_beverage_g, found.rank_changes, f"{found.rms_error_pct:.2f}"
/// (240.0, 2, '0.45')
PyMeanBeverage("pourline", "MeanBeverage")
[
    /// Name of the brew with the largest error, and that error, percentage points.
    largest_error_pct: (String, Estimate) = |of| {
        let worst = &of.brews[of.largest];
        (worst.brew.clone(), worst.error_pct)
    };
    /// Neighbours by own yield whose order is reversed; `clear` if their own yields differ by more than two sd.
    flips: Table = MeanBeverage::flips_table;
    /// Excluded brews, each with the reason.
    missing: Table = |of| Missing::table(&of.missing);
] {
    /// One row per brew: beverage, yield by its own beverage and by the mean, error, each with its sd, and both ranks.
    ///
    /// >>> import pourline
    /// >>> own = {"brew": ["1", "2"], "tds_pct": [1.4, 1.5], "dose_g": [15.0, 15.0], "beverage_g": [210.0, 190.0]}
    /// >>> pourline.mean_beverage(pourline.Table(own)).table()["error_pct"].round(3).tolist()
    /// [-0.933, 1.0]
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    /// Everything as JSON text.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> own = {"brew": ["1", "2"], "tds_pct": [1.4, 1.5], "dose_g": [15.0, 15.0], "beverage_g": [210.0, 190.0]}
    /// >>> json.loads(pourline.mean_beverage(pourline.Table(own)).to_json())["mean_beverage_g"]
    /// 200.0
    fn to_json(&self) -> PyResult<String> {
        text("mean_beverage", &self.inner)
    }

    fn __repr__(&self) -> String {
        format!("<MeanBeverage: {}>", self.inner.words[..2].join("; "))
    }
}}

/// Compares the yields of brews with the yields by the mean beverage mass of all brews.
///
/// `brews` are analysed brews, each taken with the options of its own extraction; or a `Study` or a table with
/// `tds_pct`, `dose_g` and `beverage_g`, taken by the plain balance of percolation.
///
/// >>> import pourline
/// >>> own = {"dose_g": [15, 15, 15], "beverage_g": [240, 246, 234], "tds_pct": [1.38, 1.36, 1.40]}
/// >>> found = pourline.mean_beverage(pourline.Table(own))
/// >>> found.table()["own_rank"].tolist(), found.table()["with_mean_rank"].tolist()
/// ([2, 1, 3], [2, 3, 1])
#[pyfunction]
pub(super) fn mean_beverage(brews: &Bound<'_, PyAny>) -> PyResult<PyMeanBeverage> {
    let listed = !brews.hasattr("__arrow_c_stream__")? && brews.try_iter().is_ok();
    if !listed {
        return Ok(beverage::mean_beverage(&study_from(brews)?)?.into());
    }
    let (analysed, failed) = listed_brews(brews, |_| "Brews, a Study or a table are needed".into())?;
    Ok(beverage::mean_beverage_of(&analysed)?.without(failed).into())
}
