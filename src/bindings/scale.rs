//! `Calibration` with its parts, and `ScaleResponse`: how a scale shows a load.

use super::error::argument;
use super::json::text;
use super::run::run;
use super::show::class;
use crate::brew::scale_resolution::{ScaleResolution, scale_resolution};
use crate::estimate::Estimate;
use crate::model::response::ScaleResponse;
use crate::scale::calibrate::{Calibration, LoadStep};
use crate::scale::curves::CalibrationCurves;
use crate::scale::known::Linearity;
use crate::scale::stamps::Stamps;
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

Linearity! { class
/// >>> import numpy as np, pourline
/// >>> time_s = np.arange(600) / 10
/// >>> load_g = 200.0 * (time_s % 20 > 10)
/// >>> found = pourline.calibrate(pourline.Log(time_s, load_g * 1.001), masses_g=[200])
/// >>> round(found.linearity.sensitivity_deviation_pct.value, 3)
/// 0.1
PyLinearity("pourline", "Linearity") {
    fn __repr__(&self) -> String {
        let Linearity { n_masses, sensitivity_deviation_pct, nonlinearity_g, .. } = &self.inner;
        format!(
            "<Linearity: {n_masses} masses, sensitivity off by {sensitivity_deviation_pct} %, nonlinearity \
             {nonlinearity_g} g>"
        )
    }
}}

Stamps! { class
/// >>> import numpy as np, pourline
/// >>> time_s = np.arange(300) / 10
/// >>> pourline.calibrate(pourline.Log(time_s, 100.0 * (time_s > 10))).stamps
/// <Stamps: every 0.100 s, jitter 0.000 s, 1.0 rows per packet>
PyStamps("pourline", "Stamps") {
    fn __repr__(&self) -> String {
        let Stamps { interval_s, jitter_s, rows_per_packet, .. } = self.inner;
        format!("<Stamps: every {interval_s:.3} s, jitter {jitter_s:.3} s, {rows_per_packet:.1} rows per packet>")
    }
}}

CalibrationCurves! { class
/// >>> import numpy as np, pourline
/// >>> time_s = np.arange(300) / 10
/// >>> curves = pourline.calibrate(pourline.Log(time_s, 100.0 * (time_s > 10))).curves
/// >>> bool(abs(curves.shown[-1] - 1) < 1e-6)
/// True
PyCalibrationCurves("pourline", "CalibrationCurves") {
    fn __repr__(&self) -> String {
        let CalibrationCurves { after_s, frequency_hz, .. } = &self.inner;
        format!("<CalibrationCurves: {} times, {} frequencies>", after_s.len(), frequency_hz.len())
    }
}}

ScaleResolution! { class
/// >>> import numpy as np, pourline
/// >>> time_s = np.arange(300) / 10
/// >>> found = pourline.calibrate(pourline.Log(time_s, 100.0 * (time_s > 10))).resolution()
/// >>> found.half_rise_sd_s < 0.1
/// True
PyScaleResolution("pourline", "ScaleResolution") {
    fn __repr__(&self) -> String {
        let ScaleResolution { half_rise_sd_s, flow_sd_g_per_s, flow_cv_sd, resolved_to_hz } = self.inner;
        format!(
            "<ScaleResolution: half-rise {half_rise_sd_s:.3} s, flow over 1 s {flow_sd_g_per_s:.3} g/s, flow_cv \
             {flow_cv_sd:.4}, up to {resolved_to_hz:.1} Hz>"
        )
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

    /// What an analysis can resolve of a brew on this scale: twelve pours on it are simulated and analysed.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate({"faults": {"removal": {"share": 1}}}, seed=1)
    /// >>> pourline.calibrate(log).resolution().flow_cv_sd < 0.05
    /// True
    fn resolution(slf: &Bound<'_, Self>) -> PyResult<PyScaleResolution> {
        let calibration = slf.get().inner.clone();
        Ok(run(slf.py(), move || scale_resolution(&calibration))??.into())
    }

    /// Draws the step response, the noise and the stamps: as `pourline.plot_calibration`. `ax` are three axes.
    ///
    /// >>> import matplotlib
    /// >>> matplotlib.use("agg")
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate({"faults": {"removal": {"share": 1}}}, seed=1)
    /// >>> len(pourline.calibrate(log).plot())
    /// 3
    #[pyo3(signature = (ax = None))]
    fn plot<'py>(slf: &Bound<'py, Self>, ax: Option<Bound<'py, PyAny>>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("pourline._figures.calibration")?.call_method1("plot_calibration", (slf, ax))
    }

    /// The answer first: response, what a brew on the scale can resolve, and all else that the log shows.
    fn __str__(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._text.calibration")?.call_method1("calibration_text", (slf,))?.extract()
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
