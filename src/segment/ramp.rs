//! In: a fitted ramp, and the prior of its length. Out: corrections to the mean and the variance of an instant
//! on it.
//!
//! The readings identify the length of a short ramp through the spread of the water in time, which grows with
//! the square of the length. The posterior of a short ramp is therefore skewed towards shorter lengths. At its
//! mode, starts are too early and ends too late. Method: a likelihood that is normal in the square of the
//! length, with the information of the fit, times the normal prior of the length, summed over a grid.

use crate::estimate::Estimate;
use crate::model::burst::MIN_RAMP_S;

/// A ramp, s: the estimate of the fit, and the prior.
pub(super) struct Ramp {
    pub fitted_s: Estimate,
    pub expected_s: Estimate,
    /// Upper bound: the ramp ends before the other edge of its burst begins.
    pub max_s: f64,
}

/// Correction for the skewness that a normal posterior around the fit omits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Skew {
    /// To be added to an instant, s.
    pub shift_s: f64,
    /// To be added to its variance, s2; may be negative.
    pub var_s2: f64,
}

impl Ramp {
    /// Of an instant whose total derivative by the ramp is `along`, with the correlated parameters; `own` is
    /// the partial derivative.
    pub(super) fn skew(&self, own: f64, along: f64) -> Skew {
        const POINTS: usize = 64;
        /// Half-width of the grid, in sd.
        const REACH: f64 = 5.0;
        let (Estimate { value: fitted_s, sd: sd_s }, expected_s) = (self.fitted_s, self.expected_s);
        let expected = expected_s.sd.powi(-2);
        let information = (sd_s.powi(-2) - expected).max(0.0);
        // At the mode the gradients of likelihood and prior cancel.
        let gradient = (fitted_s - expected_s.value) * expected;
        let from_s = (fitted_s - REACH * sd_s).max(MIN_RAMP_S);
        let to_s = (fitted_s + REACH * sd_s).min(self.max_s.max(fitted_s));
        let (mut sum, mut mean_s, mut square_s2) = (0.0, 0.0, 0.0);
        for k in 0..POINTS {
            let ramp_s = from_s + (to_s - from_s) * (k as f64 + 0.5) / POINTS as f64;
            let longer_s = ramp_s - fitted_s;
            // The square of the length, scaled to agree with the length to first order at the fit.
            let spread_s = (ramp_s * ramp_s - fitted_s * fitted_s) / (2.0 * fitted_s);
            let log = gradient * (spread_s - longer_s)
                - (information * spread_s * spread_s + expected * longer_s * longer_s) / 2.0;
            let weight = log.exp();
            // The correlated parameters compensate for the spread.
            let change_s = own * longer_s + (along - own) * spread_s;
            sum += weight;
            mean_s += weight * change_s;
            square_s2 += weight * change_s * change_s;
        }
        let shift_s = mean_s / sum;
        Skew { shift_s, var_s2: square_s2 / sum - shift_s * shift_s - (along * sd_s).powi(2) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use statrs::distribution::{Continuous, ContinuousCDF, Normal};

    #[test]
    fn the_mean_of_a_well_identified_ramp_is_slightly_below_its_mode() {
        let ramp =
            Ramp { fitted_s: Estimate::new(1.0, 0.02), expected_s: Estimate::new(1.0, 1e3), max_s: 9.0 };
        // -t (d + d2/2f)2 / 2 has the third derivative -3t/f. The shift of the mean is half of it over t2
        // (Laplace's expansion, to the next order); that of the correlated parameters is larger by sd2/2f.
        let (own, along) = (ramp.skew(1.0, 1.0), ramp.skew(0.0, 1.0));
        assert!((own.shift_s / (-1.5 * 4e-4) - 1.0).abs() < 0.01, "{own:?}");
        assert!((along.shift_s / -4e-4 - 1.0).abs() < 0.01, "{along:?}");
        assert!(own.var_s2.abs() < 0.01 * 4e-4 && along.var_s2.abs() < 0.01 * 4e-4);
    }

    #[test]
    fn an_unidentified_ramp_has_its_prior_truncated_at_the_shortest() {
        let expected_s = Estimate::new(0.35, 0.2);
        let skew = Ramp { fitted_s: expected_s, expected_s, max_s: 9.0 }.skew(1.0, 1.0);
        // Mean and variance of a normal distribution truncated below (Johnson, Kotz and Balakrishnan,
        // Continuous Univariate Distributions 1, 13.10.1; the section was not checked).
        let normal = Normal::new(0.0, 1.0).unwrap();
        let least = (MIN_RAMP_S - 0.35) / 0.2;
        let mean = normal.pdf(least) / (1.0 - normal.cdf(least));
        let var = least * mean - mean * mean;
        assert!((skew.shift_s - 0.2 * mean).abs() < 1e-4, "{skew:?}");
        assert!((skew.var_s2 - 0.04 * var).abs() < 1e-4, "{skew:?}");
    }

    #[test]
    fn the_posterior_of_a_short_ramp_is_skewed_towards_shorter_ones() {
        let expected_s = Estimate::new(0.3, 0.2);
        let ramp = |fitted_s: f64| Ramp { fitted_s: Estimate::new(fitted_s, 0.08), expected_s, max_s: 9.0 };
        let skew = |fitted_s: f64| ramp(fitted_s).skew(-0.5, -0.5);
        // An instant before the middle is later for a shorter ramp, and the more so the shorter it is.
        assert!(skew(0.2).shift_s > skew(0.6).shift_s && skew(0.6).shift_s > 0.0);
    }
}
