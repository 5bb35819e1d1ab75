//! `Truth` and `TruePour`: what a simulated log is made from.

use super::arrays::Kept;
use super::json::{to_json, to_python};
use super::trace::{PyEvent, events};
use crate::simulate::truth::{TruePour, Truth};
use numpy::PyArray1;
use pyo3::prelude::*;

/// One pour as it truly was.
///
/// >>> import pourline
/// >>> log, truth = pourline.simulate("clean", seed=1)
/// >>> truth.pours[0].start_s < truth.pours[0].half_rise_s < truth.pours[0].end_s
/// True
#[pyclass(frozen, module = "pourline", name = "TruePour")]
pub(super) struct PyTruePour {
    inner: TruePour,
}

#[pymethods]
impl PyTruePour {
    /// First instant at which the flow passes 0.5 g/s, s.
    #[getter]
    fn start_s(&self) -> f64 {
        self.inner.start_s
    }

    /// Last such instant, s.
    #[getter]
    fn end_s(&self) -> f64 {
        self.inner.end_s
    }

    /// First instant at which the flow passes half of the pour's median flow, s.
    #[getter]
    fn half_rise_s(&self) -> f64 {
        self.inner.half_rise_s
    }

    /// Last such instant, s.
    #[getter]
    fn half_fall_s(&self) -> f64 {
        self.inner.half_fall_s
    }

    /// Mass that arrived from start to end, g.
    #[getter]
    fn mass_g(&self) -> f64 {
        self.inner.mass_g
    }

    /// Mass over duration, g/s.
    #[getter]
    fn mean_flow_g_per_s(&self) -> f64 {
        self.inner.mean_flow_g_per_s
    }

    /// Median over time of the flow from start to end, g/s.
    #[getter]
    fn median_flow_g_per_s(&self) -> f64 {
        self.inner.median_flow_g_per_s
    }

    /// First instant at which the flow is at least 90 % of the median, s.
    #[getter]
    fn plateau_start_s(&self) -> f64 {
        self.inner.plateau_start_s
    }

    /// Last such instant, s.
    #[getter]
    fn plateau_end_s(&self) -> f64 {
        self.inner.plateau_end_s
    }

    /// Sd over mean of the flow on the plateau, over time.
    #[getter]
    fn flow_cv(&self) -> f64 {
        self.inner.flow_cv
    }

    /// All numbers, as a dict.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> list(truth.pours[0].to_dict())[:3]
    /// ['end_s', 'half_fall_s', 'half_rise_s']
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &to_json("pour", &self.inner)?)
    }

    fn __repr__(&self) -> String {
        let TruePour { start_s, end_s, mass_g, mean_flow_g_per_s, .. } = &self.inner;
        format!("<TruePour: {start_s:.2} to {end_s:.2} s, {mass_g:.1} g at {mean_flow_g_per_s:.1} g/s>")
    }
}

/// What a simulated log is made from. The arrays have a value for each row of the log.
///
/// >>> import pourline
/// >>> log, truth = pourline.simulate("usual", seed=7)
/// >>> len(truth.flow_g_per_s) == len(log)
/// True
#[pyclass(frozen, module = "pourline", name = "Truth")]
pub(super) struct PyTruth {
    pub(super) inner: Truth,
    kept: [Kept; 4],
}

impl From<Truth> for PyTruth {
    fn from(inner: Truth) -> Self {
        Self { inner, kept: Default::default() }
    }
}

#[pymethods]
impl PyTruth {
    /// The pours of the brew, in order; a rinse is not among them.
    #[getter]
    fn pours(&self) -> Vec<PyTruePour> {
        self.inner.pours.iter().map(|pour| PyTruePour { inner: pour.clone() }).collect()
    }

    /// First instant of the brew, s: the zeroing that ends the preparation, or the first stamp.
    #[getter]
    fn brew_start_s(&self) -> f64 {
        self.inner.brew_start_s
    }

    /// Instants at which the weights were taken, s; the log's stamps may differ.
    #[getter]
    fn time_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[0].array(py, &self.inner.time_s)
    }

    /// Flow of the brew's water at the bed, g/s.
    #[getter]
    fn flow_g_per_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[1].array(py, &self.inner.flow_g_per_s)
    }

    /// Water of the brew poured by then, g.
    #[getter]
    fn water_g<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[2].array(py, &self.inner.water_g)
    }

    /// Beverage in the server by then, g.
    #[getter]
    fn beverage_g<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[3].array(py, &self.inner.beverage_g)
    }

    /// Time constant of the scale's lag, s.
    #[getter]
    fn scale_lag_s(&self) -> f64 {
        self.inner.scale_lag_s
    }

    /// Standard deviation of the noise before the readout is rounded, g.
    #[getter]
    fn noise_sd_g(&self) -> f64 {
        self.inner.noise_sd_g
    }

    /// Dry coffee, g.
    #[getter]
    fn dose_g(&self) -> f64 {
        self.inner.dose_g
    }

    /// Liquid held by the bed for good, per dose, g/g.
    #[getter]
    fn retention_g_per_g(&self) -> f64 {
        self.inner.retention_g_per_g
    }

    /// Last instant at which the beverage flows at 0.1 g/s or more, s; None where none flows that fast.
    #[getter]
    fn beverage_end_s(&self) -> Option<f64> {
        self.inner.beverage_end_s
    }

    /// What went wrong, in order of time.
    #[getter]
    fn events(&self) -> Vec<PyEvent> {
        events(&self.inner.events)
    }

    fn __repr__(&self) -> String {
        format!("<Truth: {} pours, {} events>", self.inner.pours.len(), self.inner.events.len())
    }
}
