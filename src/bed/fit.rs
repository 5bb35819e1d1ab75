//! In: readings of the beverage while nothing is poured. Out: the drainage that explains them best, with its covariance.
//!
//! Method: least squares by Levenberg and Marquardt on the readings as the scale's lag shows them, with what is known beforehand as a
//! normal prior. The covariance is wider where the residuals are larger than the noise or hang together, and knows that the zero wanders.

use crate::bed::law::{ALL, Drain, EXPONENT, Matrix, N, Prior, Vector, dot, times};
use crate::math::solve::{cholesky, inverse, solve};

/// Bounds of the exponent: 0 is a flow that does not depend on what stands in the bed.
const BOUNDS: (f64, f64) = (0.0, 2.0);
/// Residuals are taken to be related within this time, s.
const RELATED_S: f64 = 1.0;

/// Readings while the bed drains.
#[derive(Debug, Clone, Default)]
pub(super) struct Readings {
    pub time_s: Vec<f64>,
    pub mass_g: Vec<f64>,
    pub noise_sd_g: f64,
    pub lag_s: f64,
    /// Wander of the zero, g per root s.
    pub zero_g: f64,
}

/// Fits a drainage from a start of the parameters; none where the readings and the prior do not fix it.
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
        // A walk about its own mean has a sixth of the variance that it gathers from end to end.
        expected: degrees
            * (1.0 + x.zero_g * x.zero_g * (to_s - from_s) / (6.0 * x.noise_sd_g * x.noise_sd_g)),
        spread: 1.0,
    };
    let mut best = Normal::at(&drain, x);
    let mut damp = 1e-3;
    for _ in 0..60 {
        let mut trial = drain;
        let step = best.step(damp)?;
        trial.parameters[ALL] += step[ALL];
        // A step of a logarithm by more than 1 leaves the region in which the slope says anything.
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
    drain.spread = best.spread(degrees);
    let inverse = inverse(&a, N);
    let row = |i: usize| -> Vector { std::array::from_fn(|j| inverse[i * N + j]) };
    let zero = disturbance(&drain, x);
    drain.covariance = std::array::from_fn(|i| {
        let moved = times(&zero, &row(i));
        std::array::from_fn(|j| row(i)[j] * drain.spread + dot(&moved, &row(j)))
    });
    solvable.then_some(drain)
}

/// Covariance of the right side of the normal equations that a wandering zero adds: an increment of the zero moves all later readings.
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
    pull: Vector,
    /// Of the readings alone, and with what the prior adds.
    deviance: f64,
    total: f64,
    /// Sum over blocks of related residuals of their squared sum over its variance, and the number of blocks.
    related: (f64, f64),
}

impl Normal {
    fn at(drain: &Drain, x: &Readings) -> Self {
        let weight = 1.0 / (x.noise_sd_g * x.noise_sd_g);
        let mut n = Self { a: [[0.0; N]; N], pull: [0.0; N], deviance: 0.0, total: 0.0, related: (0.0, 0.0) };
        let (mut block, mut sum, mut count) = (0.0, 0.0, 0.0);
        for (&t, &y) in x.time_s.iter().zip(&x.mass_g) {
            let (value, by) = drain.reading(t, x.lag_s);
            let off = y - value;
            n.deviance += off * off * weight;
            for i in 0..N {
                n.pull[i] += by[i] * off * weight;
                for j in 0..N {
                    n.a[i][j] += by[i] * by[j] * weight;
                }
            }
            let this = ((t - drain.from_s) / RELATED_S).floor();
            if this != block && count > 0.0 {
                n.related = (n.related.0 + sum * sum * weight / count, n.related.1 + 1.0);
                (sum, count) = (0.0, 0.0);
            }
            (block, sum, count) = (this, sum + off, count + 1.0);
        }
        let off: Vector = std::array::from_fn(|k| drain.prior.mean[k] - drain.parameters[k]);
        let pull = times(&drain.prior.information, &off);
        n.total = n.deviance + dot(&off, &pull);
        n.pull.iter_mut().zip(pull).for_each(|(n, p)| *n += p);
        n.a.iter_mut().flatten().zip(drain.prior.information.iter().flatten()).for_each(|(n, p)| *n += p);
        n
    }

    /// The larger of what single residuals and what related ones say; noise alone gives 1.
    fn spread(&self, degrees: f64) -> f64 {
        let (sum, blocks) = self.related;
        let related = if blocks >= 8.0 { sum / (blocks - N as f64) } else { 1.0 };
        (self.deviance / degrees.max(1.0)).max(related).max(1.0)
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
        let mut step = self.pull;
        solve(&a, N, &mut step);
        Some(step)
    }
}
