//! In: windows and starting values. Out: the posterior mode, with its covariance and the marginal likelihood.

use crate::model::window::Window;
use crate::segment::normal::{Evaluated, Normal, evaluated, normal_equations};
use crate::segment::parameters::{BEAT_HZ, Parameters, SHARED, Shared, limit, locals, moved};
use crate::segment::priors::Priors;

/// Lower triangle of Cholesky's factor in place; the logarithm of the determinant, or None.
pub(super) fn cholesky(a: &mut [f64], n: usize) -> Option<f64> {
    let mut log_det = 0.0;
    for i in 0..n {
        for j in 0..=i {
            let mut s = a[i * n + j];
            for k in 0..j {
                s -= a[i * n + k] * a[j * n + k];
            }
            if i == j {
                if s <= 0.0 || !s.is_finite() {
                    return None;
                }
                a[i * n + i] = s.sqrt();
                log_det += s.ln();
            } else {
                a[i * n + j] = s / a[j * n + j];
            }
        }
    }
    Some(log_det)
}

pub(super) fn solve_lower(l: &[f64], n: usize, b: &mut [f64]) {
    for i in 0..n {
        let mut s = b[i];
        for k in 0..i {
            s -= l[i * n + k] * b[k];
        }
        b[i] = s / l[i * n + i];
    }
}

pub(super) fn solve_upper(l: &[f64], n: usize, b: &mut [f64]) {
    for i in (0..n).rev() {
        let mut s = b[i];
        for k in i + 1..n {
            s -= l[k * n + i] * b[k];
        }
        b[i] = s / l[i * n + i];
    }
}

/// Factors of the normal equations: each window's own, and the shared ones after elimination.
#[derive(Clone)]
pub(super) struct Factors {
    pub own: Vec<Vec<f64>>,
    /// Own information inverse times cross, row by row.
    pub by_shared: Vec<Vec<f64>>,
    pub shared: Vec<f64>,
    pub log_det: f64,
}

pub(super) fn factor(e: &Normal, damping: f64) -> Option<Factors> {
    let mut schur: Vec<f64> = e.shared.iter().flatten().copied().collect();
    for k in 0..SHARED {
        let steep = if damping > 0.0 { e.steep[k] } else { 0.0 };
        schur[k * (SHARED + 1)] = (schur[k * (SHARED + 1)] + steep) * (1.0 + damping);
    }
    let (mut own, mut by_shared, mut log_det) = (Vec::new(), Vec::new(), 0.0);
    for w in &e.windows {
        let n = w.n;
        let mut a = w.own.clone();
        for k in 0..n {
            a[k * (n + 1)] *= 1.0 + damping;
            a[k * (n + 1)] += 1e-6;
        }
        log_det += cholesky(&mut a, n)?;
        let mut by = vec![0.0; n * SHARED];
        for j in 0..SHARED {
            let mut column: Vec<f64> = (0..n).map(|i| w.cross[i * SHARED + j]).collect();
            solve_lower(&a, n, &mut column);
            solve_upper(&a, n, &mut column);
            for i in 0..n {
                by[i * SHARED + j] = column[i];
            }
        }
        for i in 0..SHARED {
            for j in 0..SHARED {
                schur[i * SHARED + j] -=
                    (0..n).map(|k| w.cross[k * SHARED + i] * by[k * SHARED + j]).sum::<f64>();
            }
        }
        own.push(a);
        by_shared.push(by);
    }
    log_det += cholesky(&mut schur, SHARED)?;
    Some(Factors { own, by_shared, shared: schur, log_det })
}

/// Step of all parameters.
fn step_of(e: &Normal, f: &Factors) -> Step {
    let Step { mut shared, own: mut first } = Step::score(e);
    for (k, (w, a)) in e.windows.iter().zip(&f.own).enumerate() {
        let s = &mut first[k];
        solve_lower(a, w.n, s);
        solve_upper(a, w.n, s);
        for (j, shared) in shared.iter_mut().enumerate() {
            *shared -= (0..w.n).map(|i| w.cross[i * SHARED + j] * s[i]).sum::<f64>();
        }
    }
    solve_lower(&f.shared, SHARED, &mut shared);
    solve_upper(&f.shared, SHARED, &mut shared);
    for (s, by) in first.iter_mut().zip(&f.by_shared) {
        for (i, s) in s.iter_mut().enumerate() {
            *s -= (0..SHARED).map(|j| by[i * SHARED + j] * shared[j]).sum::<f64>();
        }
    }
    Step { shared, own: first }
}

#[derive(Clone)]
pub(super) struct Mode {
    pub q: Parameters,
    pub e: Normal,
    pub factors: Factors,
    /// Log marginal likelihood by Laplace's method.
    pub evidence: f64,
}

