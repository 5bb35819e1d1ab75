//! In: a series with its times and regressors. Out: least-squares effects whose intervals include correlation of
//! neighbours.
//!
//! The correlation falls as r^(gap/usual gap). Generalised least squares is done for each r of a grid, and averaged by
//! the restricted likelihood of r (Harville 1974, Biometrika 61, 383) and a prior: 17 in 20 for independence, the
//! rest even up to 0.95. For each r an effect has Student's t, so that the average is a mixture of these.

use crate::math::distribution::{root, student_half_width, student_outside};
use crate::math::robust::median;
use crate::math::solve::{cholesky, inverse, solve};

/// Fewest numbers of which a correlation is estimated; fewer are taken as independent.
const FEWEST: usize = 8;
const INDEPENDENT: f64 = 0.85;
/// Number of the correlations above 0, and the step between them.
const GRID: usize = 19;
const STEP: f64 = 0.05;

/// The fit for one correlation.
#[derive(Debug, Clone)]
struct Fit {
    correlation: f64,
    weight: f64,
    effects: Vec<f64>,
    sds: Vec<f64>,
}

/// The fits for all correlations.
#[derive(Debug, Clone)]
pub(crate) struct Serial {
    fits: Vec<Fit>,
    pub(crate) degrees: f64,
}

impl Serial {
    /// None if effects cannot be separated, no degree of freedom is left, or numbers are too large to square.
    pub(crate) fn fit(at: &[f64], y: &[f64], regressors: &[Vec<f64>]) -> Option<Self> {
        let (n, k) = (y.len(), regressors.len());
        let degrees = n as f64 - k as f64;
        if degrees < 1.0 {
            return None;
        }
        let mut gaps: Vec<f64> = at.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let usual = median(&mut gaps.clone());
        gaps.iter_mut().for_each(|gap| *gap /= usual);
        let most = if n < FEWEST { 0 } else { GRID };
        let mut found = Vec::new();
        for step in 0..=most {
            let r = STEP * step as f64;
            let prior = if step == 0 { INDEPENDENT } else { (1.0 - INDEPENDENT) / GRID as f64 };
            let (fit, log) = one(r, &gaps, y, regressors, degrees)?;
            // A perfect fit has an infinite likelihood for every r.
            if step == 0 && fit.sds.iter().all(|sd| *sd == 0.0) {
                return Some(Self { fits: vec![Fit { weight: 1.0, ..fit }], degrees });
            }
            found.push((fit, log + prior.ln()));
        }
        let highest = found.iter().map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = found.iter().map(|(_, log)| (log - highest).exp()).sum();
        let weighed = |(fit, log): (Fit, f64)| Fit { weight: (log - highest).exp() / total, ..fit };
        Some(Self { fits: found.into_iter().map(weighed).collect(), degrees })
    }

    /// Mean of the correlation of numbers at the usual gap.
    pub(crate) fn correlation(&self) -> f64 {
        self.fits.iter().map(|fit| fit.weight * fit.correlation).sum()
    }

    /// Mean and sd of an effect. Student's own tails are not in the sd.
    pub(crate) fn effect(&self, k: usize) -> [f64; 2] {
        let mean: f64 = self.fits.iter().map(|fit| fit.weight * fit.effects[k]).sum();
        let square = |fit: &Fit| fit.weight * ((fit.effects[k] - mean).powi(2) + fit.sds[k].powi(2));
        [mean, self.fits.iter().map(square).sum::<f64>().sqrt()]
    }

    /// Two-sided p of an effect of 0.
    pub(crate) fn p(&self, k: usize) -> f64 {
        let below = self.below(k, 0.0);
        2.0 * below.min(1.0 - below)
    }

    /// Interval of an effect.
    pub(crate) fn interval(&self, k: usize, level: f64) -> [f64; 2] {
        let [mean, sd] = self.effect(k);
        if sd == 0.0 {
            return [mean; 2];
        }
        let reach = sd * (2.0 + student_half_width(level, self.degrees)) * 4.0;
        let end = |share: f64| root(mean - reach, mean + reach, |x| self.below(k, x) < share);
        // A single fit in closed form, so that no digit is lost.
        if self.fits.len() == 1 {
            let half = student_half_width(level, self.degrees) * sd;
            return [mean - half, mean + half];
        }
        [end(0.5 * (1.0 - level)), end(0.5 * (1.0 + level))]
    }

    /// Probability of an effect below `x`.
    fn below(&self, k: usize, x: f64) -> f64 {
        let one = |fit: &Fit| {
            let t = (x - fit.effects[k]) / fit.sds[k];
            let tail = 0.5 * student_outside(t, self.degrees);
            fit.weight * if t < 0.0 { tail } else { 1.0 - tail }
        };
        self.fits.iter().map(one).sum()
    }
}

