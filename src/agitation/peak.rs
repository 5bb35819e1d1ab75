//! In: the flow of a pour. Out: its peak over its mean.

use crate::agitation::pouring::Pouring;
use crate::estimate::{Estimate, Maybe};

/// Peak flow over mean flow.
///
/// - measures: the unevenness of a pour's flow; an ordinal proxy
/// - formula: largest flow over mass per duration
/// - needs: the flow
/// - valid when: the readings resolve the flow; a peak shorter than their lag and interval is attenuated
/// - reference: common practice, no source
pub(super) fn peak_to_mean_flow(pouring: &Pouring) -> Maybe {
    let duration_s = pouring.duration_s;
    let ratio = pouring.extreme(|curve| Some(curve.peak()?.1 / (curve.all_g() / duration_s.value)))?;
    Ok(Estimate::new(ratio.value, ratio.sd.hypot(ratio.value * duration_s.sd / duration_s.value)))
}
