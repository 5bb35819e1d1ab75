//! `calibrate`, `Calibration` and `LoadStep`: what a scale does to a mass that is put on it.

use super::json::from_dict;
use super::log::PyLog;
use crate::estimate::Estimate;
use crate::scale::calibrate::{CalibrateOptions, Calibration, LoadStep};
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// One mass put on the scale, or taken off.
///
/// >>> import pourline
/// >>> log, truth = pourline.simulate({"faults": {"removal": {"share": 1}}}, seed=1)
/// >>> step = pourline.calibrate(log).steps[-1]
/// >>> step.mass_g.value < 0
/// True
#[pyclass(frozen, module = "pourline", name = "LoadStep")]
pub(super) struct PyLoadStep {
    inner: LoadStep,
}

#[pymethods]
impl PyLoadStep {
    /// When, s.
    #[getter]
    fn at_s(&self) -> Estimate {
        self.inner.at_s
    }

    /// The mass, g; below 0 where it was taken off.
    #[getter]
    fn mass_g(&self) -> Estimate {
        self.inner.mass_g
    }

    /// The lag through which it shows, s.
    #[getter]
    fn lag_s(&self) -> Estimate {
        self.inner.lag_s
    }

    fn __repr__(&self) -> String {
        let LoadStep { at_s, mass_g, lag_s } = &self.inner;
        format!("<LoadStep: {mass_g} g at {at_s} s, lag {lag_s} s>")
    }
}

/// What a scale does to a mass that is put on it.
///
/// >>> import numpy as np, pourline
/// >>> time_s = np.arange(100) / 10
/// >>> shown_g = 100 * (1 - np.exp(-np.clip(time_s - 3.04, 0, None) / 0.2))
/// >>> lag_s = pourline.calibrate(pourline.Log(time_s, shown_g.round(1))).scale_lag_s
/// >>> options = pourline.Options(condition={"scale_lag_s": lag_s.value, "scale_lag_sd_s": lag_s.sd})
#[pyclass(frozen, module = "pourline", name = "Calibration")]
pub(super) struct PyCalibration {
    inner: Calibration,
}

#[pymethods]
impl PyCalibration {
    /// Time constant of the first-order lag, s. The time that a hand takes to put a mass down is part of it.
    #[getter]
    fn scale_lag_s(&self) -> Estimate {
        self.inner.scale_lag_s
    }

    /// Standard deviation of the noise at rest, quantisation included, g.
    #[getter]
    fn noise_sd_g(&self) -> Estimate {
        self.inner.noise_sd_g
    }

    /// Step of the readout, g; 0 where none is seen.
    #[getter]
    fn step_g(&self) -> f64 {
        self.inner.step_g
    }

    /// The steps that were fitted, in order of time.
    #[getter]
    fn steps(&self) -> Vec<PyLoadStep> {
        self.inner.steps.iter().map(|step| PyLoadStep { inner: *step }).collect()
    }

    fn __repr__(&self) -> String {
        let Calibration { scale_lag_s, noise_sd_g, steps, .. } = &self.inner;
        format!("<Calibration: lag {scale_lag_s} s, noise {noise_sd_g} g, {} steps>", steps.len())
    }
}

/// Finds the lag of a scale from a log in which masses were put on at once and left, or taken off.
///
/// The only keyword is `least_step_g`: a change of the level by less is no step (20 g).
/// `log` is the log of one weight; returns a `Calibration`.
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
    log: &Bound<'_, PyLog>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyCalibration> {
    let options = match options {
        Some(given) => from_dict("calibrate", CalibrateOptions::default(), given)?,
        None => CalibrateOptions::default(),
    };
    let log = &log.get().inner;
    Ok(PyCalibration { inner: py.detach(|| crate::scale::calibrate::calibrate(log, &options))? })
}
