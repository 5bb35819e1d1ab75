//! `score`, `Score` and `Errors`: errors of the detected pours against the true ones.

use super::arrays::short;
use super::brew::PyBrew;
use super::error::argument;
use super::pour::PyPour;
use super::show::class;
use super::truth::PyTruth;
use crate::segment::pour::Pour;
use crate::simulate::score::{Errors, Score};
use pyo3::prelude::*;

Errors! { class
/// >>> import pourline
/// >>> log, truth = pourline.simulate("clean", seed=1)
/// >>> errors = pourline.score(truth, pourline.analyze(log)).mass_g
/// >>> errors.mean_absolute() < 0.5
/// True
PyErrors("pourline", "Errors") {
    /// Mean of the errors; NaN if there is none.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> abs(pourline.score(truth, pourline.analyze(log)).mass_g.bias()) < 0.5
    /// True
    fn bias(&self) -> f64 {
        self.inner.bias()
    }

    /// Mean absolute error; NaN if there is none.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> pourline.score(truth, pourline.analyze(log)).half_rise_s.mean_absolute() < 0.1
    /// True
    fn mean_absolute(&self) -> f64 {
        self.inner.mean_absolute()
    }

    /// Root of the mean square error; NaN if there is none.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> score = pourline.score(truth, pourline.analyze(log))
    /// >>> score.mass_g.rms() >= abs(score.mass_g.bias())
    /// True
    fn rms(&self) -> f64 {
        self.inner.rms()
    }

    /// Share of the errors that lie within two stated sd, 0 to 1; NaN if there is none.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> 0 <= pourline.score(truth, pourline.analyze(log)).mass_g.within_2_sd() <= 1
    /// True
    fn within_2_sd(&self) -> f64 {
        self.inner.within_2_sd()
    }

    fn __len__(&self) -> usize {
        self.inner.error.len()
    }

    fn __repr__(&self) -> String {
        let (n, mean, within) = (self.__len__(), self.mean_absolute(), self.within_2_sd());
        format!("<Errors: {n}, mean absolute {mean:.3}, {:.0} % within 2 sd>", within * 100.0)
    }
}}

Score! { class
/// >>> import pourline
/// >>> log, truth = pourline.simulate("clean", seed=1)
/// >>> score = pourline.score(truth, pourline.analyze(log))
/// >>> score.missed, score.false_pours, score.f1_edges(0.3)
/// (0, 0, 1.0)
PyScore("pourline", "Score") [
    /// Matched pairs.
    matched: usize = |of| of.matched();
    /// True pours without a matching detected pour.
    missed: usize = |of| of.missed();
    /// Detected pours without a matching true pour.
    false_pours: usize = |of| of.false_pours();
    /// Mean absolute error of starts and ends together, s.
    edge_error_s: f64 = |of| of.edge_error_s();
    /// Mean absolute error of half-rises and half-falls together, s.
    half_error_s: f64 = |of| of.half_error_s();
] {
    /// F1 of the pours; one is detected if start and end are within the tolerance. NaN without any pour.
    ///
    /// `tolerance_s` is the tolerance of an edge, s.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> pourline.score(truth, pourline.analyze(log)).f1_edges(0.5)
    /// 1.0
    fn f1_edges(&self, tolerance_s: f64) -> f64 {
        self.inner.f1_edges(tolerance_s)
    }

    /// F1 of the pours; one is detected if half-rise and half-fall are within the tolerance.
    ///
    /// `tolerance_s` is the tolerance of an instant, s.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> pourline.score(truth, pourline.analyze(log)).f1_halves(0.2)
    /// 1.0
    fn f1_halves(&self, tolerance_s: f64) -> f64 {
        self.inner.f1_halves(tolerance_s)
    }

    fn __add__(&self, other: &Bound<'_, PyScore>) -> Self {
        let mut inner = self.inner.clone();
        inner.merge(other.get().inner.clone());
        inner.into()
    }

    fn __repr__(&self) -> String {
        let of = &self.inner;
        let (all, missed, made_up) = (of.true_pours, of.missed(), of.false_pours());
        let (edges, halves) = (of.edge_error_s(), of.half_error_s());
        format!(
            "<Score: {all} pours, {missed} missed, {made_up} false, edges {edges:.3} s, halves {halves:.3} s>"
        )
    }
}}

/// Scores pours that were `found` against the `truth`: a brew, or a list of its pours.
///
/// >>> import pourline
/// >>> log, truth = pourline.simulate("usual", seed=7)
/// >>> pourline.score(truth, []).missed == len(truth.pours)
/// True
#[pyfunction]
pub(super) fn score(truth: &Bound<'_, PyTruth>, found: &Bound<'_, PyAny>) -> PyResult<PyScore> {
    let truth = &truth.get().inner;
    if let Ok(brew) = found.cast::<PyBrew>() {
        let brew = &brew.get().inner;
        let mut inner = crate::simulate::score::score(truth, &brew.segments.pours);
        if let Some(flow) = &brew.flow {
            inner.add_flow(truth, &brew.trace.log_index, &flow.flow_g_per_s, &flow.flow_sd_g_per_s);
        }
        return Ok(inner.into());
    }
    let wrong = || argument("found", format!("a Brew or a list of Pours is needed, not {}", short(found)));
    let pours = found.try_iter().map_err(|_| wrong())?;
    let pours = pours.map(|pour| Ok(pour?.cast::<PyPour>().map_err(|_| wrong())?.get().inner.clone()));
    Ok(crate::simulate::score::score(truth, &pours.collect::<PyResult<Vec<Pour>>>()?).into())
}
