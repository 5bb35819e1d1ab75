//! `calibrate`: how a scale shows a load.

use super::json::options_of;
use super::log::PyLog;
use super::run::run;
use super::scale::PyCalibration;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// How a scale shows a load, from a log of masses put on by hand and left for some seconds, or taken off.
///
/// `log` is the log of one weight; returns a `Calibration`. Keywords: `least_step_g`, 20 g by default, below which a
/// change of the level is no mass; `masses_g`, what the masses are known to weigh: one for each that was put on, in
/// their order, or one for all. A mass that is taken off is the one on the scale that weighs as much.
///
/// >>> import numpy as np, pourline
/// >>> time_s = np.arange(100) / 10
/// >>> shown_g = 100 * (1 - np.exp(-np.clip(time_s - 3.04, 0, None) / 0.2))
/// >>> found = pourline.calibrate(pourline.Log(time_s, shown_g.round(1)))
/// >>> abs(found.response.delay_s.value - 0.2) < 0.01
/// True
#[pyfunction]
#[pyo3(signature = (log, **options))]
pub(super) fn calibrate(
    py: Python<'_>,
    log: Py<PyLog>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyCalibration> {
    let options = options_of("calibrate", options)?;
    Ok(run(py, move || crate::scale::calibrate::calibrate(&log.get().inner, &options))??.into())
}
