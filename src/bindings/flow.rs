//! `Flow`: flow at the bed on the log's own stamps.

use super::arrays::Kept;
use crate::segment::flow::Flow;
use numpy::PyArray1;
use pyo3::prelude::*;

/// Flow at each stamp of the trace, the scale's lag taken out; each array has the trace's length.
///
/// >>> import pourline
/// >>> flow = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).flow
/// >>> f"{flow.flow_g_per_s.max():.0f} g/s"
/// '10 g/s'
#[pyclass(frozen, module = "pourline", name = "Flow")]
pub(super) struct PyFlow {
    pub(super) inner: Flow,
    kept: [Kept; 5],
}

impl From<Flow> for PyFlow {
    fn from(inner: Flow) -> Self {
        Self { inner, kept: Default::default() }
    }
}

#[pymethods]
impl PyFlow {
    /// Stamps in s.
    #[getter]
    fn time_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[0].array(py, &self.inner.time_s)
    }

    /// Flow of water at the bed, g/s.
    #[getter]
    fn flow_g_per_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[1].array(py, &self.inner.flow_g_per_s)
    }

    /// Its standard deviation, g/s.
    #[getter]
    fn flow_sd_g_per_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[2].array(py, &self.inner.flow_sd_g_per_s)
    }

    /// Water poured so far, g, noise and lag taken out.
    #[getter]
    fn water_g<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[3].array(py, &self.inner.water_g)
    }

    /// Its standard deviation, g.
    #[getter]
    fn water_sd_g<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[4].array(py, &self.inner.water_sd_g)
    }

    fn __len__(&self) -> usize {
        self.inner.time_s.len()
    }

    fn __repr__(&self) -> String {
        let highest = self.inner.flow_g_per_s.iter().copied().fold(0.0, f64::max);
        format!("<Flow: {} samples, at most {highest:.1} g/s>", self.inner.time_s.len())
    }
}
