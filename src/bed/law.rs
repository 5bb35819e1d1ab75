//! In: readings of the beverage while nothing is poured. Out: the drainage that explains them best, with its covariance.
//!
//! A vessel with `V = b h^m` that lets `Q = c h^n` through gives `Q ~ V^p` with `p = n/m`. From `V0` at the rate `k = Q0/V0` it holds
//! `V = V0 (1 - (1-p) k t)^(1/(1-p))` and is empty after `m/(m-n) V0/Q0`; with `p = 1` it is an exponential (closed forms; Torricelli for
//! `n = 1/2`, Darcy for `n = 1`). Method: least squares by Levenberg and Marquardt on the collected mass `A - V`, the scale's lag taken as
//! a delay, what is known beforehand as a normal prior.

use super::lag::AGES;
use crate::math::solve::{cholesky, inverse, solve};

/// Number of parameters, in this order: what is collected once all has drained, g; logarithm of what stands in the bed at first, g;
/// logarithm of the rate, 1/s; exponent.
pub(super) const N: usize = 4;
pub(super) const ALL: usize = 0;
pub(super) const EXPONENT: usize = 3;
pub(super) type Vector = [f64; N];
pub(super) type Matrix = [Vector; N];

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

/// What is known of the parameters before the readings are looked at.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prior {
    pub mean: Vector,
    pub information: Matrix,
}

impl Prior {
    /// As good as nothing: the exponent is 0.5, give or take 1, so that a log that does not tell of it still has a solution.
    pub(super) fn open() -> Self {
        Self::exponent(0.5, 1.0)
    }

    /// Only the exponent is known.
    pub(super) fn exponent(mean: f64, sd: f64) -> Self {
        let mut information = [[0.0; N]; N];
        information[EXPONENT][EXPONENT] = 1.0 / (sd * sd);
        Self { mean: [0.0, 0.0, 0.0, mean], information }
    }
}

/// A drainage as fitted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drain {
    pub from_s: f64,
    pub to_s: f64,
    pub parameters: Vector,
    pub covariance: Matrix,
    pub prior: Prior,
    /// Sum of squared residuals over the noise's variance, the degrees of freedom, and what the misfit is of noise and a wandering zero.
    pub misfit: f64,
    pub degrees: f64,
    pub expected: f64,
    /// By how much the covariance was widened because the residuals are larger than the noise, or hang together.
    pub spread: f64,
}

impl Drain {
    pub(super) fn exponent(&self) -> f64 {
        self.parameters[EXPONENT]
    }

    /// What stands in the bed at the first instant, g.
    pub(super) fn standing_g(&self) -> f64 {
        self.parameters[1].exp()
    }

    /// Flow at the first instant, g/s.
    pub(super) fn flow_g_per_s(&self) -> f64 {
        (self.parameters[1] + self.parameters[2]).exp()
    }

    /// Variance of a function of the parameters with this gradient.
    pub(super) fn variance(&self, gradient: &Vector) -> f64 {
        dot(gradient, &times(&self.covariance, gradient)).max(0.0)
    }

    /// Root mean square of what the residuals are surely more than noise, over the noise.
    pub(super) fn beyond_noise(&self) -> f64 {
        let by_chance = 3.0 * (2.0 / self.degrees).sqrt();
        (self.misfit / self.expected - 1.0 - by_chance).max(0.0).sqrt()
    }

    /// Mass collected at an instant, g, and its derivatives.
    fn collected(&self, t_s: f64) -> (f64, Vector) {
        let [all, ln_v, ln_k, p] = self.parameters;
        let (e, kt) = (1.0 - p, ln_k.exp() * (t_s - self.from_s));
        let x = -e * kt;
        if x <= -1.0 {
            return (all, [1.0, 0.0, 0.0, 0.0]);
        }
        // V = V0 exp(u); near the exponential the quotients turn into their limits.
        let (u, by_e) = if e.abs() < 1e-6 {
            (-kt, -kt * kt / 2.0)
        } else if x.abs() < 1e-4 {
            (x.ln_1p() / e, (-0.5 + 2.0 * x / 3.0) * kt * kt)
        } else {
            (x.ln_1p() / e, (x / (1.0 + x) - x.ln_1p()) / (e * e))
        };
        let v = (ln_v + u).exp();
        (all - v, [1.0, -v, v * kt / (1.0 + x), v * by_e])
    }

