//! In: pours by the fit that was chosen, and by the one that was not. Out: the same pours, their sd no smaller than that choice allows.
//!
//! Method: averaging over both models, `E (x - x_chosen)^2 = (1 - p) v_chosen + p (v_rival + d^2)`, with the rival's variance taken to be that of the chosen one
//! (Hoeting, Madigan, Raftery and Volinsky, Bayesian model averaging, Statistical Science 14, 1999). Without it an edge would be stated as sharply
//! where a log hardly tells whether the stream presses on the scale as where it tells it clearly.

use crate::estimate::Estimate;
use crate::segment::fitted::Fit;
use crate::segment::pour::Pour;

/// Power that tempers the odds: the lower, the wider the sd, which are too narrow where a stream presses (docs/coverage.md); lower than this, and 2 sd would hold
/// more than .99 of the ends of usual brews, where none does.
pub(super) const TEMPER: f64 = 0.35;
/// A rival less likely than this changes no digit of an sd.
pub(super) const UNLIKELY: f64 = 0.005;

/// A fit that was not chosen, and how likely it is beside the chosen one.
pub(crate) struct Rival {
    pub fit: Fit,
    pub probability: f64,
}

/// Lets the distance to the rival's pours into the sd. A pour that only one of the two knows is not compared.
pub(super) fn widen(pours: &mut [Pour], alternative: &[Pour], probability: f64) {
    for pour in pours {
        let (start_s, end_s) = (pour.start_s.value, pour.end_s.value);
        let common_s = |other: &&Pour| end_s.min(other.end_s.value) - start_s.max(other.start_s.value);
        let first = alternative.partition_point(|other| other.end_s.value <= start_s);
        let overlap = alternative[first..].iter().take_while(|other| other.start_s.value < end_s);
        let Some(other) = overlap.max_by(|a, b| common_s(a).total_cmp(&common_s(b))) else { continue };
        let let_in = |own: &mut Estimate, other: Estimate| {
            own.sd = own.sd.hypot(probability.sqrt() * (own.value - other.value));
        };
        let_in(&mut pour.start_s, other.start_s);
        let_in(&mut pour.end_s, other.end_s);
        let_in(&mut pour.half_rise_s, other.half_rise_s);
        let_in(&mut pour.half_fall_s, other.half_fall_s);
        let_in(&mut pour.mass_g, other.mass_g);
        let_in(&mut pour.duration_s, other.duration_s);
        pour.mean_flow_g_per_s = Pour::mean_flow(pour.mass_g, pour.duration_s);
    }
}
