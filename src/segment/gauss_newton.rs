//! In: the samples and a fit. Out: the fit one Gauss-Newton step on.

use crate::estimate::Estimate;
use crate::math::solve::{cholesky, inverse, solve};
use crate::model::burst::{MIN_RAMP_S, PARAMETERS};
use crate::model::samples::Samples;
use crate::model::scale::Scale;
use crate::model::transitions::Disturbance;
use crate::segment::fitted::{Fit, Group, ScalePrior};
use crate::segment::options::SegmentOptions;

/// Fewer samples than this in a burst identify its mass and its middle, but hardly its flow, which then gets a
/// prior.
const FEW_SAMPLES: f64 = 3.0;
/// Flow of a pour, g/s, and the sd of its logarithm (common practice, no source).
const USUAL_FLOW_G_PER_S: f64 = 8.0;
const LOG_FLOW_SD: f64 = 0.6;

/// Result of a step.
pub(super) struct StepResult {
    /// Largest change of an instant, s.
    pub largest_s: f64,
    /// Deviance (-2 log marginal likelihood) before the step, up to a constant.
    pub deviance: f64,
    /// Posterior of each group at the step; None if its equations had no solution.
    pub posteriors: Vec<Option<GroupPosterior>>,
    /// Leave-one-out estimates of the lead: without each of the groups that enter the fit of the scale.
    pub leads_s: Vec<Estimate>,
}

impl StepResult {
    /// Before any step.
    pub(super) fn none() -> Self {
        Self {
            largest_s: f64::INFINITY,
            deviance: f64::INFINITY,
            posteriors: Vec::new(),
            leads_s: Vec::new(),
        }
    }
}

/// Posterior of one group, its own parameters eliminated.
pub(super) struct GroupPosterior {
    /// Cholesky factor of the information on its own parameters.
    factor: Vec<f64>,
    /// Their derivatives by the scale's two parameters, and the covariance of these.
    by_scale: [Vec<f64>; 2],
    scale: [[f64; 2]; 2],
    excess: f64,
}

impl GroupPosterior {
    /// Covariance of (group's parameters, logarithm of the lag, lead). Computed for the last step only: for
    /// many bursts it takes longer than the step.
    pub(super) fn covariance(&self) -> Vec<f64> {
        let mut own = inverse(&self.factor, self.by_scale[0].len());
        own.iter_mut().for_each(|c| *c *= self.excess);
        joint_covariance(&own, &self.by_scale, &self.scale)
    }
}

/// Information on the scale's two parameters, the logarithm of its lag and its lead: matrix, and right-hand
/// side of the normal equations.
struct ScaleInformation {
    information: [[f64; 2]; 2],
    rhs: [f64; 2],
}

impl ScaleInformation {
    /// The sum with a multiple of another.
    fn plus(&self, other: &Self, times: f64) -> Self {
        let information = |k: usize, l: usize| self.information[k][l] + times * other.information[k][l];
        Self {
            information: [0, 1].map(|k| [0, 1].map(|l| information(k, l))),
            rhs: [0, 1].map(|k| self.rhs[k] + times * other.rhs[k]),
        }
    }

    fn determinant(&self) -> f64 {
        let [[a, b], [c, d]] = self.information;
        a * d - b * c
    }

    fn covariance(&self) -> [[f64; 2]; 2] {
        let ([[a, b], [c, d]], determinant) = (self.information, self.determinant());
        [[d / determinant, -b / determinant], [-c / determinant, a / determinant]]
    }

    /// Step of the two parameters.
    fn step(&self) -> [f64; 2] {
        self.covariance().map(|row| row[0] * self.rhs[0] + row[1] * self.rhs[1])
    }

    /// The lead that it gives from a starting value.
    fn lead(&self, from_s: f64) -> Estimate {
        Estimate::new(from_s + self.step()[1], self.covariance()[1][1].sqrt())
    }
}