    /// What a scale with that lag shows at an instant, g, and its derivatives.
    fn reading(&self, t_s: f64, lag_s: f64) -> (f64, Vector) {
        let [young, old] = AGES.map(|(age, weight)| (weight, self.collected(t_s - age * lag_s)));
        let both = |a: f64, b: f64| young.0 * a + old.0 * b;
        (both(young.1.0, old.1.0), std::array::from_fn(|k| both(young.1.1[k], old.1.1[k])))
    }

    /// Instant at which the flow passes under `flow_g_per_s`, and its gradient; none where it is under it from the start.
    pub(super) fn under_s(&self, flow_g_per_s: f64) -> Option<(f64, Vector)> {
        self.graded(|[_, ln_v, ln_k, p]| {
            let down = flow_g_per_s.ln() - ln_v - ln_k;
            // Q = Q0 exp(p u), so u = down/p; and 1 - e k t = exp(e u).
            let (e, u) = (1.0 - p, if p < 1e-9 { f64::NEG_INFINITY } else { down / p });
            let kt = if e.abs() < 1e-9 { -u } else { -(e * u).exp_m1() / e };
            (down < 0.0).then(|| self.from_s + kt / ln_k.exp())
        })
    }

    /// A function of the parameters with its gradient by differences.
    pub(super) fn graded(&self, of: impl Fn(Vector) -> Option<f64>) -> Option<(f64, Vector)> {
        const STEP: f64 = 1e-5;
        let value = of(self.parameters)?;
        let mut gradient = [0.0; N];
        for (k, g) in gradient.iter_mut().enumerate() {
            let moved = |by: f64| {
                let mut parameters = self.parameters;
                parameters[k] += by;
                of(parameters)
            };
            // One-sided at the lower bound of the exponent.
            let low = if k == EXPONENT && self.exponent() < STEP { 0.0 } else { -STEP };
            *g = (moved(STEP)? - moved(low)?) / (STEP - low);
        }
        Some((value, gradient))
    }
}

pub(super) fn dot(a: &Vector, b: &Vector) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

pub(super) fn times(m: &Matrix, v: &Vector) -> Vector {
    std::array::from_fn(|i| dot(&m[i], v))
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
        misfit: 0.0,
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
    drain.misfit = best.misfit;
    drain.spread = best.spread(degrees);
    let inverse = inverse(&a, N);
    let row = |i: usize| -> Vector { std::array::from_fn(|j| inverse[i * N + j]) };
    let zero = wander(&drain, x);
    drain.covariance = std::array::from_fn(|i| {
        let moved = times(&zero, &row(i));
        std::array::from_fn(|j| row(i)[j] * drain.spread + dot(&moved, &row(j)))
    });
    solvable.then_some(drain)
}

/// Covariance of the right side of the normal equations that a wandering zero adds: an increment of the zero moves all later readings.
fn wander(drain: &Drain, x: &Readings) -> Matrix {
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
    misfit: f64,
    total: f64,
    /// Sum over blocks of related residuals of their squared sum over its variance, and the number of blocks.
    related: (f64, f64),
}

impl Normal {
    fn at(drain: &Drain, x: &Readings) -> Self {
        let weight = 1.0 / (x.noise_sd_g * x.noise_sd_g);
        let mut n = Self { a: [[0.0; N]; N], pull: [0.0; N], misfit: 0.0, total: 0.0, related: (0.0, 0.0) };
        let (mut block, mut sum, mut count) = (0.0, 0.0, 0.0);
        for (&t, &y) in x.time_s.iter().zip(&x.mass_g) {
            let (value, by) = drain.reading(t, x.lag_s);
            let off = y - value;
            n.misfit += off * off * weight;
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
        n.total = n.misfit + dot(&off, &pull);
        n.pull.iter_mut().zip(pull).for_each(|(n, p)| *n += p);
        n.a.iter_mut().flatten().zip(drain.prior.information.iter().flatten()).for_each(|(n, p)| *n += p);
        n
    }

    /// The larger of what single residuals and what related ones say; noise alone gives 1.
    fn spread(&self, degrees: f64) -> f64 {
        let (sum, blocks) = self.related;
        let related = if blocks >= 8.0 { sum / (blocks - N as f64) } else { 1.0 };
        (self.misfit / degrees.max(1.0)).max(related).max(1.0)
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
