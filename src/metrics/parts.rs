//! What the variation of the flow on the plateau consists of.
//!
//! - measures: the parts of `flow_cv` that are a straight line, slow, fast, and beyond what the log resolves.
//! - formula: least-squares line of the flow without pauses; discrete Fourier transform of what is left, 0 in pauses.
//!   The line, and each frequency, take a part of the variance; these add up to all of it (Parseval's theorem), so that
//!   the squares of the parts add up to the square of `flow_cv`, on each curve.
//! - needs: sampled flow curves; noise, lag and rate of the scale.
//! - minimum samples: 8 while water arrives; 1 s of plateau, 8 s for the slow part.
//! - valid when: the plateau is longer than a period; a slower swing lies in part in the line.
//! - reference: definition of this library; the transform and the line are checked in `math`.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::distribution::root;
use crate::math::fourier::power;
use crate::metrics::curve::Curve;
use std::f64::consts::{SQRT_2, TAU};

/// Slow is below this, Hz.
pub(super) const SLOW_HZ: f64 = 0.25;
/// Shortest plateau with a slow part: two periods, s.
const LONG_S: f64 = 2.0 / SLOW_HZ;
/// Largest frequency that readings can resolve, as a fraction of their rate.
pub(super) const OF_RATE: f64 = 0.45;
/// A frequency is resolved if noise alone makes three times its part of the cv no larger than this.
const RESOLVED: f64 = 0.03;
/// No frequency above this is resolved, Hz: an average over 0.1 s has no part of it.
const FASTEST_HZ: f64 = 10.0;

/// Variation of the flow over time, as fractions of its mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Parts {
    pub all: f64,
    pub trend: f64,
    pub slow: f64,
    pub fast: f64,
    pub unseen: f64,
}

/// Limits between the parts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bands {
    /// Slow is below this, Hz; 0 if the plateau is too short for a slow part.
    pub slow_hz: f64,
    pub resolved_to_hz: f64,
    /// Length of the plateau, s.
    duration_s: f64,
}

impl Bands {
    pub(super) fn new(duration_s: f64, resolved_to_hz: f64) -> Self {
        let slow_hz = if duration_s < LONG_S { 0.0 } else { SLOW_HZ };
        Self { slow_hz, resolved_to_hz, duration_s }
    }

    /// A part, or why there is none.
    pub(super) fn slow(&self, part: Maybe) -> Maybe {
        if self.slow_hz > 0.0 {
            return part;
        }
        let lasts_s = self.duration_s;
        Err(Undefined::because(format!("the plateau lasts {lasts_s:.1} s, the slow part needs {LONG_S} s")))
    }

    /// A part, or why there is none.
    pub(super) fn fast(&self, part: Maybe) -> Maybe {
        let least_hz = self.slow_hz.max(1.0 / self.duration_s);
        if self.resolved_to_hz >= least_hz {
            return part;
        }
        let to_hz = self.resolved_to_hz;
        Err(Undefined::because(format!("the readings resolve nothing faster than {to_hz:.2} Hz")))
    }
}

/// Sd over mean.
pub(super) fn cv(values: impl Iterator<Item = f64> + Clone) -> Option<f64> {
    let n = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / n;
    let var = values.map(|q| (q - mean).powi(2)).sum::<f64>() / n;
    (mean > 0.0).then(|| var.sqrt() / mean)
}

impl Parts {
    /// Of one curve; None if it has no plateau, or no water arrives on it.
    pub(super) fn of(curve: &Curve, pause_flow_g_per_s: f64, bands: &Bands) -> Option<Self> {
        Self::of_flow(curve.plateau()?, curve.step_s(), pause_flow_g_per_s, bands)
    }

    /// All of the variation, without its parts.
    pub(super) fn all(curve: &Curve, pause_flow_g_per_s: f64) -> Option<f64> {
        cv(curve.plateau()?.iter().copied().filter(|q| *q > pause_flow_g_per_s))
    }

    fn of_flow(flow: &[f64], step_s: f64, pause_flow_g_per_s: f64, bands: &Bands) -> Option<Self> {
        let poured = || flow.iter().enumerate().filter(|(_, q)| **q > pause_flow_g_per_s);
        let n = poured().count() as f64;
        let mean = poured().map(|(_, q)| q).sum::<f64>() / n;
        let middle = poured().map(|(k, _)| k as f64).sum::<f64>() / n;
        let (mut above, mut below) = (0.0, 0.0);
        for (k, q) in poured() {
            above += (k as f64 - middle) * (q - mean);
            below += (k as f64 - middle).powi(2);
        }
        if mean.is_nan() || mean <= 0.0 {
            return None;
        }
        let slope = if below > 0.0 { above / below } else { 0.0 };
        let mut left = vec![0.0; flow.len()];
        poured().for_each(|(k, q)| left[k] = q - mean - slope * (k as f64 - middle));
        let base_hz = 1.0 / (step_s * flow.len() as f64);
        let [mut slow, mut fast, mut unseen] = [0.0; 3];
        // Frequencies of a transform are those of whole periods in the plateau; the allowance is for rounding.
        let resolved_to_hz = bands.resolved_to_hz.max(bands.slow_hz) * (1.0 + 1e-9);
        for (k, power) in power(&left).iter().enumerate() {
            let hz = k as f64 * base_hz;
            if hz < bands.slow_hz {
                slow += power;
            } else if hz <= resolved_to_hz {
                fast += power;
            } else {
                unseen += power;
            }
        }
        let of_mean = |variance: f64| variance.max(0.0).sqrt() / mean;
        let trend = slope * slope * below / n;
        // The transform is over the whole plateau, the variance over its time without pauses.
        let [slow, fast, unseen] = [slow, fast, unseen].map(|p| p * flow.len() as f64 / n);
        Some(Self {
            all: of_mean(trend + slow + fast + unseen),
            trend: of_mean(trend),
            slow: of_mean(slow),
            fast: of_mean(fast),
            unseen: of_mean(unseen),
        })
    }
}

