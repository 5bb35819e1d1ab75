//! Rise and fall times of the flow.
//!
//! - measures: time from a tenth to nine tenths of the flow, and back.
//! - formula: between the first instants at which the flow is at least 10 % and 90 % of the pour's mean flow;
//!   between the last ones.
//! - needs: sampled flow curves, corrected for the scale's lag.
//! - minimum samples: 8 while water arrives. At 10 Hz a ramp shorter than 0.2 s is poorly identified; the sd
//!   includes it.
//! - valid when: the log holds the pour's start and end.
//! - reference: transition duration between the 10 and 90 % reference levels (common practice, no source), with
//!   the mean for the high level.

use crate::metrics::curve::Curve;

/// Time from 10 to 90 % of the mean flow, s; None if the flow does not pass both.
pub(super) fn rise_s(curve: &Curve) -> Option<f64> {
    let at = |share: f64| curve.passages(share * curve.mean_g_per_s).map(|p| p.0);
    Some(at(0.9)? - at(0.1)?)
}

/// Time from 90 to 10 % of the mean flow, s; None if the flow does not pass both.
pub(super) fn fall_s(curve: &Curve) -> Option<f64> {
    let at = |share: f64| curve.passages(share * curve.mean_g_per_s).map(|p| p.1);
    Some(at(0.1)? - at(0.9)?)
}
