//! In: pours of the selected fit and of an alternative model. Out: the same pours, with the model uncertainty
//! in their sd.
//!
//! Method: Bayesian model averaging, `E (x - x_selected)^2 = (1 - p) v_selected + p (v_alternative + d^2)`, the
//! two variances taken as equal (Hoeting, Madigan, Raftery and Volinsky, Bayesian model averaging, Statistical
//! Science 14, 1999). Without it the sd of an edge would ignore whether a force of the stream is identified.

use crate::estimate::Estimate;
use crate::segment::fitted::Fit;
use crate::segment::pour::Pour;

/// Power that tempers the odds: the lower, the wider the sd. They are too small under a stream's force
/// (docs/coverage.md). Below this value 2 sd would cover more than .99 of the ends of usual brews without such
/// a force.
pub(super) const TEMPER: f64 = 0.35;
/// An alternative model below this probability has no visible effect on an sd.
pub(super) const UNLIKELY: f64 = 0.005;

/// The fit of an alternative model, and its posterior probability.
pub(crate) struct Alternative {
    pub fit: Fit,
    pub probability: f64,
}

/// Adds the distance to the alternative's pours to the sd. A pour in only one of the two is not compared.
pub(super) fn widen(pours: &mut [Pour], alternative: &[Pour], probability: f64) {
    for pour in pours {
        let (start_s, end_s) = (pour.start_s.value, pour.end_s.value);
        let common_s = |other: &&Pour| end_s.min(other.end_s.value) - start_s.max(other.start_s.value);
        let first = alternative.partition_point(|other| other.end_s.value <= start_s);
        let overlap = alternative[first..].iter().take_while(|other| other.start_s.value < end_s);
        let Some(other) = overlap.max_by(|a, b| common_s(a).total_cmp(&common_s(b))) else { continue };
        let add_distance = |own: &mut Estimate, other: Estimate| {
            own.sd = own.sd.hypot(probability.sqrt() * (own.value - other.value));
        };
        add_distance(&mut pour.start_s, other.start_s);
        add_distance(&mut pour.end_s, other.end_s);
        add_distance(&mut pour.half_rise_s, other.half_rise_s);
        add_distance(&mut pour.half_fall_s, other.half_fall_s);
        add_distance(&mut pour.mass_g, other.mass_g);
        add_distance(&mut pour.duration_s, other.duration_s);
        pour.mean_flow_g_per_s = Pour::mean_flow(pour.mass_g, pour.duration_s);
    }
}
