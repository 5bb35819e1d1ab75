//! In: curves on one grid, one per brew. Out: their mean, their sd, and the factor of the sd of the mean for a
//! simultaneous band.
//!
//! Method: sup-t. The largest |t| along a curve of n independent Gaussian brews exceeds u with a probability of at
//! most the expected Euler characteristic of the excursion set: 2 P(t > u) + (L/pi) (1 + u^2/(n - 1))^(1 - n/2), where
//! L is the path length of the standardised residuals along the axis (Worsley 1994, Adv. Appl. Probab. 26, 13; as a
//! band: Telschow and Schwartzman 2022, J. Stat. Plan. Inference 216, 70). It is valid for few brews, unlike a
//! bootstrap of the brews; Bonferroni's factor bounds it.

use crate::math::distribution::{student_half_width, student_outside};
use crate::study::profile::options::Align;

/// Brews aligned on landmarks agree at rest by construction, so the sd there is too small: this share of the usual sd
/// is a lower bound.
const LEAST_SHARE: f64 = 0.1;

#[derive(Debug)]
pub(super) struct Middle {
    pub(super) mean: Vec<f64>,
    /// Sd between the curves; 0 for a single one.
    pub(super) sd: Vec<f64>,
}

pub(super) fn middle(curves: &[Vec<f64>]) -> Middle {
    let (n, points) = (curves.len() as f64, curves.first().map_or(0, Vec::len));
    let mean: Vec<f64> = (0..points).map(|j| curves.iter().map(|c| c[j]).sum::<f64>() / n).collect();
    let variance =
        |j: usize| curves.iter().map(|c| (c[j] - mean[j]).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    let sd = (0..points).map(|j| variance(j).sqrt()).collect();
    Middle { mean, sd }
}

/// Factor of the band, and its half-width at each point.
pub(super) fn band(curves: &[Vec<f64>], middle: &Middle, align: Align, level: f64) -> (f64, Vec<f64>) {
    let (n, points) = (curves.len(), middle.sd.len());
    let least = match align {
        Align::Landmarks => {
            LEAST_SHARE * (middle.sd.iter().map(|s| s * s).sum::<f64>() / points.max(1) as f64).sqrt()
        }
        // At any instant another brew may pour or rest; the sd of brews that agree there does not include that.
        Align::Start => middle.mean.iter().copied().fold(0.0, f64::max) / (n as f64).sqrt(),
    };
    let scale: Vec<f64> = middle.sd.iter().map(|s| s.hypot(least)).collect();
    let residual = |curve: &[f64], j: usize| {
        if scale[j] > 0.0 { (curve[j] - middle.mean[j]) / scale[j] } else { 0.0 }
    };
    let step = |j: usize| {
        let square = |c: &Vec<f64>| (residual(c, j) - residual(c, j - 1)).powi(2);
        (curves.iter().map(square).sum::<f64>() / (n - 1) as f64).sqrt()
    };
    let length: f64 = (1..points).map(step).sum();
    let factor = critical(length, points, (n - 1) as f64, level);
    (factor, scale.iter().map(|s| factor * s / (n as f64).sqrt()).collect())
}

/// The |t| that a curve of that path length exceeds with probability 1 - level.
fn critical(length: f64, points: usize, degrees: f64, level: f64) -> f64 {
    let miss = 1.0 - level;
    // Bonferroni's factor bounds the search.
    let one_by_one = student_half_width(1.0 - miss / points.max(1) as f64, degrees);
    let passed = |u: f64| {
        let way = length / std::f64::consts::PI * (1.0 + u * u / degrees).powf(0.5 * (1.0 - degrees));
        student_outside(u, degrees) + way
    };
    let (mut low, mut high) = (0.0, one_by_one);
    loop {
        let u = 0.5 * (low + high);
        if u <= low || u >= high {
            return high;
        }
        if passed(u) > miss {
            low = u;
        } else {
            high = u;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use std::f64::consts::{PI, TAU};

    /// Smooth random curves around a mean of 0: waves up to a highest number, Gaussian, larger in the middle of the
    /// axis than at its ends.
    fn curves(random: &mut Random, n: usize, waves: usize, points: usize) -> Vec<Vec<f64>> {
        let mut one = || {
            let level = random.normal();
            let both: Vec<(f64, f64)> = (0..waves).map(|_| (random.normal(), random.normal())).collect();
            let at = |x: f64| {
                let sum: f64 = both
                    .iter()
                    .enumerate()
                    .map(|(k, (a, b))| {
                        (TAU * (k as f64 + 0.7) * x).sin() * a + (TAU * (k as f64 + 0.7) * x).cos() * b
                    })
                    .sum();
                (level + sum) * (1.0 + 2.0 * x * (1.0 - x))
            };
            (0..points).map(|j| at(j as f64 / (points - 1) as f64)).collect()
        };
        (0..n).map(|_| one()).collect()
    }

    fn coverage(n: usize, waves: usize, groups: usize) -> f64 {
        let mut random = Random::stream(n as u64, "coverage");
        let mut held = 0;
        for _ in 0..groups {
            let curves = curves(&mut random, n, waves, 40 * waves + 60);
            let middle = middle(&curves);
            let (_, half) = band(&curves, &middle, Align::Landmarks, 0.95);
            held += usize::from(middle.mean.iter().zip(&half).all(|(mean, half)| mean.abs() <= *half));
        }
        held as f64 / groups as f64
    }

    #[test]
    fn the_band_has_simultaneous_coverage_for_six_to_twelve_brews() {
        let (mut sum, mut count) = (0.0, 0.0);
        for waves in [0, 1, 3, 8] {
            for n in [6, 8, 12] {
                let found = coverage(n, waves, 400);
                println!("{n} brews, {waves} waves: {found:.4}");
                // The sd of 400 groups is 1.1 %.
                assert!((0.92..=0.98).contains(&found), "{n} brews, {waves} waves: {found:.4}");
                (sum, count) = (sum + found, count + 1.0);
            }
        }
        let mean = sum / count;
        println!("all: {mean:.4}");
        assert!((0.94..=0.965).contains(&mean), "{mean:.4}");
    }

    #[test]
    fn a_curve_that_turns_half_around_has_the_quantile_of_hotelling() {
        // The largest |t| of a cos x + b sin x over half a turn is the root of Hotelling's T2 of (a, b), and (n -
        // 2)/(2 (n - 1)) T2 has the F distribution with 2 and n - 2 degrees. F .95: NIST/SEMATECH e-Handbook,
        // 1.3.6.7.3, from memory. A closed path has no ends: their term, 2 P(t > u), is subtracted here.
        for (n, f) in [(6.0_f64, 6.944), (8.0, 5.143), (12.0, 4.103)] {
            let u = (2.0 * (n - 1.0) / (n - 2.0) * f).sqrt();
            let ends = student_outside(u, n - 1.0);
            let found = critical(PI, 1_000_000, n - 1.0, 0.95 - ends);
            assert!((found / u - 1.0).abs() < 2e-4, "{n} brews: {found} for {u}");
        }
    }

    #[test]
    fn a_curve_that_only_moves_up_and_down_needs_student_alone() {
        // t .975 with 7 degrees: 2.365, NIST/SEMATECH e-Handbook, 1.3.6.7.2, from memory.
        assert!((critical(0.0, 500, 7.0, 0.95) - 2.365).abs() < 5e-4);
    }

    #[test]
    fn bonferroni_bounds_the_factor() {
        let one_by_one = student_half_width(0.995, 7.0);
        assert!((critical(1e9, 10, 7.0, 0.95) / one_by_one - 1.0).abs() < 1e-12);
    }

    #[test]
    fn brews_that_agree_at_rest_and_differ_elsewhere_have_a_finite_band() {
        let curves = [[0.0, 5.0, 0.0], [0.0, 6.0, 0.0], [0.0, 7.0, 0.0], [0.0, 6.0, 0.0]].map(Vec::from);
        let middle = middle(&curves);
        let (_, half) = band(&curves, &middle, Align::Landmarks, 0.95);
        assert!(half.iter().all(|h| h.is_finite() && *h > 0.0), "{half:?}");
        let same = vec![vec![1.0, 2.0]; 4];
        assert_eq!(band(&same, &super::middle(&same), Align::Landmarks, 0.95).1, [0.0, 0.0]);
    }

    #[test]
    fn mean_sd_and_the_length_of_a_band_are_those_of_arithmetic() {
        let curves = [vec![1.0, 2.0, 2.0], vec![2.0, 2.0, 3.0], vec![3.0, 2.0, 4.0]];
        let middle = middle(&curves);
        assert_eq!((middle.mean.clone(), middle.sd.clone()), (vec![2.0, 2.0, 3.0], vec![1.0, 0.0, 1.0]));
        let (factor, half) = band(&curves, &middle, Align::Landmarks, 0.95);
        // The root mean square of the sd is sqrt(2/3); residuals -1, 0, 1 over their scale go to 0 in the middle and
        // return: two steps of 1/scale each, over two degrees.
        let scale = 1.0_f64.hypot(LEAST_SHARE * (2.0_f64 / 3.0).sqrt());
        assert!((factor - critical(2.0 / scale, 3, 2.0, 0.95)).abs() < 1e-12, "{factor}");
        assert!((half[0] - factor * scale / 3.0_f64.sqrt()).abs() < 1e-12);
        assert!((half[1] - factor * LEAST_SHARE * (2.0_f64 / 9.0).sqrt()).abs() < 1e-12);
        // On the time axis, the mean's largest value over the root of the number replaces the sd of brews that agree.
        let (factor, half) = band(&curves, &middle, Align::Start, 0.95);
        let scale = 1.0_f64.hypot(3.0 / 3.0_f64.sqrt());
        assert!((half[0] - factor * scale / 3.0_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn curves_that_are_all_the_same_have_the_factor_of_a_single_point() {
        let curves = vec![vec![1.0, 5.0, 2.0]; 3];
        let (factor, half) = band(&curves, &middle(&curves), Align::Landmarks, 0.95);
        // Student's t on two degrees, 4.3027 (tables).
        assert!((factor - 4.302_65).abs() < 1e-4, "{factor}");
        assert_eq!(half, [0.0; 3]);
    }
}
