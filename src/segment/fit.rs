//! In: the used samples and proposed bursts. Out: the bursts and the scale's lag that explain the samples best, with covariances.
//!
//! All edges of a log share one lag. Method: Gauss-Newton on the whitened residuals of all groups at once; the lag is eliminated by
//! its Schur complement, so each group stays small. What is assumed of hand and scale ([`Wander`]) is chosen by likelihood between the
//! rounds. Sd are those of the posterior with the stated expectation of ramps and lag (Tarantola, Inverse Problem Theory, 3.2).

use super::SegmentOptions;
use super::propose::USUAL_LAG_S;
use super::samples::Samples;
use super::shape::{Burst, MIN_RAMP_S, PARAMETERS};
use super::wander::{Stretch, Wander};
use crate::Estimate;
use crate::math::solve::{cholesky, inverse, solve};
use serde::{Deserialize, Serialize};

/// Bursts that are near to each other, fitted together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Group {
    pub bursts: Vec<Burst>,
    /// Reading before the first burst, g.
    pub base_g: f64,
    /// Samples from..to that tell of this group.
    pub from: usize,
    pub to: usize,
    /// Covariance of (base, bursts' parameters, lag), row by row.
    pub covariance: Vec<f64>,
    /// Mean square of the whitened residuals, where it is above 1: the samples contradict the shape.
    pub excess: f64,
}

impl Group {
    /// Number of its own parameters: the base and five a burst.
    fn size(&self) -> usize {
        1 + PARAMETERS * self.bursts.len()
    }

    /// Variance of a quantity from its gradient to (base, bursts' parameters, lag).
    pub(crate) fn variance(&self, gradient: &[f64]) -> f64 {
        let n = gradient.len();
        let rows = self.covariance.chunks_exact(n).zip(gradient);
        rows.map(|(row, g)| g * row.iter().zip(gradient).map(|(c, h)| c * h).sum::<f64>())
            .sum::<f64>()
            .max(0.0)
    }

    /// Reading that the bursts leave at an instant.
    pub(crate) fn reading(&self, t_s: f64, tau_s: f64) -> f64 {
        self.base_g + self.bursts.iter().map(|b| b.reading(t_s, tau_s).0).sum::<f64>()
    }

    /// Whether its samples agree with it so far that it may speak for the others: a knock taken for water may not.
    fn is_told(&self) -> bool {
        self.excess < 5.0
    }

    pub(crate) fn stretches(&self) -> Vec<Stretch> {
        let stretch =
            |b: &Burst| Stretch { start_s: b.rise_s, end_s: b.fall_s, flow_g_per_s: b.flow_g_per_s };
        self.bursts.iter().map(stretch).collect()
    }
}

/// The fitted log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Fit {
    pub groups: Vec<Group>,
    pub wander: Wander,
    pub tau_s: Estimate,
}

/// What is expected of the lag before the log is seen: its logarithm is normal.
struct LagPrior {
    log_s: f64,
    sd: f64,
}

/// Fits groups of bursts to the samples. `lag` is the lag that was given, if any.
pub(crate) fn fit(x: &Samples, proposed: Vec<Vec<Burst>>, lag: Option<Estimate>, o: &SegmentOptions) -> Fit {
    let prior = match lag {
        Some(given) => {
            let value = given.value.max(1e-3);
            LagPrior { log_s: value.ln(), sd: (given.sd / value).max(1e-4) }
        }
        None => LagPrior { log_s: USUAL_LAG_S.ln(), sd: 0.6 },
    };
    let wander = Wander {
        tau_s: prior.log_s.exp(),
        noise_sd_g: x.noise_sd_g,
        tremor: 0.06,
        swing_rad_per_s: 6.0,
        quality: 1.0,
        stamp_sd_s: 0.0,
        zero_g: 0.003,
        rest_flow_g_per_s: 0.0,
    };
    let tau_s = Estimate::new(wander.tau_s, wander.tau_s * prior.sd);
    let mut fit = Fit { groups: windows(x, proposed), wander, tau_s };
    // One hand's ramps resemble each other: what is expected of each follows their mean, which itself is expected near the option's.
    let mut own = o.clone();
    for most in [8, 7] {
        for _ in 0..most {
            let moved = improve(x, &mut fit, &prior, &own);
            let before = own.ramp_s;
            own.ramp_s = usual_ramp(&fit, o);
            if moved.max((own.ramp_s - before).abs()) < 3e-4 {
                break;
            }
        }
        if most == 8 {
            choose_wander(x, &mut fit, &own);
        }
    }
    fit
}

