//! In: readings at rest, one by one. Out: the sd of their noise, quantisation included, and how well it is known, in constant memory.
//!
//! From second differences, of which level and drift leave nothing and whose variance is six times that of a reading. Their mean square is
//! followed recursively with each square held to a bound (Huber's proposal 2 for a scale, in the recursive form of Robbins and Monro;
//! Huber and Ronchetti, Robust Statistics, 2nd ed. 2009, section 5.2; from memory), so that one wild reading moves it by one share. A
//! readout in steps hides small noise: the sd is never below step/sqrt(12) (JCGM 100:2008, 4.3.7), the step being the smallest move seen.

use std::f64::consts::PI;

/// A square counts for no more than this many times the variance.
const MOST: f64 = 6.25;
/// What the bound leaves of the mean square of a normal noise: `E min(z^2, c^2) = 2 Phi(c) - 1 - 2 c phi(c) + 2 c^2 (1 - Phi(c))`, c = 2.5.
const KEEPS: f64 = 0.977_56;
/// The estimate forgets what is longer ago than this many samples, so that a scale that grows unquiet is noticed.
const REMEMBERS: f64 = 300.0;
/// Second differences of neighbours share readings: so many degrees of freedom a difference (36/70: correlations -2/3 and 1/6).
const DEGREES_EACH: f64 = 36.0 / 70.0;
/// No reading is taken to be better than this, g.
const LEAST_G: f64 = 0.01;
/// A scale that is noisier than this, g, cannot show a pour; without a bound, senseless readings would give all later ones no weight.
const MOST_G: f64 = 5.0;
/// While fewer differences than this are seen, or none moves, the noise is taken to be a readout's step of 0.1 g (common practice, no source).
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
    step_g: f64,
}

impl Noise {
    pub(super) fn new(given_g: Option<f64>) -> Self {
        Self {
            given_g,
            last: [f64::NAN; 2],
            before_g: f64::NAN,
            variance_g2: 0.0,
            seen: 0.0,
            step_g: f64::INFINITY,
        }
    }

    /// Starts anew after a break of the readings; what is known of the noise stays.
    pub(super) fn broken(&mut self) {
        self.last = [f64::NAN; 2];
    }

    /// Takes in a reading of any kind, for the step of the readout.
    pub(super) fn step(&mut self, reading_g: f64) {
        let moved = (reading_g - self.before_g).abs();
        self.before_g = reading_g;
        // A move of less is the error of a float, not a step.
        if moved > 1e-7 * (1.0 + reading_g.abs()) && moved < self.step_g {
            self.step_g = moved;
        }
    }

    /// Takes in a reading at rest.
    pub(super) fn see(&mut self, reading_g: f64) {
        let [before, last] = self.last;
        let bend = reading_g - 2.0 * last + before;
        self.last = [last, reading_g];
        if bend.is_nan() {
            return;
        }
        self.seen = (self.seen + 1.0).min(REMEMBERS);
        let square = bend * bend / 6.0;
        let most = MOST * self.variance_g2.max(self.floor_g().powi(2));
        self.variance_g2 += (square.min(most) / KEEPS - self.variance_g2) / self.seen;
        self.variance_g2 = self.variance_g2.min(MOST_G * MOST_G);
    }

    /// Sd of a reading, g.
    pub(super) fn sd_g(&self) -> f64 {
        let found = self.variance_g2.sqrt().max(self.floor_g());
        self.given_g.unwrap_or(if self.seen < FEW { found.max(UNKNOWN_G) } else { found })
    }

    /// Degrees of freedom behind it; 0 while nothing is known.
    pub(super) fn degrees(&self) -> f64 {
        if self.given_g.is_some() { f64::INFINITY } else { self.seen * DEGREES_EACH }
    }

    /// What averaging cannot take out of a rounded reading, g2: the mean of a rounded noisy level is off by up to
    /// `step/pi exp(-2 pi^2 s^2/step^2)` (first harmonic; Widrow and Kollar, Quantization Noise, 2008; from memory).
    pub(super) fn rounding_var_g2(&self) -> f64 {
        let square = self.step_g * self.step_g;
        if !square.is_finite() {
            return 0.0;
        }
        let unrounded = (self.sd_g().powi(2) - square / 12.0).max(0.0);
        square / (2.0 * PI * PI) * (-4.0 * PI * PI * unrounded / square).exp()
    }

