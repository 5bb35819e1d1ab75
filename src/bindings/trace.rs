//! `Trace`, `ChannelTrace` and `Event`: the conditioned log and what was found in it.

use super::arrays::Kept;
use super::json::to_json;
use super::meta::PyMeta;
use crate::condition::trace::{ChannelTrace, Event, Trace};
use crate::estimate::Estimate;
use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;

/// The word that the library writes for one of its plain kinds, such as `knock`.
pub(super) fn word(kind: &impl serde::Serialize) -> PyResult<String> {
    Ok(to_json("kind", kind)?.as_str().unwrap_or_default().to_owned())
}

/// One thing that the scale did and the hand did not.
///
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-02"))
/// >>> [event.kind for event in brew.events]
/// ['knock', 'knock', 'knock']
#[pyclass(frozen, module = "pourline", name = "Event")]
pub(super) struct PyEvent {
    inner: Event,
}

#[pymethods]
impl PyEvent {
    /// What kind, in a word.
    ///
    /// `knock`, `lift`, `swirl`, `zeroing`, `gap`, `missing`, `stuck`, `placed`, `removed`, `reordered`,
    /// `duplicate`, `drift` or `preparation`.
    #[getter]
    fn kind(&self) -> PyResult<String> {
        word(&self.inner.kind)
    }

    /// On which weight: `water` or `beverage`.
    #[getter]
    fn channel(&self) -> PyResult<String> {
        word(&self.inner.channel)
    }

    /// First instant, s.
    #[getter]
    fn start_s(&self) -> f64 {
        self.inner.start_s
    }

    /// Last instant, s.
    #[getter]
    fn end_s(&self) -> f64 {
        self.inner.end_s
    }

    /// Size, g: how far the reading moved; 0 where that has no meaning.
    #[getter]
    fn size_g(&self) -> f64 {
        self.inner.size_g
    }

    /// Number of samples concerned.
    #[getter]
    fn samples(&self) -> usize {
        self.inner.samples
    }

    /// What was done about it, in a sentence.
    #[getter]
    fn action(&self) -> &str {
        &self.inner.action
    }

    fn __repr__(&self) -> PyResult<String> {
        let Event { start_s, end_s, size_g, action, .. } = &self.inner;
        let (kind, channel) = (self.kind()?, self.channel()?);
        Ok(format!("<{kind} on {channel}, {start_s:.2} to {end_s:.2} s, {size_g:+.1} g: {action}>"))
    }
}

/// One weight after conditioning; each array has the trace's length.
///
/// >>> import pourline
/// >>> water = pourline.condition(pourline.datasets.load("fernspout-ada-01")).water
/// >>> set(water.flag.tolist())
/// {'used'}
#[pyclass(frozen, module = "pourline", name = "ChannelTrace")]
pub(super) struct PyChannelTrace {
    inner: ChannelTrace,
    mass_g: Kept,
    flag: PyOnceLock<Py<PyAny>>,
}

#[pymethods]
impl PyChannelTrace {
    /// The reading with offsets and drift taken out, g; NaN where it is missing; neither smoothed nor filled.
    #[getter]
    fn mass_g<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.mass_g.array(py, &self.inner.mass_g)
    }

    /// What became of each sample, an array of words.
    ///
    /// `used`, `missing`, `duplicate`, `knock`, `lift`, `settling`, `stuck`,
    /// `preparation` or `removed`.
    #[getter]
    fn flag<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let kept = self.flag.get_or_try_init(py, || -> PyResult<_> {
            let words = self.inner.flag.iter().map(word).collect::<PyResult<Vec<_>>>()?;
            let array = py.import("numpy")?.call_method1("array", (words, "U"))?;
            array.call_method1("setflags", (false,))?;
            Ok(array.unbind())
        })?;
        Ok(kept.bind(py).clone())
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

    /// Drift of zero that was taken out, g/s.
    #[getter]
    fn drift_g_per_s(&self) -> Estimate {
        self.inner.drift_g_per_s
    }
}

/// A conditioned log: stamps in order, each weight with its flags, and the events. The log's own samples, none added.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
/// >>> round(trace.rate_hz), trace.events
/// (10, [])
#[pyclass(frozen, module = "pourline", name = "Trace")]
pub(super) struct PyTrace {
    pub(super) inner: Trace,
    time_s: Kept,
    log_index: PyOnceLock<Py<PyArray1<usize>>>,
}

impl From<Trace> for PyTrace {
    fn from(inner: Trace) -> Self {
        Self { inner, time_s: Kept::default(), log_index: PyOnceLock::new() }
    }
}

fn channel(channel: Option<&ChannelTrace>) -> Option<PyChannelTrace> {
    let inner = channel?.clone();
    Some(PyChannelTrace { inner, mass_g: Kept::default(), flag: PyOnceLock::new() })
}

/// The events as Python objects.
pub(super) fn events(events: &[Event]) -> Vec<PyEvent> {
    events.iter().map(|event| PyEvent { inner: event.clone() }).collect()
}

#[pymethods]
impl PyTrace {
    /// Stamps in s, never decreasing.
    #[getter]
    fn time_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.time_s.array(py, &self.inner.time_s)
    }

    /// For each sample its index in the log.
    #[getter]
    fn log_index<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<usize>> {
        let kept =
            self.log_index.get_or_init(py, || PyArray1::from_slice(py, &self.inner.log_index).unbind());
        kept.bind(py).clone()
    }

    /// Usual sampling rate, Hz: one over the median interval.
    #[getter]
    fn rate_hz(&self) -> f64 {
        self.inner.rate_hz
    }

    /// Water poured; None where it was not weighed.
    #[getter]
    fn water(&self) -> Option<PyChannelTrace> {
        channel(self.inner.water.as_ref())
    }

    /// Beverage collected; None where it was not weighed.
    #[getter]
    fn beverage(&self) -> Option<PyChannelTrace> {
        channel(self.inner.beverage.as_ref())
    }

    /// All that was found, in order of time.
    #[getter]
    fn events(&self) -> Vec<PyEvent> {
        events(&self.inner.events)
    }

    /// First instant of the brew, s: after the preparation, or the first stamp.
    #[getter]
    fn brew_start_s(&self) -> f64 {
        self.inner.brew_start_s
    }

    /// The lag that was given, s; None where none was.
    #[getter]
    fn scale_lag_s(&self) -> Option<Estimate> {
        self.inner.scale_lag_s
    }

    /// What is known of the brew.
    #[getter]
    fn meta(&self) -> PyMeta {
        PyMeta { inner: self.inner.meta.clone() }
    }

    fn __len__(&self) -> usize {
        self.inner.time_s.len()
    }

    fn __repr__(&self) -> String {
        let Trace { time_s, rate_hz, events, .. } = &self.inner;
        format!("<Trace: {} samples at {rate_hz:.1} Hz, {} events>", time_s.len(), events.len())
    }
}