/// One damped Gauss-Newton step on all groups and the scale, or a fraction of it.
pub(super) fn improve(
    x: &Samples,
    fit: &mut Fit,
    prior: &ScalePrior,
    o: &SegmentOptions,
    share: f64,
) -> StepResult {
    let Scale { tau_s, lead_s } = fit.disturbance.scale;
    // The scale's information starts with its prior.
    let information = [prior.log_tau_s, prior.lead_s].map(|e| 1.0 / (e.sd * e.sd));
    let offset = [prior.log_tau_s.value - tau_s.ln(), prior.lead_s.value - lead_s];
    let mut all = ScaleInformation {
        information: [[information[0], 0.0], [0.0, information[1]]],
        rhs: [offset[0] * information[0], offset[1] * information[1]],
    };
    let mut deviance =
        offset[0] * all.rhs[0] + offset[1] * all.rhs[1] - information[0].ln() - information[1].ln();
    let mut posteriors = Vec::with_capacity(fit.groups.len());
    let mut contributions: Vec<ScaleInformation> = Vec::new();
    let mut steps = Vec::with_capacity(fit.groups.len());
    for group in &fit.groups {
        let p = group.size();
        let rows = Rows::new(x, group, fit.disturbance.scale);
        let mut n = normal(x, group, rows, &fit.disturbance, o);
        if !cholesky(&mut n.a, p) {
            posteriors.push(None);
            steps.push(Vec::new());
            continue;
        }
        // The information of a group with excess residuals is reduced accordingly.
        let samples = (group.to - group.from) as f64;
        let excess = (n.deviance / samples).max(1.0);
        let by_scale = n.cross.each_ref().map(|cross| {
            let mut by = cross.clone();
            solve(&n.a, p, &mut by);
            by
        });
        let dot = |u: &[f64], v: &[f64]| u.iter().zip(v).map(|(a, b)| a * b).sum::<f64>();
        if group.in_scale_fit {
            let contribution = ScaleInformation {
                information: [0, 1]
                    .map(|k| [0, 1].map(|l| (n.scale[k][l] - dot(&n.cross[k], &by_scale[l])) / excess)),
                rhs: [0, 1].map(|k| (n.scale_rhs[k] - dot(&by_scale[k], &n.rhs)) / excess),
            };
            all = all.plus(&contribution, 1.0);
            contributions.push(contribution);
        }
        let mut step = n.rhs.clone();
        solve(&n.a, p, &mut step);
        let log_det_information: f64 = (0..p).map(|i| 2.0 * n.a[i * (p + 1)].ln()).sum();
        if group.in_scale_fit {
            deviance += (n.deviance - dot(&step, &n.rhs)) / excess
                + n.log_det
                + samples * excess.ln()
                + log_det_information;
        }
        posteriors.push(Some(GroupPosterior { factor: n.a, by_scale, scale: [[0.0; 2]; 2], excess }));
        steps.push(step);
    }
    let leads_s =
        contributions.iter().map(|contribution| all.plus(contribution, -1.0).lead(lead_s)).collect();
    let covariance = all.covariance();
    let by = all.step();
    let changes = [share * by[0].clamp(-0.5, 0.5), share * by[1].clamp(-0.1, 0.1)];
    deviance += all.determinant().ln() - by[0] * all.rhs[0] - by[1] * all.rhs[1];
    let mut largest_s = (changes[0] * tau_s).abs().max(changes[1].abs());
    for ((group, posterior), mut step) in fit.groups.iter_mut().zip(&mut posteriors).zip(steps) {
        let Some(posterior) = posterior else { continue };
        group.excess = posterior.excess;
        posterior.scale = covariance;
        step.iter_mut().for_each(|s| *s *= share);
        for (by, moved) in posterior.by_scale.iter().zip(changes) {
            step.iter_mut().zip(by).for_each(|(s, b)| *s -= b * moved);
        }
        largest_s = largest_s.max(apply_step(group, &step));
    }
    let tau_s = (tau_s.ln() + changes[0]).exp().clamp(1e-3, 5.0);
    let lead_s = lead_s + changes[1];
    fit.disturbance.scale = Scale { tau_s, lead_s };
    fit.tau_s = Estimate::new(tau_s, tau_s * covariance[0][0].sqrt());
    fit.lead_s = Some(Estimate::new(lead_s, covariance[1][1].sqrt()));
    StepResult { largest_s, deviance, posteriors, leads_s }
}

/// Normal equations of a group, its prior included.
pub(super) struct Normal {
    /// Information on (base, parameters), and the right-hand side.
    pub a: Vec<f64>,
    pub rhs: Vec<f64>,
    /// Cross information with each of the scale's two parameters.
    cross: [Vec<f64>; 2],
    /// Information on these two, and their right-hand side.
    scale: [[f64; 2]; 2],
    scale_rhs: [f64; 2],
    /// Sum of squared whitened residuals, and the logarithm of the determinant of the samples' covariance.
    pub deviance: f64,
    pub log_det: f64,
}

/// One row per sample of a group: the gradient by (base, parameters), the logarithm of the lag and the lead;
/// then the residual.
#[derive(Clone)]
pub(super) struct Rows(pub Vec<f64>);

impl Rows {
    pub(super) fn new(x: &Samples, group: &Group, scale: Scale) -> Self {
        let (p, width) = (group.size(), group.size() + 3);
        let time = &x.time_s[group.from..group.to];
        let mut rows = vec![0.0; width * time.len()];
        for ((row, &t), &y) in rows.chunks_exact_mut(width).zip(time).zip(&x.mass_g[group.from..group.to]) {
            row[0] = 1.0;
            let mut reading = group.base_g;
            for (k, burst) in group.bursts.iter().enumerate() {
                let burst_reading = burst.reading(t, scale);
                reading += burst_reading.value_g;
                row[1 + PARAMETERS * k..][..PARAMETERS].copy_from_slice(&burst_reading.by_parameter);
                row[p] += burst_reading.by_scale[0] * scale.tau_s;
                row[p + 1] += burst_reading.by_scale[1];
            }
            row[p + 2] = y - reading;
        }
        Self(rows)
    }
}

