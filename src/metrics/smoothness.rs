//! Smoothness of the flow over a whole pour: its spectral arc length.
//!
//! - measures: the number of rises and falls of the flow over the whole pour: near -1.4 for one even rise and
//!   fall, lower for each one more.
//! - formula: minus the length of the normalised magnitude spectrum, up to 10 Hz or to the last frequency with
//!   5 % of the largest magnitude, the spectrum padded to 16 times the samples, or 4 times if they are more
//!   than 4,096.
//! - needs: sampled flow curves.
//! - minimum samples: 8 while water arrives.
//! - valid when: compared between pours of similar duration: a longer pour may rise and fall more often. A flow
//!   whose spectrum has no second frequency above 5 % has no arc length.
//! - reference: Balasubramanian, Melendez-Calderon, Roby-Brami, Burdet 2015, J. NeuroEng. Rehab. 12, 112.

use crate::math::fourier::magnitudes;
use crate::metrics::curve::Curve;

/// Padding as powers of two. A long pour has enough frequencies without it, and the memory of each sampled
/// curve is proportional to it.
const PAD: u32 = 4;
const PAD_OF_MANY: u32 = 2;
const MANY: usize = 4096;
const CUT_HZ: f64 = 10.0;
const THRESHOLD: f64 = 0.05;

/// Spectral arc length of the pour's flow.
pub(super) fn smoothness(curve: &Curve) -> Option<f64> {
    arc_length(curve.pour(), 1.0 / curve.step_s())
}

fn arc_length(flow: &[f64], rate_hz: f64) -> Option<f64> {
    if flow.is_empty() {
        return None;
    }
    let n = flow.len().next_power_of_two() << if flow.len() > MANY { PAD_OF_MANY } else { PAD };
    let spectrum = magnitudes(flow, n);
    let most = spectrum.iter().copied().fold(0.0, f64::max);
    let within = ((CUT_HZ * n as f64 / rate_hz) as usize + 1).min(spectrum.len());
    let is_above = |m: &f64| *m >= THRESHOLD * most;
    let from = spectrum[..within].iter().position(is_above)?;
    let to = spectrum[..within].iter().rposition(is_above)?;
    if most <= 0.0 || to <= from {
        return None;
    }
    let along = 1.0 / (to - from) as f64;
    let step = |pair: &[f64]| (((pair[1] - pair[0]) / most).powi(2) + along * along).sqrt();
    Some(-spectrum[from..=to].windows(2).map(step).sum::<f64>())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Speed of a minimum-jerk movement over one second (Flash and Hogan 1985, J. Neurosci. 5, 1688).
    fn minimum_jerk(n: usize) -> Vec<f64> {
        (0..n).map(|i| i as f64 / n as f64).map(|u| 30.0 * u * u * (1.0 - u) * (1.0 - u)).collect()
    }

    #[test]
    fn the_arc_length_of_a_minimum_jerk_movement_is_that_of_the_reference() {
        let result = arc_length(&minimum_jerk(100), 100.0).unwrap();
        println!("{result:.12}");
        assert!((result + 1.405_829_324_421).abs() < 1e-9, "{result}");
    }

    #[test]
    fn less_padding_does_not_change_the_arc_length_of_a_long_movement() {
        let [long, longer] = [4096, 4097].map(|n| arc_length(&minimum_jerk(n), n as f64).unwrap());
        println!("{long:.6} {longer:.6}");
        assert!((long - longer).abs() < 2e-3);
    }

    #[test]
    fn a_flow_that_is_empty_or_zero_has_no_arc_length() {
        assert!(arc_length(&[], 50.0).is_none());
        assert!(arc_length(&[0.0; 64], 50.0).is_none());
    }
}
