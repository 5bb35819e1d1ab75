//! The stages as functions: `condition`, `segment`, `flow`, and all of them in `analyze`.

use super::brew::PyBrew;
use super::flow::PyFlow;
use super::json::options_of;
use super::labels::PyLabels;
use super::log::PyLog;
use super::many::{one, timed};
use super::options::options_from;
use super::run::run;
use super::segments::PySegments;
use super::sources::source;
use super::trace::PyTrace;
use super::warned::tell;
use crate::error::Result;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use std::time::Instant;

/// Finds the disturbances of a log: flags every sample and lists every event.
///
/// Keywords are the options of the stage, see `Options`. `log` is a `Log`; returns a `Trace`.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"), scale_lag_s=0.25)
/// >>> trace.events, trace.scale.delay_s.value
/// ([], 0.25)
#[pyfunction]
#[pyo3(signature = (log, **options))]
pub(super) fn condition(
    py: Python<'_>,
    log: Py<PyLog>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyTrace> {
    let options = options_of("condition", options)?;
    Ok(run(py, move || crate::condition::stage::condition(&log.get().inner, &options))??.into())
}

/// The brews of a log, each as a log of its own, in order of time; a log of one brew is returned as it is.
///
/// Another brew begins if the vessel is emptied or exchanged after a brew, or if the zero key is pressed in a pause of the
/// water of `brew_gap_s` (120 s) or more. Keywords are the options of `condition`, see `Options`.
///
/// >>> import pourline
/// >>> log = pourline.datasets.load("fernspout-ada-01")
/// >>> len(pourline.split(log))
/// 1
#[pyfunction]
#[pyo3(signature = (log, **options))]
pub(super) fn split(
    py: Python<'_>,
    log: Py<PyLog>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<Vec<PyLog>> {
    let options = options_of("condition", options)?;
    let logs = run(py, move || crate::condition::split::split(&log.get().inner, &options))??;
    Ok(logs.into_iter().map(Into::into).collect())
}

/// Analyses each brew of a log that may hold several, in order of time: `split`, then `analyze`.
///
/// `options` are those of all stages, the defaults if it is None.
///
/// >>> import pourline
/// >>> log = pourline.datasets.load("fernspout-ada-01")
/// >>> [len(brew.pours) for brew in pourline.analyze_all(log)]
/// [4]
#[pyfunction]
#[pyo3(signature = (log, options = None))]
pub(super) fn analyze_all(
    py: Python<'_>,
    log: Py<PyLog>,
    options: Option<&Bound<'_, PyAny>>,
) -> PyResult<Vec<PyBrew>> {
    let options = options_from(options)?;
    let brews = run(py, move || {
        let logs = crate::condition::split::split(&log.get().inner, &options.condition)?;
        logs.iter()
            .map(|log| timed(log, None, &options, Instant::now(), Vec::new()))
            .collect::<Result<Vec<_>>>()
    })??;
    for (place, (brew, seconds)) in (1..).zip(&brews) {
        tell(py, brew, seconds, || format!("brew {place}"))?;
    }
    Ok(brews.into_iter().map(|(brew, _)| brew.into()).collect())
}

/// Finds the pours and the rests, each number with its sd.
///
/// Keywords are the options of the stage, see `Options`. `trace` is the result of `condition`; returns `Segments`.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
/// >>> len(pourline.segment(trace).pours), len(pourline.segment(trace, mass_g=50).pours)
/// (4, 3)
#[pyfunction]
#[pyo3(signature = (trace, **options))]
pub(super) fn segment(
    py: Python<'_>,
    trace: Py<PyTrace>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PySegments> {
    let options = options_of("segment", options)?;
    Ok(run(py, move || crate::segment::stage::segment(&trace.get().inner, &options))??.into())
}

/// Flow of water on the trace's own stamps, with sd, corrected for the scale's delay.
///
/// `trace` is the result of `condition`, `segments` the result of `segment`; returns a `Flow`, which has the trace's
/// stamps.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
/// >>> flow = pourline.flow(trace, pourline.segment(trace))
/// >>> len(flow) == len(trace)
/// True
#[pyfunction]
pub(super) fn flow(py: Python<'_>, trace: Py<PyTrace>, segments: Py<PySegments>) -> PyResult<PyFlow> {
    let flow = move || crate::segment::flow::flow(&trace.get().inner, &segments.get().inner);
    Ok(run(py, flow)??.into())
}

/// All stages for one log: `condition`, `segment`, `flow`, `metrics`, `agitation`, `bed` and `extraction`.
///
/// `log` is a `Log`, or whatever `read` takes. `labels` are all its pours, set by hand; None takes the detected ones.
/// `options` are those of all stages, the defaults if it is None; returns a `Brew`. If the brew has warnings, one
/// `PourlineWarning` names the log.
///
/// >>> import pourline
/// >>> log = pourline.datasets.load("fernspout-ada-01")
/// >>> brew = pourline.analyze(log, pourline.Options(condition={"scale_lag_s": 0.25}))
/// >>> len(brew.pours), brew.segments.response.source
/// (4, 'given')
#[pyfunction]
#[pyo3(signature = (log, options = None, labels = None))]
pub(super) fn analyze(
    py: Python<'_>,
    log: &Bound<'_, PyAny>,
    options: Option<&Bound<'_, PyAny>>,
    labels: Option<&Bound<'_, PyLabels>>,
) -> PyResult<PyBrew> {
    let options = options_from(options)?;
    let source = source(log)?;
    let labels = labels.map(|labels| labels.get().inner.clone());
    let (brew, seconds) = run(py, move || one(&source, &options, labels.as_ref()))??;
    tell(py, &brew, &seconds, || "log".into())?;
    Ok(brew.into())
}
