//! The readings that a fit uses, as arrays, with what is known of their noise.

/// A disturbance this near to an edge is at it, s: a ramp and three times a slow lag.
const NEAR_S: f64 = 1.3;

/// Without readings for longer than this, s, water that goes on must show in the level after it.
const LONG_S: f64 = 1.0;

/// The used samples of a channel.
pub(crate) struct Samples {
    pub time_s: Vec<f64>,
    pub mass_g: Vec<f64>,
    /// Noise of one of them, sd in g.
    pub noise_sd_g: f64,
    /// Usual interval between them, s.
    pub interval_s: f64,
    /// Variance of the mean of many readings that rounding leaves, g2.
    pub rounding_var_g2: f64,
    /// How well the drift of zero is known that was taken out, sd in g/s.
    pub drift_sd_g_per_s: f64,
    /// Intensity of the walk of zero that its rests show, g2/s.
    pub walk_g2_per_s: f64,
    /// From the last used reading before a disturbance to the first one after it, s; in order of time.
    pub disturbed_s: Vec<(f64, f64)>,
}

impl Samples {
    /// Whether readings are left out near an instant for what was done to the scale.
    pub(crate) fn is_disturbed(&self, t_s: f64) -> bool {
        let next = self.disturbed_s.partition_point(|&(_, to_s)| to_s <= t_s - NEAR_S);
        self.disturbed_s.get(next).is_some_and(|&(from_s, _)| from_s < t_s + NEAR_S)
    }

    /// Whether readings are missing for so long that only the level after it tells what came meanwhile.
    pub(crate) fn is_gap(&self, long_s: f64) -> bool {
        long_s >= LONG_S.max(2.5 * self.interval_s)
    }

    /// Intensity of the walk of zero, g2/s: what the rests show, and without rests what the fit finds around the pours, `zero_g`.
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
            interval_s: 0.1,
            rounding_var_g2: 0.0,
            drift_sd_g_per_s: 0.0,
            walk_g2_per_s: 0.0,
            disturbed_s: Vec::new(),
        }
    }
}
