//! In: the lead of the reading over the landed water. Out: the height of the fall.

use crate::agitation::known::{G_M_PER_S2, Graded};
use crate::estimate::{Estimate, Maybe, Undefined};

/// Least lead for a height, in sd. Selecting leads by their significance biases them upwards: on simulated logs of
/// streams of 1 m/s by 0.12 m/s on average at lower limits, by 0.04 m/s from ten sd on.
const LEAST_SDS: f64 = 10.0;
/// Relative sd of the lead for the shape of the ramps, which are linear in the fit: from simulated logs with
/// half-cosine ramps and little noise.
const RAMP_SHAPE: f64 = 0.04;

/// Height of the fall by the force of the stream on the scale, m.
///
/// - measures: the height of the spout, one for the whole log
/// - formula: a scale without lag reads the landed mass plus `M' v/g`: it leads by the time `c = v/g`; with the speed
///   at the spout `v0`, `H = (g^2 c^2 - v0^2)/(2 g)`
/// - needs: the lead, and `v0`: flow, bore and temperature
/// - valid when: the lead is at least ten of its sd above 0, which needs a high rate and low noise; the stream falls
///   steeply onto the scale's own load. If the spout points sideways, `v0` is its downward part only and the height is
///   biased slightly low
/// - reference: balance of momentum
///
/// ```
/// use pourline::{Estimate, Undefined, agitation::fall_height_m};
/// let spout_speed = Estimate::exact(0.1768);
/// // A lead of 0.2028 s is a stream of 1.988 m/s.
/// let height = fall_height_m(&Ok(Estimate::new(0.2028, 0.01)), spout_speed).unwrap();
/// assert!((height.value - 0.2).abs() < 1e-3 && (height.sd - 0.0256).abs() < 1e-3);
/// let unclear = fall_height_m(&Ok(Estimate::new(0.1, 0.05)), spout_speed);
/// assert_eq!(unclear.unwrap_err().reason, "the force of the stream is not significant: a lead of 0.100 ± 0.050 s");
/// ```
///
/// # Errors
/// The reason why there is no lead, why it gives no height, or that the stream would have to rise.
pub fn fall_height_m(stream_lead_s: &Maybe, spout_speed_m_per_s: Estimate) -> Maybe {
    let sure = lead(stream_lead_s)?;
    let height = from_lead(Graded::input(sure.value, 0), Graded::input(spout_speed_m_per_s.value, 1))?;
    Ok(Estimate::new(height.value, height.sd([sure.sd, spout_speed_m_per_s.sd, 0.0, 0.0])))
}

/// The lead, if it is significant. A stated lead has no sd and is used as it is.
pub(super) fn lead(stream_lead_s: &Maybe) -> Maybe {
    let lead = stream_lead_s.clone()?;
    if lead.value > 0.0 && lead.value >= LEAST_SDS * lead.sd {
        let form_s = if lead.sd > 0.0 { RAMP_SHAPE * lead.value } else { 0.0 };
        return Ok(Estimate::new(lead.value, lead.sd.hypot(form_s)));
    }
    Err(Undefined::because(format!("the force of the stream is not significant: a lead of {lead} s")))
}

pub(super) fn from_lead(lead_s: Graded, spout_speed: Graded) -> Result<Graded, Undefined> {
    let speed = lead_s.times(G_M_PER_S2);
    let height = (speed * speed - spout_speed * spout_speed).times(0.5 / G_M_PER_S2);
    if height.value > 0.0 {
        return Ok(height);
    }
    let (bed, spout) = (speed.value, spout_speed.value);
    Err(Undefined::because(format!(
        "the stream would be slower at the bed ({bed:.2} m/s) than at the spout ({spout:.2} m/s)"
    )))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_height_is_that_of_the_balance_and_its_sd_that_of_both_inputs() {
        // A lead of 0.2 s is 1.96133 m/s; (1.96133^2 - 0.5^2)/(2 g) = 0.183387 m. Derivatives: g c in the lead, -v0/g
        // in the spout's speed.
        let found = fall_height_m(&Ok(Estimate::new(0.2, 0.01)), Estimate::new(0.5, 0.1)).unwrap();
        assert!((found.value - (1.961_33_f64.powi(2) - 0.25) / (2.0 * 9.806_65)).abs() < 1e-9, "{found}");
        // The lead's sd with 4 % of it for the shape of the ramps.
        let lead_sd = 0.01_f64.hypot(0.008);
        assert!((found.sd - (1.961_33 * lead_sd).hypot(0.5 / 9.806_65 * 0.1)).abs() < 1e-9, "{found}");
    }

    #[test]
    fn a_lead_is_used_from_ten_sd_on_and_a_stated_one_as_it_is() {
        let of = |value: f64, sd: f64| lead(&Ok(Estimate::new(value, sd)));
        assert!(of(0.2, 0.0199).is_ok() && of(0.2, 0.0201).is_err());
        assert_eq!(of(0.2, 0.0), Ok(Estimate::exact(0.2)));
        assert!(of(0.0, 0.0).is_err() && of(-0.1, 0.0).is_err());
        let slow = from_lead(Graded::constant(0.05), Graded::constant(0.5)).unwrap_err();
        assert!(slow.reason.contains("0.49 m/s") && slow.reason.contains("0.50 m/s"), "{}", slow.reason);
    }
}
