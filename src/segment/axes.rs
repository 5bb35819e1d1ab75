//! In: the posterior mode. Out: draws of the parameters.
//!
//! The shared parameters are drawn along the principal axes of their covariance, with a scale of their own on each
//! side (Rue, Martino and Chopin, Approximate Bayesian inference by integrated nested Laplace approximations, Journal
//! of the Royal Statistical Society B 71, 2009, 6.5). The edges are normal given the shared ones.

use crate::model::burst::Burst;
use crate::model::window::Window;
use crate::segment::mode::{Mode, solve_lower, solve_upper};
use crate::segment::normal::log_posteriors;
use crate::segment::parameters::{Parameters, SHARED, Shared, bursts_in_order, locals, moved, shift};
use crate::segment::priors::Priors;

/// Eigenvectors (columns) and eigenvalues of a symmetric matrix, by Jacobi's rotations.
fn eigen(a: &mut [[f64; SHARED]; SHARED]) -> [[f64; SHARED]; SHARED] {
    let mut v = [[0.0; SHARED]; SHARED];
    for (k, row) in v.iter_mut().enumerate() {
        row[k] = 1.0;
    }
    for _ in 0..60 {
        let mut off = 0.0;
        for p in 0..SHARED {
            for q in p + 1..SHARED {
                off += a[p][q] * a[p][q];
                if a[p][q].abs() < 1e-14 {
                    continue;
                }
                let theta = (a[q][q] - a[p][p]) / (2.0 * a[p][q]);
                let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
                let c = 1.0 / (t * t + 1.0).sqrt();
                let s = t * c;
                let turned = |x: f64, y: f64| (c * x - s * y, s * x + c * y);
                for row in a.iter_mut() {
                    (row[p], row[q]) = turned(row[p], row[q]);
                }
                let rows: Vec<(f64, f64)> = a[p].iter().zip(&a[q]).map(|(x, y)| turned(*x, *y)).collect();
                for (k, (x, y)) in rows.into_iter().enumerate() {
                    (a[p][k], a[q][k]) = (x, y);
                }
                for row in v.iter_mut() {
                    (row[p], row[q]) = turned(row[p], row[q]);
                }
            }
        }
        if off < 1e-16 {
            break;
        }
    }
    v
}

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
pub(super) fn displaced(mode: &Mode, shared: &Shared) -> Option<Parameters> {
    moved(&mode.q, shared, &along(mode, shared), 50.0)
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
    let sd: Vec<f64> = (0..SHARED).map(|k| cov[k][k].sqrt()).collect();
    let mut correlation = cov;
    for i in 0..SHARED {
        for j in 0..SHARED {
            correlation[i][j] /= sd[i] * sd[j];
        }
    }
    let v = eigen(&mut correlation);
    let mut out = Axes { axes: [[0.0; SHARED]; SHARED], sides: [[1.0; 2]; SHARED] };
    for k in 0..SHARED {
        let length = correlation[k][k].max(0.0).sqrt();
        for i in 0..SHARED {
            out.axes[k][i] = v[i][k] * sd[i] * length;
        }
        out.sides[k] = sides(windows, mode, p, &out.axes[k]);
    }
    out
}

/// Scales of both sides of an axis: those with which the posterior falls as a normal one does at 1.5 sd.
fn sides(windows: &[Window], mode: &Mode, p: &Priors, axis: &Shared) -> [f64; 2] {
    let mut scales = [1.0; 2];
    let mut left = [true; 2];
    for _ in 0..2 {
        let at = |side: usize| {
            let by = 1.5 * scales[side] * if side == 0 { 1.0 } else { -1.0 };
            left[side].then(|| displaced(mode, &axis.map(|a| a * by))).flatten()
        };
        let points = [at(0), at(1)];
        let mut drops = [50.0; 2];
        if let Some(any) = points[0].as_ref().or(points[1].as_ref()) {
            let two = points.each_ref().map(|q| q.as_ref().unwrap_or(any));
            let found = log_posteriors(windows, two, p);
            for side in (0..2).filter(|&side| points[side].is_some()) {
                drops[side] = mode.e.log_posterior - found[side];
            }
        }
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

/// Displacement of the shared parameters by standard normal numbers.
pub(super) fn shared_draw(a: &Axes, z: &[f64]) -> Shared {
    let mut out = [0.0; SHARED];
    for ((axis, [up, down]), z) in a.axes.iter().zip(&a.sides).zip(z) {
        let t = if *z > 0.0 { z * up } else { z * down };
        out.iter_mut().zip(axis).for_each(|(out, axis)| *out += axis * t);
    }
    out
}

/// The bursts of a window drawn about those of `q`; None if their edges are out of order.
pub(super) fn own_draw(mode: &Mode, q: &Parameters, k: usize, z: &[f64]) -> Option<Vec<Burst>> {
    let mut by = z.to_vec();
    solve_upper(&mode.factors.own[k], mode.e.windows[k].n, &mut by);
    // A draw out of order is taken nearer to the mode.
    for share in [1.0, 0.7, 0.4, 0.2, 0.0] {
        let mut bursts = q.bursts[k].clone();
        let mut by = by.iter();
        for burst in &mut bursts {
            for j in 0..locals(burst) {
                shift(burst, j, share * by.next().copied().unwrap_or(0.0));
            }
        }
        if bursts_in_order(&bursts) {
            return Some(bursts);
        }
    }
    None
}