/// Mean ramp of this hand, s: the mean of the fitted ones and of two more that the option gives.
fn usual_ramp(fit: &Fit, o: &SegmentOptions) -> f64 {
    let ramps: Vec<f64> = fit
        .groups
        .iter()
        .filter(|g| g.is_told())
        .flat_map(|g| &g.bursts)
        .flat_map(|b| [b.rise_ramp_s, b.fall_ramp_s])
        .collect();
    (ramps.iter().sum::<f64>() + 2.0 * o.ramp_s) / (ramps.len() + 2) as f64
}

/// Which samples tell of which group: from the rest before to the rest after, a few seconds of each.
fn windows(x: &Samples, proposed: Vec<Vec<Burst>>) -> Vec<Group> {
    const REST_S: f64 = 3.0;
    const TAIL_S: f64 = 1.5;
    const NEXT_S: f64 = 0.7;
    let edges: Vec<(f64, f64)> =
        proposed.iter().map(|g| (g[0].rise_s, g.last().map_or(f64::NAN, |b| b.fall_s))).collect();
    let index = |t: f64| x.time_s.partition_point(|&s| s < t);
    let group = |(k, bursts): (usize, Vec<Burst>)| {
        let (rise, fall) = edges[k];
        let earliest = if k > 0 { index(edges[k - 1].1 + TAIL_S) } else { 0 };
        let latest = edges.get(k + 1).map_or(x.time_s.len(), |next| index(next.0 - NEXT_S));
        // At least five samples on each side, however far a gap puts them.
        let from = index(rise - REST_S).min(index(rise - NEXT_S).saturating_sub(5)).max(earliest);
        let to = index(fall + REST_S).max(index(fall + TAIL_S) + 5).min(latest).max(from);
        let calm = &x.mass_g[from..index(rise - NEXT_S / 2.0).clamp(from, to)];
        let base_g = if calm.is_empty() {
            x.mass_g.get(from).copied().unwrap_or(0.0)
        } else {
            calm.iter().sum::<f64>() / calm.len() as f64
        };
        Group { bursts, base_g, from, to, covariance: Vec::new(), excess: 1.0 }
    };
    proposed.into_iter().enumerate().map(group).collect()
}

/// One damped Gauss-Newton step on all groups and the lag; returns the largest change of an instant, s.
fn improve(x: &Samples, fit: &mut Fit, prior: &LagPrior, o: &SegmentOptions) -> f64 {
    let tau = fit.tau_s.value;
    // The lag enters as its logarithm; its information starts with what was expected.
    let mut lag_information = 1.0 / (prior.sd * prior.sd);
    let mut lag_pull = (prior.log_s - tau.ln()) / (prior.sd * prior.sd);
    let mut solved = Vec::with_capacity(fit.groups.len());
    for group in &fit.groups {
        let p = group.size();
        let Normal { mut a, mut pull, cross, lag, misfit, .. } = normal(x, group, &fit.wander, o);
        if !cholesky(&mut a, p) {
            solved.push(None);
            continue;
        }
        let mut by_lag = cross.clone();
        solve(&a, p, &mut by_lag);
        // A group that its samples contradict says less than it claims to.
        let samples = (group.to - group.from) as f64;
        let excess = (misfit / samples).max(1.0);
        let dot = |u: &[f64], v: &[f64]| u.iter().zip(v).map(|(a, b)| a * b).sum::<f64>();
        lag_information += (lag[0] - dot(&cross, &by_lag)) / excess;
        lag_pull += (lag[1] - dot(&by_lag, &pull)) / excess;
        solve(&a, p, &mut pull);
        let mut own = inverse(&a, p);
        own.iter_mut().for_each(|c| *c *= excess);
        solved.push(Some((own, pull, by_lag, excess)));
    }
    let lag_var = 1.0 / lag_information;
    let lag_step = (lag_pull * lag_var).clamp(-0.5, 0.5);
    let mut largest = (lag_step * tau).abs();
    for (group, solved) in fit.groups.iter_mut().zip(solved) {
        let Some((inverse, mut step, by_lag, excess)) = solved else { continue };
        group.excess = excess;
        step.iter_mut().zip(&by_lag).for_each(|(s, b)| *s -= b * lag_step);
        group.covariance = joint_covariance(&inverse, &by_lag, lag_var);
        largest = largest.max(take(group, &step));
    }
    let tau = (tau.ln() + lag_step).exp().clamp(1e-3, 5.0);
    fit.tau_s = Estimate::new(tau, tau * lag_var.sqrt());
    fit.wander.tau_s = tau;
    largest
}

