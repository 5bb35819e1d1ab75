//! `Calibration`, `LoadStep` and `ScaleResponse`: how a scale shows a load.

use super::error::argument;
use super::json::text;
use super::show::class;
use crate::estimate::Estimate;
use crate::model::response::ScaleResponse;
use crate::scale::calibrate::{Calibration, LoadStep};
use pyo3::prelude::*;
use std::path::PathBuf;

LoadStep! { class
/// >>> import pourline
/// >>> log, truth = pourline.simulate({"faults": {"removal": {"share": 1}}}, seed=1)
/// >>> step = pourline.calibrate(log).steps[-1]
/// >>> step.mass_g.value < 0
/// True
PyLoadStep("pourline", "LoadStep") {
    fn __repr__(&self) -> String {
        let LoadStep { at_s, mass_g, .. } = &self.inner;
        format!("<LoadStep: {mass_g} g at {at_s} s>")
    }
}}

ScaleResponse! { class
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> brew.segments.response.source
/// 'estimated'
/// >>> pourline.ScaleResponse.average(0.6)
/// <ScaleResponse: average, delay 0.300 ± 0.000 s (given)>
PyScaleResponse("pourline", "ScaleResponse") {
    /// A first-order lag. `lag_s` is its time constant, s, and `delay_sd_s` its sd.
    ///
    /// >>> import pourline
    /// >>> pourline.ScaleResponse.lag(0.2).delay_s.value
    /// 0.2
    #[staticmethod]
    #[pyo3(signature = (lag_s, delay_sd_s = 0.0))]
    fn lag(lag_s: f64, delay_sd_s: f64) -> PyResult<Self> {
        known(ScaleResponse::lag(lag_s), delay_sd_s)
    }

    /// A moving average. `average_s` is its length, s, and `delay_sd_s` the sd of its delay, s.
    ///
    /// >>> import pourline
    /// >>> pourline.ScaleResponse.average(0.6, 0.02).delay_s
    /// Estimate(0.3, sd=0.02)
    #[staticmethod]
    #[pyo3(signature = (average_s, delay_sd_s = 0.0))]
    fn average(average_s: f64, delay_sd_s: f64) -> PyResult<Self> {
        known(ScaleResponse::average(average_s), delay_sd_s)
    }

    /// What the scale shows of a step of 1 so many seconds after it. `after_s` is that time, s.
    ///
    /// >>> import pourline
    /// >>> round(pourline.ScaleResponse.average(0.6).shown(0.3), 6)
    /// 0.5
    fn shown(&self, after_s: f64) -> f64 {
        self.inner.shown(after_s)
    }

    /// The option that it is, as JSON.
    fn _as_option(&self) -> PyResult<String> {
        text("response", &self.inner)
    }

    fn __repr__(&self) -> String {
        let ScaleResponse { family, delay_s, source, .. } = &self.inner;
        format!("<ScaleResponse: {}, delay {delay_s} s ({})>", family.name().replace('_', " "), source.name())
    }
}}

fn known(response: ScaleResponse, delay_sd_s: f64) -> PyResult<PyScaleResponse> {
    let delay_s = Estimate::new(response.delay_s.value, delay_sd_s);
    let response = ScaleResponse { delay_s, ..response };
    match response.broken() {
        Some(rule) => Err(argument("scale", rule)),
        None => Ok(response.into()),
    }
}

Calibration! { class
/// >>> import numpy as np, pourline
/// >>> time_s = np.arange(100) / 10
/// >>> shown_g = [100 * pourline.ScaleResponse.average(0.6).shown(t - 3.04) for t in time_s]
/// >>> found = pourline.calibrate(pourline.Log(time_s, np.round(shown_g, 1)))
/// >>> found.response.family
/// 'average'
/// >>> options = pourline.Options(condition={"scale": found})
PyCalibration("pourline", "Calibration") {
    /// Writes it as a TOML text; a file of it can be given as `Options(condition={"scale": path})`.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate({"faults": {"removal": {"share": 1}}}, seed=1)
    /// >>> found = pourline.calibrate(log)
    /// >>> pourline.Calibration.parse(found.to_toml()) == found
    /// True
    fn to_toml(&self) -> PyResult<String> {
        Ok(self.inner.to_toml()?)
    }

    /// Reads it from a TOML text. `text` is that of `to_toml`.
    ///
    /// >>> import pourline
    /// >>> pourline.Calibration.parse("format = 9")
    /// Traceback (most recent call last):
    /// pourline.PourlineError: it is of version 9, and this is version 1: make the file again with `calibrate`
    #[staticmethod]
    fn parse(text: &str) -> PyResult<Self> {
        Ok(Calibration::parse(text)?.into())
    }

    /// Reads it from a TOML file. `path` is that of the file.
    ///
    /// >>> import pathlib, tempfile, pourline
    /// >>> log, truth = pourline.simulate({"faults": {"removal": {"share": 1}}}, seed=1)
    /// >>> with tempfile.TemporaryDirectory() as folder:
    /// ...     path = pathlib.Path(folder, "my_scale.toml")
    /// ...     size = path.write_text(pourline.calibrate(log).to_toml())
    /// ...     len(pourline.Calibration.read(path).steps)
    /// 2
    #[staticmethod]
    fn read(path: PathBuf) -> PyResult<Self> {
        Ok(Calibration::read(path)?.into())
    }

    /// The option that its response is, as JSON.
    fn _as_option(&self) -> PyResult<String> {
        text("response", &self.inner.response)
    }

    fn __repr__(&self) -> String {
        let Calibration { response, noise_sd_g, steps, .. } = &self.inner;
        let (family, n) = (response.family.name().replace('_', " "), steps.len());
        format!("<Calibration: {family}, delay {} s, noise {noise_sd_g} g, {n} steps>", response.delay_s)
    }
}}
