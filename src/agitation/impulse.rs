//! In: the flow of a pour. Out: its flow impulse, and the flow that a gram of its water came with.

use crate::agitation::pouring::Pouring;
use crate::estimate::Estimate;

/// Integral of the squared flow.
///
/// - measures: how hard a pour pushes, between pours through one spout; an ordinal proxy
/// - formula: `integral of Q^2 dt`; over density and the area of the spout's mouth it is the momentum with which the water leaves
/// - needs: the flow
/// - valid when: the spout and the height are the same; nothing is said of the fall
/// - reference: balance of momentum
pub(super) fn flow_impulse_g2_per_s(pouring: &Pouring) -> Estimate {
    pouring.integral(|q| [q * q, 2.0 * q, 2.0])
}

/// Mean flow, each gram counting once.
///
/// - measures: the flow that stands for the pour where one is needed, such as for the speed of the stream
/// - formula: `integral of Q^2 dt / integral of Q dt`; the flow itself where it is constant, whatever the ramps
/// - needs: the flow
/// - valid when: any pour
/// - reference: mean weighted by mass
pub(super) fn mass_weighted_flow_g_per_s(pouring: &Pouring) -> Estimate {
    let mass_g = pouring.mass_g.value;
    let value = flow_impulse_g2_per_s(pouring).value / mass_g;
    // Its own first-order function of the flow, since numerator and denominator err together.
    let sd = pouring.integral(|q| [0.0, (2.0 * q - value) / mass_g, 0.0]).sd;
    Estimate::new(value, sd)
}
