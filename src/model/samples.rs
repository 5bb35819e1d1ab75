//! The observations that a fit uses, as arrays, with their noise.

use serde::{Deserialize, Serialize};

/// A disturbance closer to an edge than this affects it, s: a ramp and three times a slow lag.
const NEAR_S: f64 = 1.3;

/// In a gap longer than this, s, water that goes on must show in the level after it.
const LONG_S: f64 = 1.0;

/// Usual sd of a stamp, s.
pub(crate) const STAMP_S: f64 = 0.001;

/// Share of the noise that rounding leaves in the mean of many readings, from which they are coarse.
const COARSE: f64 = 0.1;

/// The used samples of a channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Samples {
    pub time_s: Vec<f64>,
    pub mass_g: Vec<f64>,
    /// Noise of one sample, sd in g.
    pub noise_sd_g: f64,
    /// Median of the prior of the sd of a stamp, s.
    pub stamp_s: f64,
    /// Usual interval between samples, s.
    pub interval_s: f64,
    /// Variance that rounding leaves in the mean of many readings, g2.
    pub rounding_var_g2: f64,
    /// Sd of the drift of zero that was subtracted, g/s.
    pub drift_sd_g_per_s: f64,
    /// Intensity of the random walk of zero, estimated from the rests, g2/s.
    pub walk_g2_per_s: f64,
    /// From the last used reading before a disturbance to the first one after it, s; in order of time.
    pub disturbed_s: Vec<(f64, f64)>,
}

impl Samples {
    /// Whether readings are excluded near an instant because the scale was disturbed.
    pub(crate) fn is_disturbed(&self, t_s: f64) -> bool {
        let next = self.disturbed_s.partition_point(|&(_, to_s)| to_s <= t_s - NEAR_S);
        self.disturbed_s.get(next).is_some_and(|&(from_s, _)| from_s < t_s + NEAR_S)
    }

    /// Whether a gap is so long that only the level after it identifies the water that arrived meanwhile.
    pub(crate) fn is_gap(&self, long_s: f64) -> bool {
        long_s >= LONG_S.max(2.5 * self.interval_s)
    }

    /// Whether errors of rounding are no noise.
    pub(crate) fn is_coarse(&self) -> bool {
        self.rounding_var_g2 > COARSE * self.noise_sd_g * self.noise_sd_g
    }

    /// Intensity of the random walk of zero, g2/s: from the rests, or without rests the fit's `zero_g` squared.
    pub(crate) fn zero_g2_per_s(&self, zero_g: f64) -> f64 {
        if self.walk_g2_per_s > 0.0 { self.walk_g2_per_s } else { zero_g * zero_g }
    }
}

#[cfg(test)]
impl Samples {
    /// Readings of a scale without a fault, noise 0.05 g.
    pub(crate) fn ten_a_second(time_s: Vec<f64>, mass_g: Vec<f64>) -> Self {
        Self {
            time_s,
            mass_g,
            noise_sd_g: 0.05,
            stamp_s: STAMP_S,
            interval_s: 0.1,
            rounding_var_g2: 0.0,
            drift_sd_g_per_s: 0.0,
            walk_g2_per_s: 0.0,
            disturbed_s: Vec::new(),
        }
    }
}