/// The fit for one correlation, and the logarithm of its restricted likelihood.
fn one(r: f64, gaps: &[f64], y: &[f64], regressors: &[Vec<f64>], degrees: f64) -> Option<(Fit, f64)> {
    let k = regressors.len();
    let keep: Vec<f64> = gaps.iter().map(|gap| if r > 0.0 { r.powf(*gap) } else { 0.0 }).collect();
    let scale: Vec<f64> = keep.iter().map(|a| (1.0 - a * a).sqrt()).collect();
    let white = |x: &[f64]| -> Vec<f64> {
        let rest = (1..x.len()).map(|i| (x[i] - keep[i - 1] * x[i - 1]) / scale[i - 1]);
        std::iter::once(x[0]).chain(rest).collect()
    };
    let columns: Vec<Vec<f64>> = regressors.iter().map(|x| white(x)).collect();
    let y = white(y);
    let dot = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
    let mut square: Vec<f64> = (0..k * k).map(|at| dot(&columns[at / k], &columns[at % k])).collect();
    let largest: Vec<f64> = (0..k).map(|i| square[i * k + i]).collect();
    if !cholesky(&mut square, k) || (0..k).any(|i| square[i * k + i].powi(2) <= 1e-10 * largest[i]) {
        return None;
    }
    let mut effects: Vec<f64> = columns.iter().map(|x| dot(x, &y)).collect();
    solve(&square, k, &mut effects);
    let fitted = |i: usize| (0..k).map(|j| effects[j] * columns[j][i]).sum::<f64>();
    let left: f64 = (0..y.len()).map(|i| (y[i] - fitted(i)).powi(2)).sum();
    let variance = left / degrees;
    let covariance = inverse(&square, k);
    let sds: Vec<f64> = (0..k).map(|i| (variance * covariance[i * k + i]).sqrt()).collect();
    if !sds.iter().chain(&effects).all(|x| x.is_finite()) {
        return None;
    }
    let of_scale: f64 = scale.iter().map(|s| s.ln()).sum();
    let of_square: f64 = (0..k).map(|i| square[i * k + i].ln()).sum();
    let log = -of_scale - of_square - 0.5 * degrees * left.ln();
    Some((Fit { correlation: r, weight: 0.0, effects, sds }, log))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::line::line;

    #[test]
    fn few_numbers_have_the_line_of_least_squares() {
        let (x, y) = ([0.0, 1.0, 3.0, 4.0, 6.0, 9.0], [0.41, 0.52, 0.49, 0.55, 0.61, 0.63]);
        let middle = x.iter().sum::<f64>() / 6.0;
        let regressors = [vec![1.0; 6], x.iter().map(|x| x - middle).collect()];
        let found = Serial::fit(&x, &y, &regressors).unwrap();
        let expected = line(&x, &y).unwrap();
        let [slope, sd] = found.effect(1);
        assert!((slope - expected.slope).abs() < 1e-14 && (sd - expected.slope_sd).abs() < 1e-14);
        assert_eq!(found.correlation(), 0.0);
        let [low, high] = found.interval(1, 0.95);
        // Student's t on four degrees: 2.776 (tables).
        assert!(((high - low) / sd / 2.0 - 2.776).abs() < 1e-3);
        assert!((found.p(1) - student_outside(slope / sd, 4.0)).abs() < 1e-12);
    }

    #[test]
    fn a_series_that_wanders_has_a_wider_interval() {
        let mut random = crate::math::random::Random::new(4);
        let (mut last, x): (f64, Vec<f64>) = (0.0, (0..60).map(f64::from).collect());
        let y: Vec<f64> = x
            .iter()
            .map(|_| {
                last = 0.8 * last + 0.6 * random.normal();
                last
            })
            .collect();
        let regressors = [vec![1.0; 60], x.iter().map(|x| x - 29.5).collect()];
        let found = Serial::fit(&x, &y, &regressors).unwrap();
        assert!(found.correlation() > 0.4, "{}", found.correlation());
        assert!(found.effect(1)[1] > 1.5 * line(&x, &y).unwrap().slope_sd);
        let [low, high] = found.interval(1, 0.9);
        assert!((found.below(1, low) - 0.05).abs() < 1e-9 && (found.below(1, high) - 0.95).abs() < 1e-9);
    }

    #[test]
    fn effects_that_cannot_be_separated_have_no_fit() {
        let x = [0.0, 1.0, 2.0, 3.0];
        assert!(Serial::fit(&x, &x, &[vec![1.0; 4], vec![2.0; 4]]).is_none());
        let exact = Serial::fit(&x, &[1.0, 3.0, 5.0, 7.0], &[vec![1.0; 4], x.to_vec()]).unwrap();
        assert!((exact.effect(1)[0] - 2.0).abs() < 1e-12);
    }
}
