//! `bed`, `Bed` and its parts: `BedCurve`, `DrainLaw`, `PourDrain`.

use super::flow::PyFlow;
use super::json::{from_dict, options_of};
use super::run::run;
use super::segments::PySegments;
use super::show::{class, number_text};
use super::trace::PyTrace;
use crate::bed::options::BedOptions;
use crate::bed::result::{Bed, BedCurve, DrainLaw, PourDrain};
use crate::extraction::options::ExtractionOptions;
use pyo3::prelude::*;
use pyo3::types::PyDict;

Bed! { class
/// A number that is not defined is an `Undefined` with the reason.
///
/// >>> import pourline
/// >>> bed = pourline.analyze(pourline.simulate(seed=7)[0]).bed
/// >>> len(bed.pours), bed.warnings
/// (5, [])
/// >>> float(bed.first_drip_s) < float(bed.drawdown_end_s)
/// True
PyBed("pourline", "Bed") {
    fn __repr__(&self) -> String {
        let Bed { drawdown_end_s, retention_g_per_g, .. } = &self.inner;
        format!("<Bed: drained at {} s, retention {} g/g>", number_text(drawdown_end_s), number_text(retention_g_per_g))
    }
}}

BedCurve! { class
/// >>> import pourline
/// >>> curve = pourline.analyze(pourline.simulate(seed=7)[0]).bed.curve
/// >>> curve.held_g.shape == curve.time_s.shape
/// True
PyBedCurve("pourline", "BedCurve") {
    fn __len__(&self) -> usize {
        self.inner.time_s.len()
    }

    fn __repr__(&self) -> String {
        let most = self.inner.held_g.iter().copied().fold(0.0, f64::max);
        format!("<BedCurve: {} samples, at most {most:.1} g held>", self.inner.time_s.len())
    }
}}

DrainLaw! { class
/// >>> import pourline
/// >>> law = pourline.analyze(pourline.simulate(seed=7)[0]).bed.law
/// >>> 0.3 < law.exponent.value < 0.75, law.exponential_rejected_sd > 3
/// (True, True)
PyDrainLaw("pourline", "DrainLaw") {
    fn __repr__(&self) -> String {
        let DrainLaw { exponent, residual_over_noise, .. } = &self.inner;
        format!("<DrainLaw: exponent {exponent}, leaves {residual_over_noise:.2} of the noise>")
    }
}}

PourDrain! { class
/// >>> import pourline
/// >>> rows = pourline.analyze(pourline.simulate(seed=7)[0]).bed.pours
/// >>> rows[0].drained_fraction_before.reason
/// 'nothing was poured before'
PyPourDrain("pourline", "PourDrain") {
    fn __repr__(&self) -> String {
        let PourDrain { drawdown_end_s, conductance_g_per_s, .. } = &self.inner;
        format!("<PourDrain: drained at {} s, {} g/s>", number_text(drawdown_end_s), number_text(conductance_g_per_s))
    }
}}

/// Water balance of the bed: held, retained and drained water. An undefined number has its reason.
///
/// `flow` is None if the water was not weighed. `extraction` is a dict of the options of the mass balance: with those
/// of a brew, retention and retained water are the brew's. Further keywords are the options of the stage, see
/// `Options`. `trace` is the result of `condition`, `segments` the result of `segment`; returns a `Bed`.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.simulate(seed=7)[0])
/// >>> segments = pourline.segment(trace)
/// >>> bed = pourline.bed(trace, segments, pourline.flow(trace, segments), drip_g_per_s=0.2)
/// >>> float(bed.drawdown_end_s) < float(pourline.bed(trace, segments).drawdown_end_s)
/// True
#[pyfunction]
#[pyo3(signature = (trace, segments, flow = None, *, extraction = None, **options))]
pub(super) fn bed(
    py: Python<'_>,
    trace: Py<PyTrace>,
    segments: Py<PySegments>,
    flow: Option<Py<PyFlow>>,
    extraction: Option<&Bound<'_, PyAny>>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyBed> {
    let options: BedOptions = options_of("bed", options)?;
    options.check()?;
    let default = ExtractionOptions::default();
    let balance = match extraction {
        Some(given) => from_dict("extraction", default, given)?,
        None => default,
    };
    balance.check()?;
    let found = run(py, move || {
        let (trace, segments) = (&trace.get().inner, &segments.get().inner);
        let flow = flow.as_ref().map(|flow| &flow.get().inner);
        crate::bed::stage::bed(trace, segments, flow, &options, &balance)
    })?;
    Ok(found.into())
}
