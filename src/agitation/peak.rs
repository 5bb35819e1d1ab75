//! In: the flow of a pour. Out: its peak over its mean.

use crate::agitation::pouring::Pouring;
use crate::estimate::Estimate;
use crate::segment::pour::Pour;

/// Peak flow over mean flow.
///
/// - measures: the unevenness of a pour's flow; an ordinal proxy
/// - formula: largest flow over mass per duration
/// - needs: the flow
/// - valid when: the readings resolve the flow; a peak shorter than their lag and interval is attenuated
/// - reference: common practice, no source
pub(super) fn peak_to_mean_flow(pouring: &Pouring, pour: &Pour) -> Estimate {
    pouring.peak().over(pour.mean_flow_g_per_s)
}
