//! `metrics`, `Metrics` and `PourMetrics`.

use super::json::options_of;
use super::run::run;
use super::segments::PySegments;
use super::show::class;
use super::trace::PyTrace;
use crate::metrics::result::{Metrics, PourMetrics};
use pyo3::prelude::*;
use pyo3::types::PyDict;

Metrics! { class
/// A number that is not defined is an `Undefined` with the reason.
///
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> len(brew.metrics.pours), float(brew.metrics.longest_rest_s) > 10
/// (4, True)
PyMetrics("pourline", "Metrics") {
    fn __repr__(&self) -> String {
        format!("<Metrics of {} pours>", self.inner.pours.len())
    }
}}

PourMetrics! { class
/// >>> import pourline
/// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).metrics.pours[0]
/// >>> float(pour.plateau_flow_g_per_s) < float(pour.peak_flow_g_per_s)
/// True
/// >>> pour.rest_before_s.reason
/// 'no pour comes before the first'
PyPourMetrics("pourline", "PourMetrics") {}}

/// Metrics of the pours, each number with its sd or the reason for none.
///
/// Keywords are the options of the stage, see `Options`. `trace` is the result of `condition`, `segments` the result
/// of `segment`; returns `Metrics`.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
/// >>> len(pourline.metrics(trace, pourline.segment(trace), near=0.2).pours)
/// 4
#[pyfunction]
#[pyo3(signature = (trace, segments, **options))]
pub(super) fn metrics(
    py: Python<'_>,
    trace: Py<PyTrace>,
    segments: Py<PySegments>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyMetrics> {
    let options = options_of("metrics", options)?;
    let found =
        run(py, move || crate::metrics::stage::metrics(&trace.get().inner, &segments.get().inner, &options))?;
    Ok(found?.into())
}
