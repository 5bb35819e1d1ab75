//! In: readings of the beverage while nothing is poured. Out: the fitted drainage with its covariance.
//!
//! Method: least squares by Levenberg and Marquardt on the lagged readings, with a normal prior. The covariance is
//! inflated if the residuals exceed the noise or are autocorrelated, and includes the random walk of the zero.

use crate::bed::law::{ALL, Drain, EXPONENT, Matrix, N, Prior, Vector, dot, times};
use crate::math::solve::{cholesky, inverse, solve};

/// Bounds of the exponent: 0 is a flow that does not depend on the standing water.
const BOUNDS: (f64, f64) = (0.0, 2.0);
/// Residuals are taken to be correlated within this time, s.
const RELATED_S: f64 = 1.0;

/// Readings while the bed drains.
#[derive(Debug, Clone, Default)]
pub(super) struct Readings {
    pub time_s: Vec<f64>,
    pub mass_g: Vec<f64>,
    pub noise_sd_g: f64,
    pub lag_s: f64,
    /// Random walk of the zero, g per root s.
    pub zero_g: f64,
}

/// Fits a drainage from a start of the parameters; none if the readings and the prior do not identify it.
pub(super) fn fit(x: &Readings, from_s: f64, start: Vector, prior: Prior) -> Option<Drain> {
    let to_s = *x.time_s.last()?;
    let degrees = x.time_s.len() as f64 - N as f64;
    let mut drain = Drain {
        from_s,
        to_s,
        parameters: start,
        covariance: [[0.0; N]; N],
        prior,
        deviance: 0.0,
        degrees,
        // A random walk about its own mean has a sixth of its variance from end to end.
        expected: degrees
            * (1.0 + x.zero_g * x.zero_g * (to_s - from_s) / (6.0 * x.noise_sd_g * x.noise_sd_g)),
        inflation: 1.0,
    };
    let mut best = Normal::at(&drain, x);
    let mut damp = 1e-3;
    for _ in 0..60 {
        let mut trial = drain;
        let step = best.step(damp)?;
        trial.parameters[ALL] += step[ALL];
        // A step of a logarithm by more than 1 leaves the region in which the linearisation holds.
        (1..N).for_each(|k| trial.parameters[k] += step[k].clamp(-1.0, 1.0));
        trial.parameters[EXPONENT] = trial.parameters[EXPONENT].clamp(BOUNDS.0, BOUNDS.1);
        let found = Normal::at(&trial, x);
        if found.total <= best.total {
            let settled = best.total - found.total < 1e-9 * (1.0 + best.total);
            (drain, best, damp) = (trial, found, damp * 0.3);
            if settled {
                break;
            }
        } else {
            damp *= 5.0;
            if damp > 1e12 {
                break;
            }
        }
    }
    let mut a = best.packed(0.0);
    let solvable = degrees > 0.0 && best.total.is_finite() && cholesky(&mut a, N);
    drain.deviance = best.deviance;
    drain.inflation = best.inflation(degrees);
    let inverse = inverse(&a, N);
    let row = |i: usize| -> Vector { std::array::from_fn(|j| inverse[i * N + j]) };
    let zero = disturbance(&drain, x);
    drain.covariance = std::array::from_fn(|i| {
        let moved = times(&zero, &row(i));
        std::array::from_fn(|j| row(i)[j] * drain.inflation + dot(&moved, &row(j)))
    });
    solvable.then_some(drain)
}

/// Covariance that the random walk of the zero adds to the right side of the normal equations: an increment moves all
/// later readings.
fn disturbance(drain: &Drain, x: &Readings) -> Matrix {
    let weight = 1.0 / (x.noise_sd_g * x.noise_sd_g);
    let (mut later, mut sum) = ([0.0; N], [[0.0; N]; N]);
    for (k, &t) in x.time_s.iter().enumerate().rev() {
        let (_, by) = drain.reading(t, x.lag_s);
        (0..N).for_each(|i| later[i] += by[i] * weight);
        let since_s = t - if k > 0 { x.time_s[k - 1] } else { t };
        for i in 0..N {
            (0..N).for_each(|j| sum[i][j] += x.zero_g * x.zero_g * since_s * later[i] * later[j]);
        }
    }
    sum
}

