//! `Labels` and `Labelled`: pours set by hand, and their changes.

use super::arrays::short;
use super::brew::PyBrew;
use super::error::argument;
use super::log::PyLog;
use super::show::{Show, class};
use super::table::table;
use crate::brew::labels::{Labelled, LabelledPour, Labels};
use crate::error::{Error, Result};
use crate::log::read::small_text;
use pyo3::prelude::*;
use std::path::PathBuf;

impl Show for LabelledPour {
    fn hint() -> String {
        "tuple[float, float]".into()
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        [self.start_s, self.end_s].show(py)
    }
}

Labels! { class
/// `pours` are (start_s, end_s), true times at the bed; `sd_s` is the sd of an edge set by hand, 0.001 to 1 s. An edge
/// within 1 ms of a detected one is taken as detected. `by` and `note` are the person and the reason, `log_digest` the
/// SHA-256 of the samples of their log. Labels do not change: `moved`, `added` and `removed` return new ones.
///
/// >>> import pourline
/// >>> log = pourline.datasets.load("fernspout-ada-01")
/// >>> labels = pourline.Labels.of(pourline.analyze(log)).moved(2, end_s=61.5)
/// >>> brew = pourline.analyze(log, labels=labels)
/// >>> brew.pours[1].end_s
/// Estimate(61.5, sd=0.05)
/// >>> brew.labelled.by_hand
/// ['none', 'end', 'none', 'none']
PyLabels("pourline", "Labels") {
    #[new]
    #[pyo3(signature = (pours, sd_s = 0.05, by = None, note = None, log_digest = None))]
    fn new(
        pours: Vec<(f64, f64)>,
        sd_s: f64,
        by: Option<String>,
        note: Option<String>,
        log_digest: Option<String>,
    ) -> PyResult<Self> {
        let pours = pours.into_iter().map(|(start_s, end_s)| LabelledPour { start_s, end_s }).collect();
        Ok(Self::checked(Labels { pours, sd_s, by, note, log_digest })?)
    }

    /// The pours of a `brew`, unchanged: the start of a correction. With its `log` they are bound to that log.
    ///
    /// >>> import pourline
    /// >>> log = pourline.datasets.load("fernspout-ada-01")
    /// >>> labels = pourline.Labels.of(pourline.analyze(log), log)
    /// >>> len(labels), len(labels.log_digest)
    /// (4, 64)
    #[staticmethod]
    #[pyo3(signature = (brew, log = None))]
    fn of(brew: &Bound<'_, PyAny>, log: Option<&Bound<'_, PyLog>>) -> PyResult<Self> {
        let wrong = |_| argument("brew", format!("a Brew is needed, not {}", short(brew)));
        let mut inner = Labels::of(&brew.cast::<PyBrew>().map_err(wrong)?.get().inner);
        if let Some(log) = log {
            inner.log_digest = Some(log.get().inner.digest());
        }
        Ok(inner.into())
    }

    /// From the JSON `text` of `to_json`.
    ///
    /// >>> import pourline
    /// >>> pourline.Labels.from_json('{"pours": [{"start_s": 5.0, "end_s": 11.5}]}').pours
    /// [(5.0, 11.5)]
    #[staticmethod]
    fn from_json(text: &str) -> PyResult<Self> {
        Ok(Labels::from_json(text)?.into())
    }

    /// Reads labels from the file at `path`, written by `write`.
    ///
    /// >>> import pourline, tempfile, pathlib
    /// >>> path = pathlib.Path(tempfile.mkdtemp()) / "labels.json"
    /// >>> pourline.Labels([(5.0, 11.5)], by="Ada").write(path)
    /// >>> pourline.Labels.read(path).by
    /// 'Ada'
    #[staticmethod]
    fn read(path: PathBuf) -> PyResult<Self> {
        let label = path.display().to_string();
        let text = small_text(&path)?;
        let named = |e| match e {
            Error::Format { row, message } => Error::Format { row, message: format!("{label}: {message}") },
            other => other,
        };
        Ok(Labels::from_json(&text).map_err(named)?.into())
    }

    /// The same with the edges of a `pour`, counted from 1, at `start_s` and `end_s`; None does not move an edge.
    ///
    /// >>> import pourline
    /// >>> pourline.Labels([(5.0, 11.5), (40.0, 46.0)]).moved(2, end_s=47.5).pours
    /// [(5.0, 11.5), (40.0, 47.5)]
    #[pyo3(signature = (pour, start_s = None, end_s = None))]
    fn moved(&self, pour: i64, start_s: Option<f64>, end_s: Option<f64>) -> PyResult<Self> {
        let k = self.index(pour)?;
        let mut inner = self.inner.clone();
        let edges = &mut inner.pours[k];
        edges.start_s = start_s.unwrap_or(edges.start_s);
        edges.end_s = end_s.unwrap_or(edges.end_s);
        Ok(Self::checked(inner)?)
    }

    /// The same with one more pour, from `start_s` to `end_s`, in order of time.
    ///
    /// >>> import pourline
    /// >>> pourline.Labels([(5.0, 11.5)]).added(40.0, 46.0).pours
    /// [(5.0, 11.5), (40.0, 46.0)]
    fn added(&self, start_s: f64, end_s: f64) -> PyResult<Self> {
        let mut inner = self.inner.clone();
        let place = inner.pours.partition_point(|pour| pour.start_s < start_s);
        inner.pours.insert(place, LabelledPour { start_s, end_s });
        Ok(Self::checked(inner)?)
    }

    /// The same without one `pour`; pours are counted from 1.
    ///
    /// >>> import pourline
    /// >>> pourline.Labels([(5.0, 11.5), (40.0, 46.0)]).removed(1).pours
    /// [(40.0, 46.0)]
    fn removed(&self, pour: i64) -> PyResult<Self> {
        let k = self.index(pour)?;
        let mut inner = self.inner.clone();
        inner.pours.remove(k);
        Ok(inner.into())
    }

    /// As JSON text.
    ///
    /// >>> import pourline
    /// >>> labels = pourline.Labels([(5.0, 11.5)])
    /// >>> pourline.Labels.from_json(labels.to_json()) == labels
    /// True
    fn to_json(&self) -> String {
        self.inner.to_json()
    }

    /// Writes them to the file at `path`, atomically; an existing file is replaced only if `overwrite` is True.
    ///
    /// >>> import pourline, tempfile, pathlib
    /// >>> path = pathlib.Path(tempfile.mkdtemp()) / "labels.json"
    /// >>> pourline.Labels([(5.0, 11.5)]).write(path)
    /// >>> path.exists()
    /// True
    #[pyo3(signature = (path, overwrite = false))]
    fn write(&self, py: Python<'_>, path: PathBuf, overwrite: bool) -> PyResult<()> {
        let text = format!("{}\n", self.inner.to_json());
        py.import("pourline._io.files")?.call_method1("write_whole", (path, text.into_bytes(), overwrite))?;
        Ok(())
    }

    fn __len__(&self) -> usize {
        self.inner.pours.len()
    }

    fn __repr__(&self) -> String {
        let Labels { pours, sd_s, by, .. } = &self.inner;
        let by = by.as_ref().map_or(String::new(), |by| format!(" by {by}"));
        format!("<Labels of {} pours{by}, each edge within ± {sd_s} s>", pours.len())
    }
}}

