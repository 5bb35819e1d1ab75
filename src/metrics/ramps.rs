//! How fast a hand opens and closes.
//!
//! - measures: time from a tenth to nine tenths of the flow, and back.
//! - formula: between the first instants at which the flow is at least 10 % and 90 % of the pour's median flow; between the last ones.
//! - needs: drawn flows, the scale's lag taken out.
//! - minimum samples: 8 while water arrives. At 10 Hz a ramp shorter than 0.2 s is hardly seen; the sd says so.
//! - valid when: the log holds the pour's start and end.
//! - reference: transition duration of IEC 60469 (from memory), with the median for the high level.

use crate::metrics::curve::Curve;

/// Time from 10 to 90 % of the median flow, s; none where the flow runs already when the pour begins.
pub(super) fn rise_s(curve: &Curve) -> Option<f64> {
    let (low, high) = (0.1 * curve.median_g_per_s, 0.9 * curve.median_g_per_s);
    (curve.ends().0 < low).then(|| Some(curve.hull(high)?.0 - curve.hull(low)?.0))?
}

/// Time from 90 to 10 % of the median flow, s; none where the flow still runs when the pour ends.
pub(super) fn fall_s(curve: &Curve) -> Option<f64> {
    let (low, high) = (0.1 * curve.median_g_per_s, 0.9 * curve.median_g_per_s);
    (curve.ends().1 < low).then(|| Some(curve.hull(low)?.1 - curve.hull(high)?.1))?
}
