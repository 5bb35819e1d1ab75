//! In: a fitted ramp, and how long it was expected to be. Out: how far the mean of an instant read off it is from the fit, and how much more that instant varies.
//!
//! A scale tells how long a short ramp lasts by how far it spreads the water in time, which goes with the square of its length: the shorter it is, the
//! less is told of it, so it may well be much shorter than the likeliest and not as much longer. Read off the likeliest alone, starts come too early and ends too
//! late. Method: a likelihood normal in the square of the length, with the information that the fit found, times the normal expectation of the
//! length, summed over a grid.

use crate::estimate::Estimate;
use crate::model::burst::MIN_RAMP_S;

/// A ramp, s: as fitted, with the sd that the fit gives it, and as it was expected.
pub(super) struct Ramp {
    pub found_s: Estimate,
    pub expected_s: Estimate,
    /// It is over before the other edge of its burst begins.
    pub most_s: f64,
}

/// What a normal law around the fit leaves out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Skew {
    /// To be added to an instant, s.
    pub shift_s: f64,
    /// To be added to its variance, s2; below zero where it varies less.
    pub var_s2: f64,
}

impl Ramp {
    /// Of an instant that moves by `along` times the ramp, what the fit lets go with the ramp included; by `own` times it where nothing else moves.
    pub(super) fn skew(&self, own: f64, along: f64) -> Skew {
        const POINTS: usize = 64;
        /// How far the grid reaches on either side, in sd.
        const REACH: f64 = 5.0;
        let (Estimate { value: found_s, sd: sd_s }, expected_s) = (self.found_s, self.expected_s);
        let expected = expected_s.sd.powi(-2);
        let told = (sd_s.powi(-2) - expected).max(0.0);
        // At the fit the log's pull holds against the expectation's.
        let pull = (found_s - expected_s.value) * expected;
        let from_s = (found_s - REACH * sd_s).max(MIN_RAMP_S);
        let to_s = (found_s + REACH * sd_s).min(self.most_s.max(found_s));
        let (mut sum, mut mean_s, mut square_s2) = (0.0, 0.0, 0.0);
        for k in 0..POINTS {
            let ramp_s = from_s + (to_s - from_s) * (k as f64 + 0.5) / POINTS as f64;
            let longer_s = ramp_s - found_s;
            // The square of the length, in the scale that the length has at the fit.
            let spread_s = (ramp_s * ramp_s - found_s * found_s) / (2.0 * found_s);
            let log = pull * (spread_s - longer_s)
                - (told * spread_s * spread_s + expected * longer_s * longer_s) / 2.0;
            let weight = log.exp();
            // What goes with the ramp makes up for its spread.
            let moved_s = own * longer_s + (along - own) * spread_s;
            sum += weight;
            mean_s += weight * moved_s;
            square_s2 += weight * moved_s * moved_s;
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
    fn a_ramp_that_is_well_seen_is_a_little_shorter() {
        let ramp =
            Ramp { found_s: Estimate::new(1.0, 0.02), expected_s: Estimate::new(1.0, 1e3), most_s: 9.0 };
        // By hand: -t (d + d2/2f)2 / 2 has the third derivative -3t/f, so the mean is off by half of it over t2 (Laplace's expansion, to the next order); that
        // of what goes with the square, by sd2/2f more.
        let (own, along) = (ramp.skew(1.0, 1.0), ramp.skew(0.0, 1.0));
        assert!((own.shift_s / (-1.5 * 4e-4) - 1.0).abs() < 0.01, "{own:?}");
        assert!((along.shift_s / -4e-4 - 1.0).abs() < 0.01, "{along:?}");
        assert!(own.var_s2.abs() < 0.01 * 4e-4 && along.var_s2.abs() < 0.01 * 4e-4);
    }

    #[test]
    fn a_ramp_that_nothing_tells_of_is_as_expected_and_not_below_the_least() {
        let expected_s = Estimate::new(0.35, 0.2);
        let skew = Ramp { found_s: expected_s, expected_s, most_s: 9.0 }.skew(1.0, 1.0);
        // Mean and variance of a normal law cut off below (Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 1, 13.10.1; from memory).
        let normal = Normal::new(0.0, 1.0).unwrap();
        let least = (MIN_RAMP_S - 0.35) / 0.2;
        let mean = normal.pdf(least) / (1.0 - normal.cdf(least));
        let var = least * mean - mean * mean;
        assert!((skew.shift_s - 0.2 * mean).abs() < 1e-4, "{skew:?}");
        assert!((skew.var_s2 - 0.04 * var).abs() < 1e-4, "{skew:?}");
    }

    #[test]
    fn a_short_ramp_seen_by_few_samples_is_rather_shorter_than_longer() {
        let expected_s = Estimate::new(0.3, 0.2);
        let ramp = |found_s: f64| Ramp { found_s: Estimate::new(found_s, 0.08), expected_s, most_s: 9.0 };
        let skew = |found_s: f64| ramp(found_s).skew(-0.5, -0.5);
        // An instant before the middle comes later where the ramp is shorter, the more so the shorter it is.
        assert!(skew(0.2).shift_s > skew(0.6).shift_s && skew(0.6).shift_s > 0.0);
    }
}