impl PyLabels {
    fn checked(inner: Labels) -> Result<Self> {
        inner.check()?;
        Ok(inner.into())
    }

    /// Index of a pour given by its place from 1.
    fn index(&self, pour: i64) -> PyResult<usize> {
        let known = 1..=self.inner.pours.len() as i64;
        if known.contains(&pour) {
            return Ok(pour as usize - 1);
        }
        Err(argument(
            "pour",
            format!("there is no pour {pour}; they are counted from 1 to {}", self.inner.pours.len()),
        ))
    }
}

Labelled! { class
/// >>> import pourline
/// >>> log = pourline.datasets.load("fernspout-ada-01")
/// >>> labels = pourline.Labels.of(pourline.analyze(log)).removed(4)
/// >>> labelled = pourline.analyze(log, labels=labels).labelled
/// >>> labelled.removed, labelled.by_hand
/// (1, ['none', 'none', 'none'])
/// >>> labelled.table().columns
/// ['pour', 'start_s', 'end_s', 'by_hand', 'added']
PyLabelled("pourline", "Labelled") [
    /// Which edges of each pour were set by hand: `none`, `start`, `end` or `both`.
    by_hand: Vec<&'static str> = |of| of.pours.iter().map(|pour| pour.word()).collect();
    /// The pours, counted from 1, that overlap no detected one.
    added: Vec<usize> = |of| (1..).zip(&of.pours).filter(|(_, pour)| pour.added).map(|(place, _)| place).collect();
] {
    /// One row per pour: its label, its edges set by hand, and whether it was added (yes, no).
    ///
    /// >>> import pourline
    /// >>> log = pourline.datasets.load("fernspout-ada-01")
    /// >>> labels = pourline.Labels.of(pourline.analyze(log)).moved(2, end_s=61.5)
    /// >>> pourline.analyze(log, labels=labels).labelled.table().to_dict()["by_hand"]
    /// ['none', 'end', 'none', 'none']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    fn __repr__(&self) -> String {
        let Labelled { pours, removed, .. } = &self.inner;
        let edges: usize = pours.iter().map(|p| usize::from(p.start) + usize::from(p.end)).sum();
        let added = pours.iter().filter(|pour| pour.added).count();
        format!("<Labelled: {edges} edges by hand, {added} pours added, {removed} removed>")
    }
}}