/// Normal equations of a group, what is expected beforehand included.
struct Normal {
    /// Information on (base, parameters), and their pull.
    a: Vec<f64>,
    pull: Vec<f64>,
    /// Information that they share with the logarithm of the lag.
    cross: Vec<f64>,
    /// Information on the logarithm of the lag, and its pull.
    lag: [f64; 2],
    /// Sum of squared whitened residuals, and the logarithm of the determinant of the samples' covariance.
    misfit: f64,
    log_det: f64,
}

fn normal(x: &Samples, group: &Group, wander: &Wander, o: &SegmentOptions) -> Normal {
    let (p, width) = (group.size(), group.size() + 2);
    let time = &x.time_s[group.from..group.to];
    // A row holds the gradient to (base, parameters), to the logarithm of the lag, and the residual.
    let mut rows = vec![0.0; width * time.len()];
    for ((row, &t), &y) in rows.chunks_exact_mut(width).zip(time).zip(&x.mass_g[group.from..group.to]) {
        row[0] = 1.0;
        let mut reading = group.base_g;
        for (k, burst) in group.bursts.iter().enumerate() {
            let (value, by, by_tau) = burst.reading(t, wander.tau_s);
            reading += value;
            row[1 + PARAMETERS * k..][..PARAMETERS].copy_from_slice(&by);
            row[p] += by_tau * wander.tau_s;
        }
        row[p + 1] = y - reading;
    }
    let log_det = wander.whiten(time, &group.stretches(), &mut rows, width);
    let mut n = vec![0.0; width * width];
    for row in rows.chunks_exact(width) {
        for i in 0..width {
            for j in i..width {
                n[i * width + j] += row[i] * row[j];
            }
        }
    }
    let at = |i: usize, j: usize| n[i.min(j) * width + i.max(j)];
    let mut a: Vec<f64> = (0..p * p).map(|k| at(k / p, k % p)).collect();
    let mut pull: Vec<f64> = (0..p).map(|i| at(i, p + 1)).collect();
    expect(group, o, &mut a, &mut pull);
    let cross = (0..p).map(|i| at(i, p)).collect();
    Normal { a, pull, cross, lag: [at(p, p), at(p, p + 1)], misfit: at(p + 1, p + 1), log_det }
}

/// Adds what is expected beforehand: ramps as stated in the options; the rest so loosely that it only keeps the equations solvable
/// where the log is cut in a pour.
fn expect(group: &Group, o: &SegmentOptions, a: &mut [f64], pull: &mut [f64]) {
    let p = group.size();
    a[0] += 1e-6;
    for (k, burst) in group.bursts.iter().enumerate() {
        let at = 1 + PARAMETERS * k;
        for (i, ramp) in [(1, burst.rise_ramp_s), (3, burst.fall_ramp_s)] {
            let information = 1.0 / (o.ramp_sd_s * o.ramp_sd_s);
            a[(at + i) * (p + 1)] += information;
            pull[at + i] += (o.ramp_s - ramp) * information;
        }
        a[at * (p + 1)] += 1.0;
        a[(at + 2) * (p + 1)] += 1.0;
        a[(at + 4) * (p + 1)] += 1.0 / (burst.flow_g_per_s * burst.flow_g_per_s);
    }
}

/// Covariance of (group's parameters, lag in s from its logarithm's variance) once the lag's uncertainty is let in.
fn joint_covariance(inverse: &[f64], by_lag: &[f64], lag_var: f64) -> Vec<f64> {
    let p = by_lag.len();
    let n = p + 1;
    let mut c = vec![0.0; n * n];
    for i in 0..p {
        for j in 0..p {
            c[i * n + j] = inverse[i * p + j] + by_lag[i] * by_lag[j] * lag_var;
        }
        c[i * n + p] = -by_lag[i] * lag_var;
        c[p * n + i] = c[i * n + p];
    }
    c[p * n + p] = lag_var;
    c
}

