//! The stage: a trace becomes pours and rests.

use crate::condition::trace::Trace;
use crate::error::Result;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::model::response::ScaleResponse;
use crate::segment::covariance::Covariance;
use crate::segment::fit::fit;
use crate::segment::fitted::Fit;
use crate::segment::numbers;
use crate::segment::observations::used;
use crate::segment::options::SegmentOptions;
use crate::segment::posterior::Posterior;
use crate::segment::pour::Segments;
use crate::segment::propose::propose;
use std::sync::Arc;

/// Pours and rests of a brew, detected in its water channel. A trace without that channel, or without water,
/// has no pours: a result, not an error.
///
/// # Errors
/// `out_of_range` for an option outside its range.
pub fn segment(trace: &Trace, options: &SegmentOptions) -> Result<Segments> {
    segmented(trace, options).map(|(segments, _)| segments)
}

/// The same, with the flow curves from which the pours are read.
pub(crate) fn segmented(trace: &Trace, options: &SegmentOptions) -> Result<(Segments, Option<Posterior>)> {
    options.check()?;
    let mut segments = Segments {
        pours: Vec::new(),
        rests: Vec::new(),
        response: trace.scale.clone().unwrap_or_else(ScaleResponse::expected),
        stream_lead_s: match options.stream_lead_s {
            Some(given) => Ok(Estimate::exact(given)),
            None => Err(Undefined::because("the log has no pour")),
        },
        covariance: Covariance::default(),
        fit: None,
    };
    let Some(samples) = used(trace) else { return Ok((segments, None)) };
    let proposed = propose(&samples, options);
    if proposed.is_empty() {
        return Ok((segments, None));
    }
    let Some(mut fit) = fit(&samples, &proposed, trace.scale.as_ref(), options) else {
        return Ok((segments, None));
    };
    let posterior = Posterior::new(&samples, &fit);
    (segments.pours, fit.places, segments.covariance) = numbers::pours(&samples, &fit, &posterior, options);
    segments.rests = numbers::rests(&segments.pours);
    if trace.scale.is_none() && !segments.pours.is_empty() {
        segments.response = fit.response();
    }
    segments.stream_lead_s = lead(&fit);
    segments.fit = Some(Arc::new(fit));
    Ok((segments, Some(posterior)))
}

fn lead(fit: &Fit) -> Maybe {
    fit.lead_s
        .ok_or_else(|| Undefined::because("the log gives no evidence for a force of the stream on the scale"))
}
