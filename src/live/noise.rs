//! In: readings at rest, one by one. Out: the sd of their noise, quantisation included, and its degrees of freedom,
//! in constant memory.
//!
//! The estimate uses second differences: level and drift cancel, and their variance is six times that of a reading.
//! Their mean square is updated recursively with each square bounded (after Huber's proposal 2 for a scale, Annals of
//! Mathematical Statistics 35, 1964, 73-101), so that the effect of one outlier is bounded. A coarse readout hides
//! small noise: the sd is never below resolution/sqrt(12) (JCGM 100:2008, 4.3.7), the resolution being the smallest
//! observed move.

use std::f64::consts::PI;

/// A square counts for no more than this many times the variance.
const MOST: f64 = 6.25;
/// Consistency factor of the bounded mean square under normal noise: `E min(z^2, c^2) = 2 Phi(c) - 1 - 2 c phi(c) + 2
/// c^2 (1 - Phi(c))`, c = 2.5.
const CONSISTENCY: f64 = 0.977_56;
/// Memory of the estimate in samples, so that it follows a change of the noise.
const MEMORY_SAMPLES: f64 = 300.0;
/// Degrees of freedom per second difference; neighbours share readings (36/70: correlations -2/3 and 1/6).
const DEGREES_PER_DIFFERENCE: f64 = 36.0 / 70.0;
/// Lower bound of the sd of a reading, g.
const LEAST_G: f64 = 0.01;
/// Upper bound of the sd, g: noisier readings are not informative about a pour. Without it, one stretch of invalid
/// readings would remove the weight of all later ones.
const MOST_G: f64 = 5.0;
/// With fewer differences than this, or without any move, the noise is taken as a resolution of 0.1 g (common
/// practice, no source).
const FEW: f64 = 8.0;
const UNKNOWN_G: f64 = 0.1;

/// The noise at rest.
#[derive(Debug, Clone)]
pub(super) struct Noise {
    given_g: Option<f64>,
    /// The two readings before.
    last: [f64; 2],
    before_g: f64,
    variance_g2: f64,
    seen: f64,
    resolution_g: f64,
}

impl Noise {
    pub(super) fn new(given_g: Option<f64>) -> Self {
        Self {
            given_g,
            last: [f64::NAN; 2],
            before_g: f64::NAN,
            variance_g2: 0.0,
            seen: 0.0,
            resolution_g: f64::INFINITY,
        }
    }

    /// Restarts the differences after a break of the readings; the estimate of the noise remains.
    pub(super) fn restart(&mut self) {
        self.last = [f64::NAN; 2];
    }

    /// Updates the resolution of the readout with any reading.
    pub(super) fn update_resolution(&mut self, reading_g: f64) {
        let moved = (reading_g - self.before_g).abs();
        self.before_g = reading_g;
        // A smaller move is a float error.
        if moved > 1e-7 * (1.0 + reading_g.abs()) && moved < self.resolution_g {
            self.resolution_g = moved;
        }
    }

    /// Updates the noise with a reading at rest.
    pub(super) fn update(&mut self, reading_g: f64) {
        let [before, last] = self.last;
        let second_difference = reading_g - 2.0 * last + before;
        self.last = [last, reading_g];
        if second_difference.is_nan() {
            return;
        }
        self.seen = (self.seen + 1.0).min(MEMORY_SAMPLES);
        let square = second_difference * second_difference / 6.0;
        let most = MOST * self.variance_g2.max(self.floor_g().powi(2));
        self.variance_g2 += (square.min(most) / CONSISTENCY - self.variance_g2) / self.seen;
        self.variance_g2 = self.variance_g2.min(MOST_G * MOST_G);
    }

    /// Sd of a reading, g.
    pub(super) fn sd_g(&self) -> f64 {
        let found = self.variance_g2.sqrt().max(self.floor_g());
        self.given_g.unwrap_or(if self.seen < FEW { found.max(UNKNOWN_G) } else { found })
    }

    /// Degrees of freedom of the sd; 0 before the first difference.
    pub(super) fn degrees(&self) -> f64 {
        if self.given_g.is_some() { f64::INFINITY } else { self.seen * DEGREES_PER_DIFFERENCE }
    }

    /// Variance that averaging does not remove from a rounded reading, g2. The mean of a rounded noisy level is
    /// biased by up to `q/pi exp(-2 pi^2 s^2/q^2)` for the resolution q (first harmonic of the rounding error).
    pub(super) fn rounding_var_g2(&self) -> f64 {
        let square = self.resolution_g * self.resolution_g;
        if !square.is_finite() {
            return 0.0;
        }
        let unrounded = (self.sd_g().powi(2) - square / 12.0).max(0.0);
        square / (2.0 * PI * PI) * (-4.0 * PI * PI * unrounded / square).exp()
    }

