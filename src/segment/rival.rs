//! In: pours by the fit that was chosen, and by the one that was not. Out: the same pours, their sd no smaller than that choice allows.
//!
//! Method: averaging over both models, `E (x - x_chosen)^2 = (1 - p) v_chosen + p (v_rival + d^2)`, with the rival's variance taken to be that of the chosen one
//! (Hoeting, Madigan, Raftery and Volinsky, Bayesian model averaging, Statistical Science 14, 1999). Without it an edge would be stated as sharply
//! where a log hardly tells whether the stream presses on the scale as where it tells it clearly.

use super::Pour;
use crate::Estimate;

/// Lets the distance to the rival's pours into the sd. Where the two do not agree on the pours, nothing is compared.
pub(super) fn widen(pours: &mut [Pour], rival: &[Pour], probability: f64) {
    if pours.len() != rival.len() {
        return;
    }
    for (pour, other) in pours.iter_mut().zip(rival) {
        let let_in = |own: &mut Estimate, other: Estimate| {
            own.sd = own.sd.hypot(probability.sqrt() * (own.value - other.value));
        };
        let_in(&mut pour.start_s, other.start_s);
        let_in(&mut pour.end_s, other.end_s);
        let_in(&mut pour.half_rise_s, other.half_rise_s);
        let_in(&mut pour.half_fall_s, other.half_fall_s);
        let_in(&mut pour.mass_g, other.mass_g);
        let_in(&mut pour.duration_s, other.duration_s);
        pour.mean_flow_g_per_s = pour.mass_g.over(pour.duration_s);
    }
}
