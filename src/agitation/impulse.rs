//! In: the flow of a pour. Out: its flow impulse, and its mass-weighted mean flow.

use crate::agitation::pouring::Pouring;
use crate::estimate::Estimate;

/// Integral of the squared flow.
///
/// - measures: the momentum of a pour, comparable between pours through one spout; an ordinal proxy
/// - formula: `integral of Q^2 dt`; divided by density and the area of the spout's mouth it is the momentum of the
///   water at the spout
/// - needs: the flow
/// - valid when: the spout and the height are the same; the fall is not included
/// - reference: balance of momentum
pub(super) fn flow_impulse_g2_per_s(pouring: &Pouring) -> Estimate {
    pouring.integral(|q| [q * q, 2.0 * q, 2.0])
}

/// Mean flow, weighted by mass.
///
/// - measures: the representative flow of the pour, such as for the speed of the stream
/// - formula: `integral of Q^2 dt / integral of Q dt`; equal to the flow if it is constant
/// - needs: the flow
/// - valid when: any pour
/// - reference: mean weighted by mass
pub(super) fn mass_weighted_flow_g_per_s(pouring: &Pouring) -> Estimate {
    let mass_g = pouring.mass_g.value;
    let value = flow_impulse_g2_per_s(pouring).value / mass_g;
    // One first-order function of the flow, since the errors of numerator and denominator are correlated.
    let sd = pouring.integral(|q| [0.0, (2.0 * q - value) / mass_g, 0.0]).sd;
    Estimate::new(value, sd)
}
