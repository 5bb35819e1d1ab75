//! `Brew`: all results from one log.

use super::json::{text, to_json, to_python};
use super::pour::Pours;
use super::run::run;
use super::show::{Show, class};
use super::table::table;
use crate::brew::brief::{Cell, HEADS};
use crate::brew::result::Brew;
use crate::brew::sentences::{Total, further};
use crate::condition::trace::Event;
use crate::segment::pour::Rest;
use pyo3::prelude::*;
use pyo3::types::PyIterator;

Brew! { class
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> len(brew.pours), len(brew.rests), round(float(brew.water_g), -1)
/// (4, 3, 240.0)
/// >>> log = pourline.datasets.load("fernspout-ada-01")
/// >>> exchanged = pourline.Log(log.time_s, log.beverage_g, log.water_g)
/// >>> brew.warnings, "the two columns look exchanged" in pourline.analyze(exchanged).warnings[0]
/// ([], True)
PyBrew("pourline", "Brew") [
    /// The pours, in order.
    pours: Pours = Pours::of;
    /// The rests, one fewer than the pours.
    rests: Vec<Rest> = |of| of.segments.rests.clone();
    /// Disturbances of the log, in order of time.
    events: Vec<Event> = |of| of.trace.events.clone();
    /// Start of the first pour on the clock of the log, s; 0 without a pour.
    ///
    /// Sentences, figures and pages count from it; columns and results keep the clock of the log.
    time_zero_s: f64 = |of| of.time_zero_s();
    /// The answer in one sentence: pours, water, time, flow, steadiness, drawdown, ratio and yield, if defined.
    head: String = |of| of.head();
] {
    /// One row per pour: the numbers that most people need and the metadata that are given; with `all` every number with its
    /// sd.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> brew.table().columns[:4], len(brew.table())
    /// (['brew', 'pour', 'start_s', 'duration_s'], 4)
    /// >>> "mass_sd_g" in brew.table().columns, "end_sd_s" in brew.table(all=True).columns
    /// (True, True)
    #[pyo3(signature = (all = false))]
    fn table<'py>(&self, py: Python<'py>, all: bool) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table(all))
    }

    /// The same table as a pandas DataFrame; with `all` every number with its sd.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> brew.to_pandas()["pour"].tolist()
    /// [1, 2, 3, 4]
    #[pyo3(signature = (all = false))]
    fn to_pandas<'py>(&self, py: Python<'py>, all: bool) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table(all))?.call_method0("to_pandas")
    }

    /// One row per event of the log, in order of time: kind, weight, instants, size, samples, what was done.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-02"))
    /// >>> brew.events_table()["kind"].tolist()
    /// ['knock', 'knock', 'knock']
    fn events_table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.trace.events_table())
    }

    /// The answer as text: one sentence, one line per pour, and the warnings, as `print` writes them.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> brew.summary() == str(brew)
    /// True
    fn summary(&self) -> String {
        self.inner.to_string()
    }

    /// Draws the brew: the result of `plot`, with the same `ax` and `figsize`.
    ///
    /// >>> import matplotlib
    /// >>> matplotlib.use("agg")
    /// >>> import pourline
    /// >>> list(pourline.analyze(pourline.datasets.load("fernspout-ada-01")).plot())
    /// ['weight', 'flow', 'held']
    #[pyo3(signature = (ax = None, figsize = None))]
    fn plot<'py>(
        slf: &Bound<'py, Self>,
        ax: Option<&Bound<'py, PyAny>>,
        figsize: Option<&Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("pourline._figures.brew")?.call_method1("plot", (slf, ax, figsize))
    }

    /// Writes a page of the brew to `path`: that of `report`, with `title` as its title.
    ///
    /// >>> import pathlib, tempfile
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> with tempfile.TemporaryDirectory() as folder:
    /// ...     brew.report(pathlib.Path(folder, "brew.html")).name
    /// 'brew.html'
    #[pyo3(signature = (path, title = None))]
    fn report<'py>(
        slf: &Bound<'py, Self>,
        path: &Bound<'py, PyAny>,
        title: Option<&str>,
    ) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("pourline._pages.report")?.call_method1("report", (slf, path, title))
    }

    /// Everything as a dict, as in the JSON; a number that is not finite is None.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> brew.to_dict()["meta"]["kettle"]
    /// 'Fernspout'
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &to_json("brew", &self.inner)?)
    }

    fn __len__(&self) -> usize {
        self.inner.segments.pours.len()
    }

    fn __iter__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyIterator>> {
        self.kept_pours(py)?.try_iter()
    }

    fn __getitem__<'py>(&self, py: Python<'py>, place: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        self.kept_pours(py)?.get_item(place)
    }

    /// Everything as JSON text; a number that is not finite is null.
    ///
    /// >>> import json, pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> len(json.loads(brew.to_json())["segments"]["pours"])
    /// 4
    fn to_json(slf: Py<Self>, py: Python<'_>) -> PyResult<String> {
        run(py, move || text("brew", &slf.get().inner))?
    }

    /// A brew from the JSON `text` of `to_json`, of this version or an earlier one: identical to the last bit.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> again = pourline.Brew.from_json(brew.to_json())
    /// >>> again.pours[0].mass_g == brew.pours[0].mass_g
    /// True
    #[staticmethod]
    fn from_json(py: Python<'_>, text: String) -> PyResult<Self> {
        Ok(run(py, move || Brew::from_json(&text))??.into())
    }

    /// The rows of the pours in text: each cell with the reason if it is undefined.
    #[getter(_brief)]
    fn brief(&self) -> Vec<Vec<Cell>> {
        self.inner.brief().into_iter().map(Vec::from).collect()
    }

    /// The heads of these rows.
    #[getter(_brief_heads)]
    fn brief_heads(&self) -> Vec<&'static str> {
        HEADS.into()
    }

    /// The numbers of the head as text, None if undefined.
    #[getter(_in_brief)]
    fn in_brief(&self) -> Vec<Option<String>> {
        self.inner.in_brief().into()
    }

    /// The whole text under a name.
    fn _overview(&self, name: &str) -> String {
        self.inner.overview(name)
    }

    fn __str__(&self) -> String {
        self.inner.to_string()
    }

    /// Warnings on the log and on the labels, notes on the file.
    #[getter(_further)]
    fn further(&self) -> Vec<String> {
        further(&self.inner)
    }

    /// Uncertainty of the yield and its largest source, with the warnings of all stages.
    #[getter(_uncertainty)]
    fn uncertainty(&self) -> Vec<String> {
        self.inner.uncertainty()
    }

    /// Number of samples by flag, noise and readout step: one sentence per weight.
    #[getter(_samples)]
    fn samples(&self) -> Vec<String> {
        self.inner.samples()
    }

    /// The numbers of the whole brew: name, text, and the reason if it is undefined.
    #[getter(_totals)]
    fn totals(&self) -> Vec<Total> {
        self.inner.totals()
    }

    fn __repr__(&self) -> String {
        let Brew { meta, warnings, .. } = &self.inner;
        let name = meta.name.as_deref().unwrap_or("unnamed");
        let warned = match warnings.len() {
            0 => String::new(),
            1 => "; 1 warning".into(),
            n => format!("; {n} warnings"),
        };
        format!("<Brew {name}: {}{warned}>", self.inner.head())
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.cards")?.call_method1("brew_card", (slf,))?.extract()
    }
}}

impl PyBrew {
    /// The pours, made once: `pours` makes them at each access, because a list can be changed.
    fn kept_pours<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let pours = self.shown.keep(py, "_pours", || Pours::of(&self.inner).show(py))?;
        Ok(pours.into_bound(py))
    }
}