/// What the readings of a plateau say about an oscillation of the flow.
#[derive(Debug, Clone, Copy)]
pub(super) struct Resolution {
    /// Noise of a reading, g, and how many there are.
    pub noise_sd_g: f64,
    pub readings: f64,
    pub rate_hz: f64,
    pub tau_s: f64,
    pub flow_g_per_s: f64,
}

impl Resolution {
    /// Sd of the cv that an oscillation of one frequency makes: of two amplitudes from N readings of noise sigma,
    /// through the integral and the lag.
    fn sd(&self, hz: f64) -> f64 {
        let w = TAU * hz;
        let of_flow = self.noise_sd_g * (2.0 / self.readings).sqrt() * w * 1.0_f64.hypot(w * self.tau_s);
        of_flow / (SQRT_2 * self.flow_g_per_s)
    }

    /// Largest frequency that the readings resolve, Hz.
    pub(super) fn to_hz(self) -> f64 {
        root(0.0, FASTEST_HZ.min(OF_RATE * self.rate_hz), |hz| 3.0 * self.sd(hz) <= RESOLVED)
    }

    pub(super) fn estimate(&self) -> Maybe {
        Ok(Estimate::exact(self.to_hz()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn parts(flow: &[f64], slow_hz: f64, resolved_to_hz: f64) -> Parts {
        let duration_s = 0.02 * flow.len() as f64;
        Parts::of_flow(flow, 0.02, 0.5, &Bands { slow_hz, resolved_to_hz, duration_s }).unwrap()
    }

    #[test]
    fn the_squares_of_the_parts_add_up_with_and_without_pauses() {
        for pause in [0, 60] {
            let mut flow: Vec<f64> =
                (0..531).map(|k| 6.0 + 0.004 * f64::from(k) + (f64::from(k * k) * 0.01).sin()).collect();
            flow[200..200 + pause].fill(0.1);
            let p = parts(&flow, 0.25, 1.0);
            let sum = p.trend.powi(2) + p.slow.powi(2) + p.fast.powi(2) + p.unseen.powi(2);
            assert!((sum / p.all.powi(2) - 1.0).abs() < 1e-12, "{p:?}");
            let poured: Vec<f64> = flow.iter().copied().filter(|q| *q > 0.5).collect();
            let n = poured.len() as f64;
            let mean = poured.iter().sum::<f64>() / n;
            let var = poured.iter().map(|q| (q - mean).powi(2)).sum::<f64>() / n;
            assert!((var.sqrt() / mean / p.all - 1.0).abs() < 1e-12);
            assert!((cv(poured.iter().copied()).unwrap() / p.all - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn each_part_is_that_of_arithmetic() {
        // A line over T has the sd slope T / sqrt 12; a sine over whole periods its amplitude / sqrt 2.
        let flow: Vec<f64> = (0..1000).map(|k| 6.0 + 0.1 * 0.02 * f64::from(k)).collect();
        let p = parts(&flow, 0.25, 1.0);
        assert!((p.trend / (0.1 * 20.0 / 12f64.sqrt() / 6.999) - 1.0).abs() < 1e-5, "{p:?}");
        assert!(p.slow < 1e-9 && p.fast < 1e-9 && p.unseen < 1e-9);
        for (hz, which) in [(0.2, 0), (0.5, 1), (1.5, 2)] {
            let sine = |k: i32| 5.0 * (1.0 + 0.08 * (TAU * hz * 0.02 * f64::from(k)).cos());
            let flow: Vec<f64> = (0..1000).map(sine).collect();
            let p = parts(&flow, 0.25, 1.0);
            let cv = [p.slow, p.fast, p.unseen][which];
            assert!((cv / (0.08 / SQRT_2) - 1.0).abs() < 1e-3 && (p.all / cv - 1.0).abs() < 1e-3, "{p:?}");
        }
    }

    #[test]
    fn the_sd_of_two_coordinates_is_that_of_a_regression() {
        // A flow q sin(w t) reads (q / w) / sqrt(1 + (w tau)^2); the sd of an amplitude from N readings is
        // sigma sqrt(2 / N), textbook arithmetic. Here .05 g, 80 readings, .2 s, 8 g/s, 1 Hz.
        let r = Resolution { noise_sd_g: 0.05, readings: 80.0, rate_hz: 10.0, tau_s: 0.2, flow_g_per_s: 8.0 };
        let by_hand = 0.05 * 0.025_f64.sqrt() * TAU * (1.0 + (0.4 * PI).powi(2)).sqrt() / (8.0 * SQRT_2);
        assert!((r.sd(1.0) / by_hand - 1.0).abs() < 1e-12);
        assert!((3.0 * r.sd(r.to_hz()) - 0.03).abs() < 1e-9);
        // A slow log resolves no more than its rate lets through.
        let slow = Resolution { rate_hz: 1.0, readings: 8000.0, ..r };
        assert!((slow.to_hz() - 0.45).abs() < 1e-12);
    }
}
