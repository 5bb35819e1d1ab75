//! In: the flow of a pour, and a flow. Out: the time of the pour above it.

use crate::agitation::pouring::Pouring;
use crate::estimate::{Estimate, Maybe};

/// Time above a flow.
///
/// - measures: the time of a pour at a high flow, comparable through one spout; an ordinal proxy
/// - formula: time for which the flow, averaged over 0.1 s, is above the given one
/// - needs: the flow
/// - valid when: the spout and the height are the same; for a flow near the given one it is poorly determined, and its
///   sd is large
/// - reference: common practice, no source
pub(super) fn time_above_s(pouring: &Pouring, above_g_per_s: f64) -> Maybe {
    let above = |q: &&f64| **q > above_g_per_s;
    let time = pouring.averaged(|c| Some(c.flow.iter().filter(above).count() as f64 * c.step_s))?;
    // It is a share of the duration and scales with it.
    let by_duration = time.value * pouring.duration_s.sd / pouring.duration_s.value;
    Ok(Estimate::new(time.value, time.sd.hypot(by_duration)))
}