/// Most iterations.
pub(super) const ITERATIONS: usize = 40;
/// Gain of the log posterior that is not worth a step, predicted and found.
const GAIN: f64 = 0.02;
const FOUND: f64 = 0.01;
/// Least and most of a step's share that is taken, and the limit of a parameter's step.
const REACH: (f64, f64) = (0.3, 1.0);
const LIMIT: f64 = 0.7;
/// Limit of the step of a frequency's logarithm: the likelihood has a peak for each beat.
const LIMIT_HZ: f64 = 0.15;
/// Share of a frequency's step that is tried next if a step went too far, and its least limit.
const NEARER_HZ: (f64, f64) = (0.4, 0.005);

/// A step of all parameters, or a score by them.
struct Step {
    shared: Shared,
    own: Vec<Vec<f64>>,
}

impl Step {
    fn score(e: &Normal) -> Self {
        Self { shared: e.score, own: e.windows.iter().map(|w| w.score.clone()).collect() }
    }

    fn numbers(&self) -> impl Iterator<Item = &f64> {
        self.shared.iter().chain(self.own.iter().flatten())
    }

    fn dot(&self, other: &Self) -> f64 {
        self.numbers().zip(other.numbers()).map(|(a, b)| a * b).sum()
    }

    /// The step times a number, within the limits of one step.
    fn times(mut self, by: f64, limit_hz: f64, q: &Parameters) -> Self {
        self.shared.iter_mut().for_each(|s| *s = (*s * by).clamp(-LIMIT, LIMIT));
        self.shared[BEAT_HZ] = self.shared[BEAT_HZ].clamp(-limit_hz, limit_hz);
        for (own, bursts) in self.own.iter_mut().zip(&q.bursts) {
            let caps = bursts.iter().flat_map(|b| (0..locals(b)).map(|k| limit(k, LIMIT)));
            own.iter_mut().zip(caps).for_each(|(s, cap)| *s = (*s * by).clamp(-cap, cap));
        }
        self
    }
}

/// The posterior mode from a start. The expected information is not the curvature, so that full steps may go too far, to
/// and fro. A step is as long as would have been right for the last one by the scores at its two ends.
pub(super) fn mode(windows: &[Window], start: Parameters, p: &Priors, most: usize) -> Option<Mode> {
    let equations = |q: &Parameters, at: &Evaluated| {
        let e = normal_equations(windows, q, p, at);
        if p.is_fixed { e.with_fixed_shared() } else { e }
    };
    let mut q = start;
    let mut e = equations(&q, &evaluated(windows, &q, p));
    let mut damping = 1e-2;
    let (mut reach, mut limit_hz) = (1.0, LIMIT_HZ);
    let (mut iterations, mut refused) = (0, false);
    while iterations < most {
        iterations += 1;
        let Some(f) = factor(&e, damping) else {
            damping = (damping * 10.0).max(1e-3);
            continue;
        };
        let mut step = step_of(&e, &f).times(reach, limit_hz, &q);
        // A window near a limit of its edges goes less far than the others.
        let (next, taken) = moved(&q, &step.shared, &step.own, LIMIT);
        for (own, share) in step.own.iter_mut().zip(taken) {
            own.iter_mut().for_each(|s| *s *= share);
        }
        let gain = step.dot(&Step::score(&e));
        if gain < GAIN {
            // The last step needs no check, unless one was just refused: it gains half of that, to second order.
            if !refused {
                e.log_posterior += 0.5 * gain;
                q = next;
            }
            break;
        }
        let at = evaluated(windows, &next, p);
        let found = at.log_posterior - e.log_posterior;
        refused = found <= 0.0;
        if !refused {
            e = equations(&next, &at);
            q = next;
            if found < FOUND && gain < 1.0 {
                break;
            }
            damping = (damping * 0.2).max(1e-6);
            let left = gain - step.dot(&Step::score(&e));
            reach = if left > 0.0 { (reach * gain / left).clamp(REACH.0, REACH.1) } else { 1.0 };
        } else {
            damping = (damping * 8.0).max(1e-3);
            reach = (0.5 * reach).max(REACH.0);
            limit_hz = (NEARER_HZ.0 * step.shared[BEAT_HZ].abs()).max(NEARER_HZ.1);
            if damping > 1e4 {
                break;
            }
        }
    }
    let factors = factor(&e, 0.0)?;
    let n: usize = SHARED + e.windows.iter().map(|w| w.n).sum::<usize>();
    let evidence = e.log_posterior - 0.5 * factors.log_det + 0.5 * n as f64 * std::f64::consts::TAU.ln();
    Some(Mode { q, e, factors, evidence })
}
