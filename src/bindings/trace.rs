//! `Trace`, `ChannelTrace` and `Event`: the conditioned log and its detected disturbances.

use super::show::{Show, class};
use super::table::table;
use crate::condition::trace::{ChannelTrace, Event, Flag, Trace};
use numpy::PyArray1;
use pyo3::prelude::*;

Event! { class
/// Its kind is `knock`, `lift`, `swirl`, `zeroing`, `gap`, `missing`, `stuck`, `placed`, `removed`, `reordered`,
/// `duplicate`, `retimed`, `drift` or `preparation`.
///
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-02"))
/// >>> [event.kind for event in brew.events]
/// ['knock', 'knock', 'knock']
PyEvent("pourline", "Event") {
    fn __repr__(&self) -> String {
        let Event { kind, channel, start_s, end_s, size_g, action, .. } = &self.inner;
        let (kind, channel) = (kind.name(), channel.name());
        format!("<{kind} on {channel}, {start_s:.2} to {end_s:.2} s, {size_g:+.1} g: {action}>")
    }
}}

impl Show for Flag {
    const KEEP_ALL: bool = true;

    fn hint() -> String {
        "str".into()
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.name().to_owned().show(py)
    }

    fn hint_all() -> String {
        "NDArray[np.str_]".into()
    }

    fn show_all(all: &[Self], py: Python<'_>) -> PyResult<Py<PyAny>> {
        let words: Vec<&str> = all.iter().map(|flag| flag.name()).collect();
        let array = py.import("numpy")?.call_method1("array", (words, "U"))?;
        array.call_method1("setflags", (false,))?;
        Ok(array.unbind())
    }
}

ChannelTrace! { class
/// A flag is `used`, `missing`, `duplicate`, `knock`, `lift`, `settling`, `stuck`, `preparation` or `removed`.
///
/// >>> import pourline
/// >>> water = pourline.condition(pourline.datasets.load("fernspout-ada-01")).water
/// >>> set(water.flag.tolist())
/// {'used'}
PyChannelTrace("pourline", "ChannelTrace") {}}

Trace! { class
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
/// >>> round(trace.rate_hz), trace.events
/// (10, [])
PyTrace("pourline", "Trace") {
    /// For each sample its index in the log.
    #[getter]
    fn log_index(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        let array = || Ok(PyArray1::from_slice(py, &self.inner.log_index).into_any().unbind());
        self.shown.keep(py, "log_index", array)
    }

    /// One row per sample: time, index in the log, and for each weight its mass with its flag.
    ///
    /// >>> import pourline
    /// >>> table = pourline.condition(pourline.datasets.load("fernspout-ada-01")).table()
    /// >>> table.columns
    /// ['time_s', 'log_index', 'water_g', 'water_flag', 'beverage_g', 'beverage_flag']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    fn __len__(&self) -> usize {
        self.inner.time_s.len()
    }

    fn __repr__(&self) -> String {
        let Trace { time_s, rate_hz, events, .. } = &self.inner;
        format!("<Trace: {} samples at {rate_hz:.1} Hz, {} events>", time_s.len(), events.len())
    }
}}