/// Normal equations at one point.
struct Normal {
    a: Matrix,
    gradient: Vector,
    /// Of the readings alone, and with the prior.
    deviance: f64,
    total: f64,
    /// Sum over blocks of correlated residuals of their squared sum over its variance, and the number of blocks.
    correlated: (f64, f64),
}

impl Normal {
    fn at(drain: &Drain, x: &Readings) -> Self {
        let weight = 1.0 / (x.noise_sd_g * x.noise_sd_g);
        let mut n =
            Self { a: [[0.0; N]; N], gradient: [0.0; N], deviance: 0.0, total: 0.0, correlated: (0.0, 0.0) };
        let (mut block, mut sum, mut count) = (0.0, 0.0, 0.0);
        for (&t, &y) in x.time_s.iter().zip(&x.mass_g) {
            let (value, by) = drain.reading(t, x.lag_s);
            let off = y - value;
            n.deviance += off * off * weight;
            for i in 0..N {
                n.gradient[i] += by[i] * off * weight;
                for j in 0..N {
                    n.a[i][j] += by[i] * by[j] * weight;
                }
            }
            let this = ((t - drain.from_s) / RELATED_S).floor();
            if this != block && count > 0.0 {
                n.correlated = (n.correlated.0 + sum * sum * weight / count, n.correlated.1 + 1.0);
                (sum, count) = (0.0, 0.0);
            }
            (block, sum, count) = (this, sum + off, count + 1.0);
        }
        let off: Vector = std::array::from_fn(|k| drain.prior.mean[k] - drain.parameters[k]);
        let gradient = times(&drain.prior.information, &off);
        n.total = n.deviance + dot(&off, &gradient);
        n.gradient.iter_mut().zip(gradient).for_each(|(n, p)| *n += p);
        n.a.iter_mut().flatten().zip(drain.prior.information.iter().flatten()).for_each(|(n, p)| *n += p);
        n
    }

    /// The larger of the inflations by single and by correlated residuals; noise alone gives 1.
    fn inflation(&self, degrees: f64) -> f64 {
        let (sum, blocks) = self.correlated;
        let correlated = if blocks >= 8.0 { sum / (blocks - N as f64) } else { 1.0 };
        (self.deviance / degrees.max(1.0)).max(correlated).max(1.0)
    }

    fn packed(&self, damp: f64) -> Vec<f64> {
        let at = |k: usize| self.a[k / N][k % N] * if k / N == k % N { 1.0 + damp } else { 1.0 };
        (0..N * N).map(at).collect()
    }

