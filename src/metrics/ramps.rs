//! Rise and fall times of the flow.
//!
//! - measures: time from a tenth to nine tenths of the flow, and back.
//! - formula: between the first instants at which the flow is at least 10 % and 90 % of the pour's median flow;
//!   between the last ones.
//! - needs: sampled flow curves, corrected for the scale's lag.
//! - minimum samples: 8 while water arrives. At 10 Hz a ramp shorter than 0.2 s is poorly identified; the sd
//!   includes it.
//! - valid when: the log holds the pour's start and end.
//! - reference: transition duration between the 10 and 90 % reference levels (common practice, no source), with
//!   the median for the high level.

use crate::metrics::curve::Curve;

/// Time from 10 to 90 % of the median flow, s; None if the flow is above 10 % at the start.
pub(super) fn rise_s(curve: &Curve) -> Option<f64> {
    let (low, high) = (0.1 * curve.median_g_per_s, 0.9 * curve.median_g_per_s);
    (curve.ends().0 < low).then(|| Some(curve.hull(high)?.0 - curve.hull(low)?.0))?
}

/// Time from 90 to 10 % of the median flow, s; None if the flow is above 10 % at the end.
pub(super) fn fall_s(curve: &Curve) -> Option<f64> {
    let (low, high) = (0.1 * curve.median_g_per_s, 0.9 * curve.median_g_per_s);
    (curve.ends().1 < low).then(|| Some(curve.hull(low)?.1 - curve.hull(high)?.1))?
}