/// `rows` are those of the group under the scale of `disturbance`.
pub(super) fn normal(
    x: &Samples,
    group: &Group,
    Rows(mut rows): Rows,
    disturbance: &Disturbance,
    o: &SegmentOptions,
) -> Normal {
    let (p, width) = (group.size(), group.size() + 3);
    let time = &x.time_s[group.from..group.to];
    let log_det = disturbance.whiten(time, &group.stretches(), &mut rows, width);
    let mut n = vec![0.0; width * width];
    for row in rows.chunks_exact(width) {
        for (i, n) in n.chunks_exact_mut(width).enumerate() {
            let own = row[i];
            n[i..].iter_mut().zip(&row[i..]).for_each(|(n, x)| *n += own * x);
        }
    }
    let at = |i: usize, j: usize| n[i.min(j) * width + i.max(j)];
    let mut a: Vec<f64> = (0..p * p).map(|k| at(k / p, k % p)).collect();
    let mut rhs: Vec<f64> = (0..p).map(|i| at(i, p + 2)).collect();
    add_prior(group, x.interval_s, o, &mut a, &mut rhs);
    Normal {
        a,
        rhs,
        cross: [p, p + 1].map(|j| (0..p).map(|i| at(i, j)).collect()),
        scale: [p, p + 1].map(|i| [at(i, p), at(i, p + 1)]),
        scale_rhs: [at(p, p + 2), at(p + 1, p + 2)],
        deviance: at(p + 2, p + 2),
        log_det,
    }
}

/// Adds the priors: ramps as in the options; the flow of a burst of few samples as usual. Those of the rest are
/// so wide that they only regularise the equations if the log is cut in a pour.
fn add_prior(group: &Group, interval_s: f64, o: &SegmentOptions, a: &mut [f64], rhs: &mut [f64]) {
    let p = group.size();
    a[0] += 1e-6;
    for (k, burst) in group.bursts.iter().enumerate() {
        let at = 1 + PARAMETERS * k;
        for (i, ramp) in [(1, burst.rise_ramp_s), (3, burst.fall_ramp_s)] {
            let information = 1.0 / (o.ramp_sd_s * o.ramp_sd_s);
            a[(at + i) * (p + 1)] += information;
            rhs[at + i] += (o.ramp_s - ramp) * information;
        }
        a[at * (p + 1)] += 1.0;
        a[(at + 2) * (p + 1)] += 1.0;
        let flow = burst.flow_g_per_s;
        a[(at + 4) * (p + 1)] += 1.0 / (flow * flow);
        if burst.fall_s - burst.rise_s < FEW_SAMPLES * interval_s {
            let information = (flow * LOG_FLOW_SD).powi(-2);
            a[(at + 4) * (p + 1)] += information;
            rhs[at + 4] += flow * (USUAL_FLOW_G_PER_S / flow).ln() * information;
        }
    }
}

/// Covariance of (group's parameters, logarithm of the lag, lead), the uncertainty of the last two included.
fn joint_covariance(inverse: &[f64], by: &[Vec<f64>; 2], scale: &[[f64; 2]; 2]) -> Vec<f64> {
    let p = by[0].len();
    let n = p + 2;
    let mut c = vec![0.0; n * n];
    // by * scale, one row per parameter.
    let spread = |i: usize, k: usize| by[0][i] * scale[0][k] + by[1][i] * scale[1][k];
    for i in 0..p {
        for j in 0..p {
            c[i * n + j] = inverse[i * p + j] + spread(i, 0) * by[0][j] + spread(i, 1) * by[1][j];
        }
        for k in 0..2 {
            c[i * n + p + k] = -spread(i, k);
            c[(p + k) * n + i] = -spread(i, k);
        }
    }
    for k in 0..2 {
        c[(p + k) * n + p..][..2].copy_from_slice(&scale[k]);
    }
    c
}

/// Applies a step to a group, no instant by more than 0.3 s; returns the largest change.
fn apply_step(group: &mut Group, step: &[f64]) -> f64 {
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
        // The rise ends before the fall begins.
        let room = burst.fall_s - burst.rise_s;
        burst.rise_ramp_s = (burst.rise_ramp_s + step[1]).clamp(MIN_RAMP_S, room.max(MIN_RAMP_S));
        burst.fall_ramp_s = (burst.fall_ramp_s + step[3]).clamp(MIN_RAMP_S, room.max(MIN_RAMP_S));
    }
    largest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn subtracting_the_information_of_a_group_leaves_the_rest() {
        let prior = ScaleInformation { information: [[4.0, 0.0], [0.0, 25.0]], rhs: [1.0, 5.0] };
        let group = ScaleInformation { information: [[3.0, 1.0], [1.0, 7.0]], rhs: [-2.0, 4.0] };
        // 5/25 from 0.1, and 1/sqrt(25).
        let lead = prior.plus(&group, 1.0).plus(&group, -1.0).lead(0.1);
        assert!((lead.value - 0.3).abs() < 1e-12 && (lead.sd - 0.2).abs() < 1e-12);
        // (7, 1; 1, 32) x = (-1, 9) has the determinant 223, and its second unknown is (63 + 1)/223.
        let lead = prior.plus(&group, 1.0).lead(0.1);
        assert!((lead.value - 0.1 - 64.0 / 223.0).abs() < 1e-12);
    }
}
