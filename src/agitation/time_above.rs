//! In: the flow of a pour, and a flow. Out: the time of the pour above it.

use crate::agitation::pouring::Pouring;
use crate::estimate::Estimate;
use crate::math::distribution::normal_below;

/// Time above a flow.
///
/// - measures: the time of a pour at a high flow, comparable through one spout; an ordinal proxy
/// - formula: integral over the pour of the probability that the flow was above the given one
/// - needs: the flow
/// - valid when: the spout and the height are the same; for a flow near the given one it is poorly determined, and its
///   sd is large
/// - reference: common practice, no source
pub(super) fn time_above_s(pouring: &Pouring, above_g_per_s: f64) -> Estimate {
    pouring.time(|flow| match flow.value - above_g_per_s {
        over if flow.sd > 0.0 => normal_below(over / flow.sd),
        over => f64::from(u8::from(over > 0.0)),
    })
}
