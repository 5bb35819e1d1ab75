//! `Segments`, `Rest`, `FlowRegime` and `Covariance`.

use super::error::argument;
use super::json::unknown;
use super::run::run;
use super::show::class;
use super::table::table;
use crate::segment::covariance::Covariance;
use crate::segment::pour::{FlowRegime, Rest, Segments};
use numpy::{IntoPyArray, PyArray2};
use pyo3::prelude::*;

FlowRegime! { class
/// >>> import pourline
/// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).pours[0]
/// >>> regime = pour.flow_regimes[0]
/// >>> regime.start_s == pour.start_s, 6 < float(regime.flow_g_per_s) < 10
/// (True, True)
PyFlowRegime("pourline", "FlowRegime") {
    fn __repr__(&self) -> String {
        let FlowRegime { start_s, end_s, mass_g, flow_g_per_s } = &self.inner;
        format!("<FlowRegime: start {start_s} s, end {end_s} s, {mass_g} g, {flow_g_per_s} g/s>")
    }
}}

Covariance! { class
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> found = brew.segments.covariance
/// >>> found.names[:2], len(found)
/// (['pour_1_start_s', 'pour_1_end_s'], 20)
PyCovariance("pourline", "Covariance") {
    /// The matrix: a new float64 array, one row and one column per name; its units are the products of those of the
    /// numbers.
    ///
    /// Its diagonal holds the squares of the stated sd. For 500 pours it takes 50 MB, and `entry` gives single values.
    ///
    /// >>> import pourline
    /// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> pour.segments.covariance.matrix().shape
    /// (20, 20)
    fn matrix<'py>(slf: Py<Self>, py: Python<'py>) -> PyResult<Bound<'py, PyArray2<f64>>> {
        Ok(run(py, move || slf.get().inner.matrix())?.into_pyarray(py))
    }

    /// Covariance of the numbers `one` and `other`, two of `names`.
    ///
    /// Raises `PourlineError` of kind `argument` for another name.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> found = brew.segments.covariance
    /// >>> abs(found.entry("pour_1_mass_g", "pour_1_mass_g") ** 0.5 - brew.pours[0].mass_g.sd) < 1e-9
    /// True
    fn entry(&self, one: &str, other: &str) -> PyResult<f64> {
        let place = |name: &str| {
            let names = self.inner.names.iter();
            let all = names.clone().map(String::as_str);
            names.clone().position(|n| n == name).ok_or_else(|| argument("name", format!("{name:?}: {}", unknown(name, all))))
        };
        Ok(self.inner.entry(place(one)?, place(other)?))
    }

    fn __len__(&self) -> usize {
        self.inner.names.len()
    }

    fn __repr__(&self) -> String {
        format!("<Covariance of {} numbers>", self.inner.names.len())
    }
}}

Rest! { class
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> print(f"{brew.rests[0].duration_s.value:.0f} s")
/// 31 s
PyRest("pourline", "Rest") {
    fn __repr__(&self) -> String {
        format!("<Rest: start {} s, end {} s>", self.inner.start_s, self.inner.end_s)
    }
}}

Segments! { class
/// >>> import pourline
/// >>> segments = pourline.segment(pourline.condition(pourline.datasets.load("fernspout-ada-01")))
/// >>> len(segments.pours), len(segments.rests), segments.response.source
/// (4, 3, 'estimated')
PySegments("pourline", "Segments") {
    /// One row per stretch of different flow: the place of its pour and its own from 1, its numbers with their sd.
    ///
    /// >>> import pourline
    /// >>> table = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).segments.regimes()
    /// >>> table.columns[:4], len(table) >= 4
    /// (['pour', 'regime', 'regime_start_s', 'regime_start_sd_s'], True)
    fn regimes<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.regimes())
    }

    fn __repr__(&self) -> String {
        let Segments { pours, rests, response, .. } = &self.inner;
        let (pours, rests, source) = (pours.len(), rests.len(), response.source.name());
        format!("<Segments: {pours} pours, {rests} rests, delay {} s ({source})>", response.delay_s)
    }
}}
