//! `Brew`: all that one log tells.

use super::agitation::PyAgitation;
use super::bed::PyBed;
use super::estimate::maybe;
use super::extraction::PyExtraction;
use super::flow::PyFlow;
use super::labels::PyLabelled;
use super::meta::PyMeta;
use super::metrics::PyMetrics;
use super::options::PyOptions;
use super::segments::PySegments;
use super::show::Show;
use super::trace::{PyEvent, PyTrace, events};
use super::{error::argument, table::table};
use crate::brew::result::Brew;
use pyo3::prelude::*;
use pyo3::sync::PyOnceLock;

/// All that one log tells.
///
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> len(brew.pours), len(brew.rests), round(float(brew.water_g), -1)
/// (4, 3, 240.0)
/// >>> brew.table().columns[:4]
/// ['brew', 'pour', 'start_s', 'start_sd_s']
#[pyclass(frozen, module = "pourline", name = "Brew")]
pub(super) struct PyBrew {
    pub(super) inner: Brew,
    trace: PyOnceLock<Py<PyTrace>>,
    flow: PyOnceLock<Py<PyFlow>>,
}

impl From<Brew> for PyBrew {
    fn from(inner: Brew) -> Self {
        Self { inner, trace: PyOnceLock::new(), flow: PyOnceLock::new() }
    }
}

#[pymethods]
impl PyBrew {
    /// The pours, in order.
    #[getter]
    fn pours(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.segments.pours.show(py)
    }

    /// The rests, one fewer than the pours.
    #[getter]
    fn rests(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.segments.rests.show(py)
    }

    /// Pours, rests and the lag of the scale.
    #[getter]
    fn segments(&self) -> PySegments {
        PySegments::from(self.inner.segments.clone())
    }

    /// The conditioned log.
    #[getter]
    fn trace(&self, py: Python<'_>) -> PyResult<Py<PyTrace>> {
        let kept = self.trace.get_or_try_init(py, || Py::new(py, PyTrace::from(self.inner.trace.clone())))?;
        Ok(kept.clone_ref(py))
    }

    /// Flow of water on the log's own stamps; None where the water was not weighed.
    #[getter]
    fn flow(&self, py: Python<'_>) -> PyResult<Option<Py<PyFlow>>> {
        let Some(flow) = &self.inner.flow else { return Ok(None) };
        let kept = self.flow.get_or_try_init(py, || Py::new(py, PyFlow::from(flow.clone())))?;
        Ok(Some(kept.clone_ref(py)))
    }

    /// Water poured in all, g.
    #[getter]
    fn water_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.water_g)
    }

    /// Beverage collected by the end, g.
    #[getter]
    fn beverage_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.beverage_g)
    }

    /// What each pour tells of the hand.
    #[getter]
    fn metrics(&self) -> PyMetrics {
        PyMetrics::from(self.inner.metrics.clone())
    }

    /// Ordinal proxies for the agitation by each pour; None where the water was not weighed.
    #[getter]
    fn agitation(&self) -> Option<PyAgitation> {
        self.inner.agitation.clone().map(PyAgitation::from)
    }

    /// What the bed held, kept and let through.
    #[getter]
    fn bed(&self) -> PyBed {
        PyBed::from(self.inner.bed.clone())
    }

    /// Yield, strength, ratio and retention.
    #[getter]
    fn extraction(&self) -> PyExtraction {
        PyExtraction::from(self.inner.extraction.clone())
    }

    /// What the scale did and the hand did not, in order of time.
    #[getter]
    fn events(&self) -> Vec<PyEvent> {
        events(&self.inner.trace.events)
    }

    /// What is known of the brew beside its weights.
    #[getter]
    fn meta(&self) -> PyMeta {
        PyMeta { inner: self.inner.meta.clone() }
    }

    /// What is doubtful of the log as a whole, in sentences; bed and extraction have their own.
    ///
    /// >>> import pourline
    /// >>> log = pourline.datasets.load("fernspout-ada-01")
    /// >>> pourline.analyze(log).warnings
    /// []
    /// >>> exchanged = pourline.Log(log.time_s, log.beverage_g, log.water_g)
    /// >>> "the two columns look exchanged" in pourline.analyze(exchanged).warnings[0]
    /// True
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.inner.warnings.clone()
    }

    /// What labels changed; None where none were given.
    #[getter]
    fn labelled(&self) -> Option<PyLabelled> {
        self.inner.labelled.clone().map(|inner| PyLabelled { inner })
    }

    /// SHA-256 of the samples of the log that led here, as `Log.digest` tells it; None where an earlier version made the brew.
    #[getter]
    fn log_digest(&self) -> Option<&str> {
        self.inner.log_digest.as_deref()
    }

    /// The options that led here.
    #[getter]
    fn options(&self) -> PyOptions {
        PyOptions { inner: self.inner.options.clone() }
    }

    /// Version of the library that led here.
    #[getter]
    fn version(&self) -> &str {
        &self.inner.version
    }

    /// A row a pour: its place, its numbers with their sd, and the brew's factors.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> brew.table().columns[:4], len(brew.table())
    /// (['brew', 'pour', 'start_s', 'start_sd_s'], 4)
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    /// Everything as JSON text; a number that is not finite is null.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> len(json.loads(brew.to_json())["segments"]["pours"])
    /// 4
    fn to_json(&self) -> PyResult<String> {
        serde_json::to_string(&self.inner).map_err(|e| argument("brew", e.to_string()))
    }

    /// From such a JSON `text` as `to_json` gives, of this version or an earlier one: the same brew to the last bit, with the version that made it.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> again = pourline.Brew.from_json(brew.to_json())
    /// >>> again.pours[0].mass_g == brew.pours[0].mass_g
    /// True
    #[staticmethod]
    fn from_json(text: &str) -> PyResult<Self> {
        Ok(Brew::from_json(text)?.into())
    }

    fn __repr__(&self) -> String {
        let told = |number: &crate::estimate::Maybe| {
            number.as_ref().map_or_else(ToString::to_string, |e| format!("{e}"))
        };
        let Brew { meta, segments, water_g, extraction, .. } = &self.inner;
        let (name, n) = (meta.name.as_deref().unwrap_or("unnamed"), segments.pours.len());
        format!(
            "<Brew {name}: {n} pours, water {} g, yield {} %>",
            told(water_g),
            told(&extraction.yield_pct)
        )
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.cards")?.call_method1("brew_card", (slf,))?.extract()
    }
}
