//! `agitation`, `Agitation` and its parts: `PourAgitation`, `Stream`.

use super::error::argument;
use super::estimate::maybe_from;
use super::flow::PyFlow;
use super::json::options_of;
use super::run::run;
use super::segments::PySegments;
use super::show::{class, number_text};
use super::trace::PyTrace;
use crate::agitation::result::{Agitation, PourAgitation};
use crate::agitation::stream::Stream;
use crate::estimate::Estimate;
use pyo3::prelude::*;
use pyo3::types::PyDict;

Agitation! { class
/// >>> import pourline
/// >>> log = pourline.datasets.load("fernspout-ada-01")
/// >>> options = pourline.Options(agitation={"spout_bore_m": 0.006, "fall_height_m": 0.2})
/// >>> len(pourline.analyze(log, options).agitation.pours)
/// 4
PyAgitation("pourline", "Agitation") {
    fn __repr__(&self) -> String {
        format!("<Agitation of {} pours: ordinal proxies>", self.inner.pours.len())
    }
}}

PourAgitation! { class
/// >>> import pourline
/// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).agitation.pours[0]
/// >>> pour.flow_impulse_g2_per_s.value > 0, pour.energy_j.reason[:26]
/// (True, 'spout_bore_m was not given')
PyPourAgitation("pourline", "PourAgitation") {
    fn __repr__(&self) -> String {
        let PourAgitation { energy_j, flow_impulse_g2_per_s, .. } = &self.inner;
        let (energy, impulse) = (number_text(energy_j), number_text(flow_impulse_g2_per_s));
        format!("<PourAgitation, ordinal proxies: energy {energy} J, flow impulse {impulse} g2/s>")
    }
}}

Stream! { class
/// `Stream(flow_g_per_s, spout_bore_m, fall_height_m, water_c)` is the stream of that flow; the first three are numbers
/// or `Estimate`s.
///
/// >>> import pourline
/// >>> stream = pourline.Stream(4.816, 0.006, pourline.Estimate(0.20, 0.02), water_c=93)
/// >>> f"{stream.speed_m_per_s:.2f} m/s", stream.arrival
/// ('1.99 ± 0.10 m/s', 'may_be_broken')
PyStream("pourline", "Stream") {
    #[new]
    fn new(
        flow_g_per_s: &Bound<'_, PyAny>,
        spout_bore_m: &Bound<'_, PyAny>,
        fall_height_m: &Bound<'_, PyAny>,
        water_c: f64,
    ) -> PyResult<Self> {
        let [flow, bore, height] = [
            ("flow_g_per_s", flow_g_per_s),
            ("spout_bore_m", spout_bore_m),
            ("fall_height_m", fall_height_m),
        ]
        .map(|(name, number)| known(name, number));
        Ok(Stream::falling(flow?, bore?, height?, water_c)?.into())
    }

    fn __repr__(&self) -> String {
        let Stream { speed_m_per_s, width_mm, .. } = &self.inner;
        format!("<Stream, ordinal proxies: {} m/s, {} mm>", number_text(speed_m_per_s), number_text(width_mm))
    }
}}

/// A number that must be known.
fn known(name: &str, number: &Bound<'_, PyAny>) -> PyResult<Estimate> {
    maybe_from(name, number)?.map_err(|why| argument(name, why.to_string()))
}

/// Ordinal proxies for the agitation by each pour, each with its sd or the reason for none.
///
/// Keywords are the options of the stage, see `Options`. `trace` is the result of `condition`, `segments` the result
/// of `segment`, `flow` that of `flow`; returns an `Agitation`.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
/// >>> segments = pourline.segment(trace)
/// >>> flow = pourline.flow(trace, segments)
/// >>> found = pourline.agitation(trace, segments, flow, spout_bore_m=0.006, fall_height_m=0.2)
/// >>> found.pours[0].speed_source
/// 'stated'
#[pyfunction]
#[pyo3(signature = (trace, segments, flow, **options))]
pub(super) fn agitation(
    py: Python<'_>,
    trace: Py<PyTrace>,
    segments: Py<PySegments>,
    flow: Py<PyFlow>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyAgitation> {
    let options = options_of("agitation", options)?;
    let found = run(py, move || {
        let (trace, segments, flow) = (&trace.get().inner, &segments.get().inner, &flow.get().inner);
        crate::agitation::stage::agitation(trace, segments, flow, &options)
    })?;
    Ok(found?.into())
}
