//! `measures`, `Measures` and `PourMeasures`.

use super::json::from_dict;
use super::segments::PySegments;
use super::show::class;
use super::trace::PyTrace;
use crate::metrics::options::MeasuresOptions;
use crate::metrics::result::{Measures, PourMeasures};
use pyo3::prelude::*;
use pyo3::types::PyDict;

Measures! { class
/// What cannot be had is an `Undefined` that gives the reason.
///
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> len(brew.measures.pours), float(brew.measures.longest_rest_s) > 10
/// (4, True)
PyMeasures("pourline", "Measures") {
    fn __repr__(&self) -> String {
        format!("<Measures of {} pours>", self.inner.pours.len())
    }
}}

PourMeasures! { class
/// >>> import pourline
/// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).measures.pours[0]
/// >>> float(pour.plateau_flow_g_per_s) < float(pour.peak_flow_g_per_s)
/// True
/// >>> pour.rest_before_s.reason
/// 'no pour comes before the first'
PyPourMeasures("pourline", "PourMeasures") {}}

/// What each pour tells of the hand, each number with its sd or the reason why it has none.
///
/// Keywords are the options of the stage, see `Options`.
/// `trace` is what `condition` returns, `segments` what `segment` makes of it; returns `Measures`.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
/// >>> len(pourline.measures(trace, pourline.segment(trace), draws=100).pours)
/// 4
#[pyfunction]
#[pyo3(signature = (trace, segments, **options))]
pub(super) fn measures(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    segments: &Bound<'_, PySegments>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyMeasures> {
    let options = match options {
        Some(given) => from_dict("measures", MeasuresOptions::default(), given)?,
        None => MeasuresOptions::default(),
    };
    let (trace, segments) = (&trace.get().inner, &segments.get().inner);
    Ok(py.detach(|| crate::metrics::stage::measures(trace, segments, &options))?.into())
}
