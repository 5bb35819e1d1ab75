//! In: the posterior mode. Out: draws of the parameters.
//!
//! The shared parameters are drawn along the columns of the Cholesky factor of their covariance, with a scale of their
//! own on each side (after Rue, Martino and Chopin, Approximate Bayesian inference by integrated nested Laplace
//! approximations, Journal of the Royal Statistical Society B 71, 2009, 6.5). Eigenvectors are not unique: a rounding
//! error would give other draws. The edges are normal given the shared ones.

use crate::math::solve::cholesky;
use crate::model::burst::Burst;
use crate::model::window::Window;
use crate::segment::fitted::is_near;
use crate::segment::mode::{Mode, solve_lower, solve_upper};
use crate::segment::normal::log_posteriors;
use crate::segment::parameters::{Parameters, SHARED, Shared, bursts_in_order, locals, moved, shift};
use crate::segment::priors::Priors;

/// Places of the ramps' lengths among the parameters of a burst, and the sd of the logarithm from which one is unsure: that
/// of its prior is .7.
const RAMPS: [usize; 2] = [1, 4];
const UNSURE: f64 = 1.0;

/// Axes of the shared parameters' posterior, with a scale for each side (Rue, Martino and Chopin 2009, 6.5).
pub(super) struct Axes {
    pub axes: [[f64; SHARED]; SHARED],
    pub sides: [[f64; 2]; SHARED],
}

fn along(mode: &Mode, shared: &Shared) -> Vec<Vec<f64>> {
    mode.e
        .windows
        .iter()
        .zip(&mode.factors.by_shared)
        .map(|(w, by)| {
            (0..w.n).map(|i| -(0..SHARED).map(|j| by[i * SHARED + j] * shared[j]).sum::<f64>()).collect()
        })
        .collect()
}

/// Parameters at a displacement of the shared ones, the own ones following.
pub(super) fn displaced(mode: &Mode, shared: &Shared) -> Parameters {
    moved(&mode.q, shared, &along(mode, shared), 50.0).0
}

pub(super) fn axes(windows: &[Window], mode: &Mode, p: &Priors) -> Axes {
    let mut cov = [[0.0; SHARED]; SHARED];
    for j in 0..SHARED {
        let mut e = [0.0; SHARED];
        e[j] = 1.0;
        solve_lower(&mode.factors.shared, SHARED, &mut e);
        solve_upper(&mode.factors.shared, SHARED, &mut e);
        for i in 0..SHARED {
            cov[i][j] = e[i];
        }
    }
    let mut factor: Vec<f64> = cov.concat();
    // The covariance of a mode has a factor: it is the inverse of an information that has one.
    let is_proper = cholesky(&mut factor, SHARED);
    let mut out = Axes { axes: [[0.0; SHARED]; SHARED], sides: [[1.0; 2]; SHARED] };
    for k in 0..SHARED {
        for i in k..SHARED {
            out.axes[k][i] = if is_proper { factor[i * SHARED + k] } else { 0.0 };
        }
        let axis = out.axes[k];
        out.sides[k] = sides(windows, mode.e.log_posterior, p, |by| displaced(mode, &axis.map(|a| a * by)));
    }
    out
}

/// Scales of both sides of an axis: those with which the posterior falls as a normal one does at 1.5 sd. `displaced` is a
/// point so many sd along it.
fn sides(windows: &[Window], peak: f64, p: &Priors, displaced: impl Fn(f64) -> Parameters) -> [f64; 2] {
    let mut scales = [1.0; 2];
    let mut left = [true; 2];
    for _ in 0..2 {
        let at = |side: usize| displaced(1.5 * scales[side] * if side == 0 { 1.0 } else { -1.0 });
        let found = log_posteriors(windows, [&at(0), &at(1)], p);
        let drops = found.map(|found| peak - found);
        for side in 0..2 {
            if left[side] {
                let scale = scales[side];
                let next = 1.5 * scale / (2.0 * drops[side].max(0.2)).sqrt();
                left[side] = (next / scale - 1.0).abs() >= 0.25;
                scales[side] = if left[side] { next.clamp(0.2 * scale, 2.0 * scale) } else { next };
            }
        }
        if left == [false; 2] {
            break;
        }
    }
    scales.map(|scale| scale.clamp(0.05, 2.0))
}

/// Scales of both sides of a window's own axes. They are sought for a ramp that the readings hardly limit, which may be
/// far shorter than their interval but not much longer; the others are 1.
pub(super) fn own_sides(mode: &Mode, p: &Priors, (k, window): (usize, &Window)) -> Vec<[f64; 2]> {
    let n = mode.e.windows[k].n;
    let mut out = vec![[1.0; 2]; n];
    let mut first = 0;
    for burst in &mode.q.bursts[k] {
        for axis in [first + RAMPS[0], first + RAMPS[1]] {
            if mode.factors.own[k][axis * (n + 1)] * UNSURE < 1.0 {
                let mut along = vec![0.0; n];
                along[axis] = 1.0;
                solve_upper(&mode.factors.own[k], n, &mut along);
                let alone = Parameters { bursts: vec![mode.q.bursts[k].clone()], ..mode.q };
                let windows = std::slice::from_ref(window);
                let by = |by: f64| {
                    let mut q = alone.clone();
                    shift_all(&mut q.bursts[0], &along, by);
                    q
                };
                let peak = log_posteriors(windows, [&alone, &alone], p)[0];
                out[axis] = sides(windows, peak, p, by);
            }
        }
        first += locals(burst);
    }
    out
}

fn shift_all(bursts: &mut [Burst], by: &[f64], share: f64) {
    let mut by = by.iter();
    for burst in bursts {
        for j in 0..locals(burst) {
            shift(burst, j, share * by.next().copied().unwrap_or(0.0));
        }
    }
}

/// Displacement of the shared parameters by standard normal numbers.
pub(super) fn shared_draw(a: &Axes, z: &[f64]) -> Shared {
    let mut out = [0.0; SHARED];
    for ((axis, [up, down]), z) in a.axes.iter().zip(&a.sides).zip(z) {
        let t = if *z > 0.0 { z * up } else { z * down };
        out.iter_mut().zip(axis).for_each(|(out, axis)| *out += axis * t);
    }
    out
}

/// The bursts of a window drawn about those of `q`; None if their edges are out of order or far beyond its readings.
pub(super) fn own_draw(
    mode: &Mode,
    q: &Parameters,
    (k, window): (usize, &Window),
    (z, sides): (&[f64], &[[f64; 2]]),
) -> Option<Vec<Burst>> {
    let mut by: Vec<f64> =
        z.iter().zip(sides).map(|(z, [up, down])| z * if *z > 0.0 { up } else { down }).collect();
    solve_upper(&mode.factors.own[k], mode.e.windows[k].n, &mut by);
    // Such a draw is taken nearer to the mode.
    for share in [1.0, 0.7, 0.4, 0.2, 0.0] {
        let mut bursts = q.bursts[k].clone();
        shift_all(&mut bursts, &by, share);
        if bursts_in_order(&bursts) && bursts.iter().all(|burst| is_near(burst, window.time_s)) {
            return Some(bursts);
        }
    }
    None
}
