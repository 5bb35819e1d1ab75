//! `score`, `Score` and `Errors`: how near the found pours are to the true ones.

use super::arrays::{Kept, short};
use super::brew::PyBrew;
use super::error::argument;
use super::segments::PyPour;
use super::truth::PyTruth;
use crate::segment::pour::Pour;
use crate::simulate::score::{Errors, Score};
use numpy::PyArray1;
use pyo3::prelude::*;

/// Errors of one quantity, found less true, with the sd that was stated for each.
///
/// >>> import pourline
/// >>> log, truth = pourline.simulate("clean", seed=1)
/// >>> errors = pourline.score(truth, pourline.analyze(log)).mass_g
/// >>> errors.mean_absolute() < 0.5
/// True
#[pyclass(frozen, module = "pourline", name = "Errors")]
pub(super) struct PyErrors {
    inner: Errors,
    kept: [Kept; 2],
}

fn errors(inner: &Errors) -> PyErrors {
    PyErrors { inner: inner.clone(), kept: Default::default() }
}

#[pymethods]
impl PyErrors {
    /// Found less true, in the unit of the quantity.
    #[getter]
    fn error<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[0].array(py, &self.inner.error)
    }

    /// The sd stated beside each.
    #[getter]
    fn sd<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[1].array(py, &self.inner.sd)
    }

    /// Mean of the errors; NaN where there is none.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> score = pourline.score(truth, pourline.analyze(log))
    /// >>> abs(score.mass_g.bias()) < 0.5
    /// True
    fn bias(&self) -> f64 {
        self.inner.bias()
    }

    /// Mean absolute error; NaN where there is none.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> score = pourline.score(truth, pourline.analyze(log))
    /// >>> score.half_rise_s.mean_absolute() < 0.1
    /// True
    fn mean_absolute(&self) -> f64 {
        self.inner.mean_absolute()
    }

    /// Root of the mean square error; NaN where there is none.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> score = pourline.score(truth, pourline.analyze(log))
    /// >>> score.mass_g.rms() >= abs(score.mass_g.bias())
    /// True
    fn rms(&self) -> f64 {
        self.inner.rms()
    }

    /// Share of the errors that lie within two stated sd, 0 to 1; NaN where there is none.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> score = pourline.score(truth, pourline.analyze(log))
    /// >>> 0 <= score.mass_g.within_2_sd() <= 1
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
}

/// How near the found pours of one brew, or of many, are to the true ones. Scores of several brews are added with `+`.
///
/// >>> import pourline
/// >>> log, truth = pourline.simulate("clean", seed=1)
/// >>> score = pourline.score(truth, pourline.analyze(log))
/// >>> score.missed, score.false_pours, score.f1_edges(0.3)
/// (0, 0, 1.0)
#[pyclass(frozen, module = "pourline", name = "Score")]
pub(super) struct PyScore {
    inner: Score,
}

#[pymethods]
impl PyScore {
    /// Brews scored.
    #[getter]
    fn brews(&self) -> usize {
        self.inner.brews
    }

    /// Pours that there were.
    #[getter]
    fn true_pours(&self) -> usize {
        self.inner.true_pours
    }

    /// Pours that were found.
    #[getter]
    fn found_pours(&self) -> usize {
        self.inner.found_pours
    }

    /// Pairs that belong together.
    #[getter]
    fn matched(&self) -> usize {
        self.inner.matched()
    }

    /// True pours that overlap no found pour of their own.
    #[getter]
    fn missed(&self) -> usize {
        self.inner.missed()
    }

    /// Found pours that overlap no true pour of their own.
    #[getter]
    fn false_pours(&self) -> usize {
        self.inner.false_pours()
    }

    /// Errors of the start, s.
    #[getter]
    fn start_s(&self) -> PyErrors {
        errors(&self.inner.start_s)
    }

    /// Errors of the end, s.
    #[getter]
    fn end_s(&self) -> PyErrors {
        errors(&self.inner.end_s)
    }

    /// Errors of the half-rise, s.
    #[getter]
    fn half_rise_s(&self) -> PyErrors {
        errors(&self.inner.half_rise_s)
    }

    /// Errors of the half-fall, s.
    #[getter]
    fn half_fall_s(&self) -> PyErrors {
        errors(&self.inner.half_fall_s)
    }

    /// Errors of the mass, g.
    #[getter]
    fn mass_g(&self) -> PyErrors {
        errors(&self.inner.mass_g)
    }

    /// Errors of the mean flow, g/s.
    #[getter]
    fn mean_flow_g_per_s(&self) -> PyErrors {
        errors(&self.inner.mean_flow_g_per_s)
    }

    /// Errors of the flow at the stamps within true pours, g/s; there only where a whole brew was scored.
    #[getter]
    fn flow_g_per_s(&self) -> PyErrors {
        errors(&self.inner.flow_g_per_s)
    }

    /// Mean absolute error of starts and ends together, s.
    #[getter]
    fn edge_error_s(&self) -> f64 {
        self.inner.edge_error_s()
    }

    /// Mean absolute error of half-rises and half-falls together, s.
    #[getter]
    fn half_error_s(&self) -> f64 {
        self.inner.half_error_s()
    }

    /// F1 of the pours, one counting as found when start and end both lie within the tolerance; NaN without any pour.
    ///
    /// `tolerance_s` is how far an edge may be off, s.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> score = pourline.score(truth, pourline.analyze(log))
    /// >>> score.f1_edges(0.5)
    /// 1.0
    fn f1_edges(&self, tolerance_s: f64) -> f64 {
        self.inner.f1_edges(tolerance_s)
    }

    /// F1 of the pours, one counting as found when half-rise and half-fall both lie within the tolerance.
    ///
    /// `tolerance_s` is how far an instant may be off, s.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> score = pourline.score(truth, pourline.analyze(log))
    /// >>> score.f1_halves(0.2)
    /// 1.0
    fn f1_halves(&self, tolerance_s: f64) -> f64 {
        self.inner.f1_halves(tolerance_s)
    }

    fn __add__(&self, other: &Bound<'_, PyScore>) -> Self {
        let mut inner = self.inner.clone();
        inner.merge(other.get().inner.clone());
        Self { inner }
    }

    fn __repr__(&self) -> String {
        let (all, missed, made_up) = (self.inner.true_pours, self.missed(), self.false_pours());
        let (edges, halves) = (self.edge_error_s(), self.half_error_s());
        format!(
            "<Score: {all} pours, {missed} missed, {made_up} false, edges {edges:.3} s, halves {halves:.3} s>"
        )
    }
}

/// Scores what was found against the truth: a brew, or a list of its pours.
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
        return Ok(PyScore { inner });
    }
    let wrong = || argument("found", format!("a Brew or a list of Pours is needed, not {}", short(found)));
    let pours = found.try_iter().map_err(|_| wrong())?;
    let pours = pours.map(|pour| Ok(pour?.cast::<PyPour>().map_err(|_| wrong())?.get().inner.clone()));
    Ok(PyScore { inner: crate::simulate::score::score(truth, &pours.collect::<PyResult<Vec<Pour>>>()?) })
}