    fn step(&self, damp: f64) -> Option<Vector> {
        let mut a = self.packed(damp);
        if !cholesky(&mut a, N) {
            return None;
        }
        let mut step = self.gradient;
        solve(&a, N, &mut step);
        Some(step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::math::random::Random;

    const TRUE: Vector = [120.0, 3.7, -1.9, 0.5];

    fn drain() -> Drain {
        Drain {
            from_s: 40.0,
            to_s: 70.0,
            parameters: TRUE,
            covariance: [[0.0; N]; N],
            prior: Prior::open(),
            deviance: 0.0,
            degrees: 1.0,
            expected: 1.0,
            inflation: 1.0,
        }
    }

    /// Thirty seconds at ten readings per second, noise 0.1 g, a random walk of the zero.
    fn readings(zero_g: f64, seed: u64) -> Readings {
        let mut random = Random::new(seed);
        let time_s: Vec<f64> = (0..300).map(|i| 41.0 + 0.1 * f64::from(i)).collect();
        let mut zero = 0.0;
        let mut reading = |t: &f64| {
            zero += zero_g * 0.1_f64.sqrt() * random.normal();
            drain().reading(*t, 0.2).0 + zero + 0.1 * random.normal()
        };
        let mass_g = time_s.iter().map(&mut reading).collect();
        Readings { time_s, mass_g, noise_sd_g: 0.1, lag_s: 0.2, zero_g }
    }

    #[test]
    fn the_covariance_is_that_of_the_errors_with_and_without_a_walk_of_the_zero() {
        for zero_g in [0.0, 0.03] {
            let (mut square, mut deviance, n) = ([0.0; N], 0.0, 60);
            for seed in 0..n {
                let found = fit(&readings(zero_g, seed), 40.0, TRUE, Prior::open()).unwrap();
                for k in 0..N {
                    let z = (found.parameters[k] - TRUE[k]) / found.covariance[k][k].sqrt();
                    square[k] += z * z / n as f64;
                }
                deviance += found.deviance / found.expected / n as f64;
            }
            // The sd of a mean square of 60 values is 0.18; inflation by chance widens the sd a little more.
            assert!(square.iter().all(|s| (0.35..1.5).contains(s)), "{zero_g}: {square:?}");
            // Four parameters absorb more of a walk than its mean alone.
            let least = if zero_g > 0.0 { 0.5 } else { 0.9 };
            assert!((least..1.1).contains(&deviance), "{zero_g}: {deviance}");
        }
    }

    #[test]
    fn a_walk_of_the_zero_adds_a_sixth_of_its_end_to_end_variance_to_the_deviance() {
        let found = fit(&readings(0.03, 1), 40.0, TRUE, Prior::open()).unwrap();
        assert_eq!(found.degrees, 296.0);
        // From 40 to 70.9 s: 0.0009 x 30.9/(6 x 0.01).
        assert!((found.expected / 296.0 - (1.0 + 0.0009 * 30.9 / 0.06)).abs() < 1e-9, "{}", found.expected);
    }

    #[test]
    fn correlated_residuals_widen_the_sd_and_few_blocks_do_not() {
        let of = |deviance: f64, correlated: (f64, f64)| {
            Normal { a: [[0.0; N]; N], gradient: [0.0; N], deviance, total: deviance, correlated }
                .inflation(100.0)
        };
        // 24 over 10 blocks less four parameters; 250 over 100 degrees.
        assert_eq!(of(100.0, (24.0, 10.0)), 4.0);
        assert_eq!(of(250.0, (9.0, 10.0)), 2.5);
        assert_eq!(of(50.0, (24.0, 7.0)), 1.0);
    }

    #[test]
    fn the_sums_of_a_block_and_of_the_prior_are_those_of_arithmetic() {
        // Off by 0.3 g in the first half of each second and by -0.1 g in the second: five of each add up to 1 g,
        // squared over 5 + 5 times 0.01 g2.
        let time_s: Vec<f64> = (0..30).map(|i| 40.05 + 0.1 * f64::from(i)).collect();
        let off = |i: usize| if i % 10 < 5 { 0.3 } else { -0.1 };
        let mass_g = time_s.iter().enumerate().map(|(i, t)| drain().reading(*t, 0.2).0 + off(i)).collect();
        let x = Readings { time_s, mass_g, noise_sd_g: 0.1, lag_s: 0.2, zero_g: 0.0 };
        let normal = Normal::at(&drain(), &x);
        // Three blocks, of which the last is not closed.
        assert_eq!(normal.correlated.1, 2.0);
        assert!((normal.correlated.0 - 2.0 * 10.0).abs() < 1e-6, "{}", normal.correlated.0);
        assert!((normal.deviance - 15.0 * (9.0 + 1.0)).abs() < 1e-6, "{}", normal.deviance);
        // A prior of 0.8 +- 0.1 for an exponent of 0.5 adds (0.3/0.1)^2 to the total and 100 to its information.
        let known = Drain { prior: Prior::exponent(0.8, 0.1), ..drain() };
        let with = Normal::at(&known, &x);
        let without = Normal::at(&Drain { prior: Prior::exponent(0.5, 1e9), ..drain() }, &x);
        assert!((with.total - without.total - 9.0).abs() < 1e-6);
        assert!((with.a[EXPONENT][EXPONENT] - without.a[EXPONENT][EXPONENT] - 100.0).abs() < 1e-6);
        assert!((with.gradient[EXPONENT] - without.gradient[EXPONENT] - 30.0).abs() < 1e-6);
    }
}
