//! `calibrate`, `Calibration` and `LoadStep`: the step response of a scale.

use super::json::options_of;
use super::log::PyLog;
use super::run::run;
use super::show::class;
use crate::scale::calibrate::{Calibration, LoadStep};
use pyo3::prelude::*;
use pyo3::types::PyDict;

LoadStep! { class
/// >>> import pourline
/// >>> log, truth = pourline.simulate({"faults": {"removal": {"share": 1}}}, seed=1)
/// >>> step = pourline.calibrate(log).steps[-1]
/// >>> step.mass_g.value < 0
/// True
PyLoadStep("pourline", "LoadStep") {
    fn __repr__(&self) -> String {
        let LoadStep { at_s, mass_g, lag_s } = &self.inner;
        format!("<LoadStep: {mass_g} g at {at_s} s, lag {lag_s} s>")
    }
}}

Calibration! { class
/// >>> import numpy as np, pourline
/// >>> time_s = np.arange(100) / 10
/// >>> shown_g = 100 * (1 - np.exp(-np.clip(time_s - 3.04, 0, None) / 0.2))
/// >>> lag_s = pourline.calibrate(pourline.Log(time_s, shown_g.round(1))).scale_lag_s
/// >>> options = pourline.Options(condition={"scale_lag_s": lag_s.value, "scale_lag_sd_s": lag_s.sd})
PyCalibration("pourline", "Calibration") {
    fn __repr__(&self) -> String {
        let Calibration { scale_lag_s, noise_sd_g, steps, .. } = &self.inner;
        format!("<Calibration: lag {scale_lag_s} s, noise {noise_sd_g} g, {} steps>", steps.len())
    }
}}

/// Lag of a scale from a log of load steps: masses put on quickly and left, or taken off.
///
/// The only keyword is `least_step_g`, 20 g by default: a smaller change of the level is no step. `log` is the log of
/// one weight; returns a `Calibration`.
///
/// >>> import numpy as np, pourline
/// >>> time_s = np.arange(100) / 10
/// >>> shown_g = 100 * (1 - np.exp(-np.clip(time_s - 3.04, 0, None) / 0.2))
/// >>> found = pourline.calibrate(pourline.Log(time_s, shown_g.round(1)))
/// >>> abs(found.scale_lag_s.value - 0.2) < 0.001
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