    fn floor_g(&self) -> f64 {
        if self.resolution_g.is_finite() {
            (self.resolution_g / 12f64.sqrt()).max(LEAST_G)
        } else {
            UNKNOWN_G
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::distribution::normal_below;
    use crate::math::random::Random;

    #[test]
    fn the_consistency_factor_follows_its_formula() {
        let c = MOST.sqrt();
        let density = (-0.5 * c * c).exp() / (2.0 * PI).sqrt();
        let factor = 2.0 * normal_below(c) - 1.0 - 2.0 * c * density + 2.0 * c * c * normal_below(-c);
        assert!((factor - CONSISTENCY).abs() < 1e-5, "{factor}");
    }

    #[test]
    fn the_sd_of_the_noise_is_right_to_a_tenth_with_or_without_outliers_and_slope() {
        for (slope_g, outlier_every) in [(0.0, 0), (0.02, 0), (0.0, 200)] {
            let (mut noise, mut random) = (Noise::new(None), Random::new(3));
            for i in 0..3000 {
                let off = if outlier_every > 0 && i % outlier_every == 0 { 30.0 } else { 0.0 };
                let reading_g = 0.2 * random.normal() + slope_g * f64::from(i) + off;
                noise.update_resolution(reading_g);
                noise.update(reading_g);
            }
            // One outlier enters three differences; 3 of 200 at 6.25 variances make the sd 5.6 % larger, by hand.
            assert!(
                (0.9..1.1).contains(&(noise.sd_g() / 0.2)),
                "{} g, {slope_g} {outlier_every}",
                noise.sd_g()
            );
        }
    }

    #[test]
    fn the_sd_of_a_constant_coarse_readout_is_its_quantisation() {
        let mut noise = Noise::new(None);
        for reading_g in [0.0, 0.0, 1.0, 1.0].into_iter().chain([1.0; 400]) {
            noise.update_resolution(reading_g);
            noise.update(reading_g);
        }
        // Resolution over root twelve: JCGM 100:2008, 4.3.7. The bias of the mean is up to resolution/pi; as an sd,
        // less by a root of two.
        assert!((noise.sd_g() - 1.0 / 12f64.sqrt()).abs() < 1e-9);
        assert!((noise.rounding_var_g2().sqrt() - 1.0 / (PI * 2f64.sqrt())).abs() < 1e-9);
    }

    #[test]
    fn the_memory_decays_by_one_in_three_hundred_per_sample() {
        // Readings alternate by a: each second difference is 4 a, its square over six 16 a^2/6.
        let (mut noise, of) = (Noise::new(None), |a: f64| 16.0 * a * a / 6.0 / CONSISTENCY);
        let mut feed = |a: f64, n: usize| {
            for i in 0..n {
                noise.update(if i % 2 == 0 { a } else { -a });
            }
            noise.variance_g2
        };
        assert!((feed(0.1, 400) - of(0.1)).abs() < 1e-12);
        // Two differences span both sizes; then the deviation shrinks by 299/300 each time.
        let start = feed(0.14, 2);
        let left = (299.0_f64 / 300.0).powi(300);
        assert!((feed(0.14, 300) - (of(0.14) + (start - of(0.14)) * left)).abs() < 1e-12);
    }

    #[test]
    fn a_first_outlier_is_bounded_by_the_default_noise_and_the_sd_by_five_grams() {
        let mut noise = Noise::new(None);
        [0.0, 0.0, 30.0].into_iter().for_each(|g| noise.update(g));
        // 6.25 times 0.1^2 g2, over the consistency factor.
        assert!((noise.variance_g2 - 0.0625 / CONSISTENCY).abs() < 1e-12, "{}", noise.variance_g2);
        (0..2000).for_each(|i| noise.update(if i % 2 == 0 { 400.0 } else { -400.0 }));
        assert_eq!(noise.sd_g(), 5.0);
        assert!((noise.degrees() - 300.0 * 36.0 / 70.0).abs() < 1e-12);
    }

    #[test]
    fn the_rounding_bias_is_its_first_harmonic() {
        // s = resolution = 0.1 g: the noise before rounding has 0.01 (1 - 1/12) g2; 0.01/(2 pi^2) exp(-4 pi^2 x 11/12).
        let mut noise = Noise::new(Some(0.1));
        [0.0, 0.1].into_iter().for_each(|g| noise.update_resolution(g));
        let by_hand = 0.01 / (2.0 * PI * PI) * (-4.0 * PI * PI * 11.0 / 12.0).exp();
        assert!((noise.rounding_var_g2() / by_hand - 1.0).abs() < 1e-9, "{}", noise.rounding_var_g2());
        assert_eq!(Noise::new(Some(0.1)).rounding_var_g2(), 0.0, "without a resolution");
    }
}