/// Moves a group by a step, no instant by more than 0.3 s; returns the largest move.
fn take(group: &mut Group, step: &[f64]) -> f64 {
    let mut largest: f64 = 0.0;
    group.base_g += step[0];
    for (burst, step) in group.bursts.iter_mut().zip(step[1..].chunks_exact(PARAMETERS)) {
        let mut shift = |value: &mut f64, by: f64| {
            let by = by.clamp(-0.3, 0.3);
            *value += by;
            largest = largest.max(by.abs());
        };
        shift(&mut burst.rise_s, step[0]);
        shift(&mut burst.fall_s, step[2]);
        burst.flow_g_per_s = (burst.flow_g_per_s + step[4]).max(burst.flow_g_per_s * 0.5);
        burst.fall_s = burst.fall_s.max(burst.rise_s + 2.0 * MIN_RAMP_S);
        // The rise is over before the fall begins.
        let room = burst.fall_s - burst.rise_s;
        burst.rise_ramp_s = (burst.rise_ramp_s + step[1]).clamp(MIN_RAMP_S, room.max(MIN_RAMP_S));
        burst.fall_ramp_s = (burst.fall_ramp_s + step[3]).clamp(MIN_RAMP_S, room.max(MIN_RAMP_S));
    }
    largest
}

/// Chooses what is assumed of hand and scale by their marginal likelihood: the bursts' parameters are free in it, so that what they can
/// explain is not taken for steadiness. The unsteadiness is averaged over its posterior, since a log that hardly tells of it must not make
/// it vanish.
fn choose_wander(x: &Samples, fit: &mut Fit, o: &SegmentOptions) {
    let groups: Vec<&Group> = fit.groups.iter().filter(|g| g.is_told()).collect();
    let misfit = |w: &Wander| -> f64 {
        let group = |g: &Group| {
            let Normal { mut a, pull, misfit, log_det, .. } = normal(x, g, w, o);
            if !cholesky(&mut a, g.size()) {
                return f64::INFINITY;
            }
            let mut step = pull.clone();
            solve(&a, g.size(), &mut step);
            let gained: f64 = step.iter().zip(&pull).map(|(s, p)| s * p).sum();
            let freedom: f64 = (0..g.size()).map(|i| 2.0 * a[i * (g.size() + 1)].ln()).sum();
            log_det + misfit - gained + freedom
        };
        // Hands show some 5 %, give or take a factor of two.
        groups.iter().copied().map(group).sum::<f64>() + ((w.tremor / 0.05).ln() / 2.0_f64.ln()).powi(2)
    };
    let mut best = (misfit(&fit.wander), fit.wander);
    let mut consider = |trial: Wander| {
        let found = misfit(&trial);
        if found < best.0 {
            best = (found, trial);
        }
        best.1
    };
    for stamp_sd_s in [0.0, 0.005, 0.015] {
        consider(Wander { stamp_sd_s, ..fit.wander });
    }
    let mut chosen = consider(fit.wander);
    for zero_g in [0.001, 0.01, 0.03, 0.1, 0.2] {
        chosen = consider(Wander { zero_g, ..chosen });
    }
    let mut trials = Vec::new();
    for swing_rad_per_s in [2.0, 4.0, 8.0] {
        for tremor in [0.01, 0.02, 0.04, 0.08, 0.16, 0.32] {
            let trial = Wander { tremor, swing_rad_per_s, ..chosen };
            trials.push((misfit(&trial), trial));
        }
    }
    let least = trials.iter().map(|t| t.0).fold(f64::INFINITY, f64::min);
    let mut sum = [0.0; 3];
    for (misfit, trial) in &trials {
        let weight = (-(misfit - least) / 2.0).exp();
        sum[0] += weight;
        sum[1] += weight * trial.tremor.ln();
        sum[2] += weight * trial.swing_rad_per_s.ln();
    }
    fit.wander = chosen;
    if sum[0] > 0.0 {
        fit.wander.tremor = (sum[1] / sum[0]).exp();
        fit.wander.swing_rad_per_s = (sum[2] / sum[0]).exp();
    }
}