    fn floor_g(&self) -> f64 {
        if self.step_g.is_finite() { (self.step_g / 12f64.sqrt()).max(LEAST_G) } else { UNKNOWN_G }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::distribution::normal_below;
    use crate::math::random::Random;

    #[test]
    fn what_the_bound_keeps_is_what_its_formula_says() {
        let c = MOST.sqrt();
        let density = (-0.5 * c * c).exp() / (2.0 * PI).sqrt();
        let kept = 2.0 * normal_below(c) - 1.0 - 2.0 * c * density + 2.0 * c * c * normal_below(-c);
        assert!((kept - KEEPS).abs() < 1e-5, "{kept}");
    }

    #[test]
    fn the_noise_is_known_to_a_tenth_with_and_without_wild_readings_on_a_slope_or_not() {
        for (slope_g, wild) in [(0.0, 0), (0.02, 0), (0.0, 200)] {
            let (mut noise, mut random) = (Noise::new(None), Random::new(3));
            for i in 0..3000 {
                let off = if wild > 0 && i % wild == 0 { 30.0 } else { 0.0 };
                let reading_g = 0.2 * random.normal() + slope_g * f64::from(i) + off;
                noise.step(reading_g);
                noise.see(reading_g);
            }
            // One wild reading bends three differences, and 3 of 200 at 6.25 variances make the sd 5.6 % larger: by hand.
            assert!((0.9..1.1).contains(&(noise.sd_g() / 0.2)), "{} g, {slope_g} {wild}", noise.sd_g());
        }
    }

    #[test]
    fn a_coarse_readout_that_stands_still_is_no_better_than_its_step() {
        let mut noise = Noise::new(None);
        for reading_g in [0.0, 0.0, 1.0, 1.0].into_iter().chain([1.0; 400]) {
            noise.step(reading_g);
            noise.see(reading_g);
        }
        // Step over root twelve: JCGM 100:2008, 4.3.7. And the mean of it may be off by step/pi, as an sd by a root of two less.
        assert!((noise.sd_g() - 1.0 / 12f64.sqrt()).abs() < 1e-9);
        assert!((noise.rounding_var_g2().sqrt() - 1.0 / (PI * 2f64.sqrt())).abs() < 1e-9);
    }

    #[test]
    fn what_is_long_ago_is_forgotten_as_one_in_three_hundred_samples() {
        // Readings up and down by a: each bend is 4 a, its square over six 16 a^2/6.
        let (mut noise, of) = (Noise::new(None), |a: f64| 16.0 * a * a / 6.0 / KEEPS);
        let mut feed = |a: f64, n: usize| {
            for i in 0..n {
                noise.see(if i % 2 == 0 { a } else { -a });
            }
            noise.variance_g2
        };
        assert!((feed(0.1, 400) - of(0.1)).abs() < 1e-12);
        // Two bends join the one size to the other; then the difference shrinks by 299/300 each time.
        let start = feed(0.14, 2);
        let left = (299.0_f64 / 300.0).powi(300);
        assert!((feed(0.14, 300) - (of(0.14) + (start - of(0.14)) * left)).abs() < 1e-12);
    }

    #[test]
    fn a_first_wild_bend_counts_by_what_is_usual_and_no_noise_is_said_to_be_above_five_grams() {
        let mut noise = Noise::new(None);
        [0.0, 0.0, 30.0].into_iter().for_each(|g| noise.see(g));
        // 6.25 times 0.1^2 g2, over what such a bound keeps.
        assert!((noise.variance_g2 - 0.0625 / KEEPS).abs() < 1e-12, "{}", noise.variance_g2);
        (0..2000).for_each(|i| noise.see(if i % 2 == 0 { 400.0 } else { -400.0 }));
        assert_eq!(noise.sd_g(), 5.0);
        assert!((noise.degrees() - 300.0 * 36.0 / 70.0).abs() < 1e-12);
    }

    #[test]
    fn rounding_is_off_by_its_first_harmonic() {
        // s = step = 0.1 g: the noise before rounding has 0.01 (1 - 1/12) g2; 0.01/(2 pi^2) exp(-4 pi^2 x 11/12).
        let mut noise = Noise::new(Some(0.1));
        [0.0, 0.1].into_iter().for_each(|g| noise.step(g));
        let by_hand = 0.01 / (2.0 * PI * PI) * (-4.0 * PI * PI * 11.0 / 12.0).exp();
        assert!((noise.rounding_var_g2() / by_hand - 1.0).abs() < 1e-9, "{}", noise.rounding_var_g2());
        assert_eq!(Noise::new(Some(0.1)).rounding_var_g2(), 0.0, "without a step");
    }
}
