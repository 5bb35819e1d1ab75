//! In: the samples and a fit. Out: the fit one Gauss-Newton step on.

use crate::estimate::Estimate;
use crate::math::solve::{cholesky, inverse, solve};
use crate::model::burst::{MIN_RAMP_S, PARAMETERS};
use crate::model::samples::Samples;
use crate::model::scale::Scale;
use crate::model::transitions::Disturbance;
use crate::segment::fitted::{Expected, Fit, Group};
use crate::segment::options::SegmentOptions;

/// Fewer samples than this in a burst tell its mass and its middle, and hardly whether much came in a moment or less for longer: what hands do is told to it.
const FEW_SAMPLES: f64 = 3.0;
/// Flow of a pour, g/s, and the sd of its logarithm (common practice, no source).
const USUAL_FLOW_G_PER_S: f64 = 8.0;
const LOG_FLOW_SD: f64 = 0.6;

/// What a step did.
pub(super) struct Moved {
    /// Largest change of an instant, s.
    pub largest_s: f64,
    /// Minus twice the logarithm of the marginal likelihood before the step, up to a constant.
    pub deviance: f64,
    /// What each group knew at the step, none where its equations had no solution.
    pub known: Vec<Option<Known>>,
    /// The lead before the step moved on, as it would be found without the word of one group after the other of those that speak.
    pub leads_s: Vec<Estimate>,
}

impl Moved {
    /// Before any step.
    pub(super) fn none() -> Self {
        Self { largest_s: f64::INFINITY, deviance: f64::INFINITY, known: Vec::new(), leads_s: Vec::new() }
    }
}

/// What one group says, its own parameters eliminated.
pub(super) struct Known {
    /// Cholesky factor of the information on its own parameters.
    factor: Vec<f64>,
    /// How they move with the scale's two numbers, and the covariance of these.
    by_scale: [Vec<f64>; 2],
    scale: [[f64; 2]; 2],
    excess: f64,
}

impl Known {
    /// Covariance of (group's parameters, logarithm of the lag, lead). For the last step alone: of many bursts it takes longer than the step.
    pub(super) fn covariance(&self) -> Vec<f64> {
        let mut own = inverse(&self.factor, self.by_scale[0].len());
        own.iter_mut().for_each(|c| *c *= self.excess);
        joint_covariance(&own, &self.by_scale, &self.scale)
    }
}

/// What is said of the scale's two numbers, the logarithm of its lag and its lead: information on them, and where it pulls them.
struct Word {
    information: [[f64; 2]; 2],
    pull: [f64; 2],
}

impl Word {
    /// With so many times another.
    fn plus(&self, other: &Self, times: f64) -> Self {
        let information = |k: usize, l: usize| self.information[k][l] + times * other.information[k][l];
        Self {
            information: [0, 1].map(|k| [0, 1].map(|l| information(k, l))),
            pull: [0, 1].map(|k| self.pull[k] + times * other.pull[k]),
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

    /// How far the two would move.
    fn solved(&self) -> [f64; 2] {
        self.covariance().map(|row| row[0] * self.pull[0] + row[1] * self.pull[1])
    }

    /// The lead that it leads to from one.
    fn lead(&self, from_s: f64) -> Estimate {
        Estimate::new(from_s + self.solved()[1], self.covariance()[1][1].sqrt())
    }
}

/// One damped Gauss-Newton step on all groups and the scale, or a share of it.
pub(super) fn improve(
    x: &Samples,
    fit: &mut Fit,
    expected: &Expected,
    o: &SegmentOptions,
    share: f64,
) -> Moved {
    let Scale { tau_s, lead_s } = fit.disturbance.scale;
    // The scale's information starts with what was expected of it.
    let information = [expected.log_tau_s, expected.lead_s].map(|e| 1.0 / (e.sd * e.sd));
    let off = [expected.log_tau_s.value - tau_s.ln(), expected.lead_s.value - lead_s];
    let mut all = Word {
        information: [[information[0], 0.0], [0.0, information[1]]],
        pull: [off[0] * information[0], off[1] * information[1]],
    };
    let mut deviance =
        off[0] * all.pull[0] + off[1] * all.pull[1] - information[0].ln() - information[1].ln();
    let mut known = Vec::with_capacity(fit.groups.len());
    let mut words: Vec<Word> = Vec::new();
    let mut steps = Vec::with_capacity(fit.groups.len());
    for group in &fit.groups {
        let p = group.size();
        let rows = Rows::new(x, group, fit.disturbance.scale);
        let mut n = normal(x, group, rows, &fit.disturbance, o);
        if !cholesky(&mut n.a, p) {
            known.push(None);
            steps.push(Vec::new());
            continue;
        }
        // A group that its samples contradict says less than it claims to.
        let samples = (group.to - group.from) as f64;
        let excess = (n.deviance / samples).max(1.0);
        let by_scale = n.cross.each_ref().map(|cross| {
            let mut by = cross.clone();
            solve(&n.a, p, &mut by);
            by
        });
        let dot = |u: &[f64], v: &[f64]| u.iter().zip(v).map(|(a, b)| a * b).sum::<f64>();
        if group.speaks {
            let word = Word {
                information: [0, 1]
                    .map(|k| [0, 1].map(|l| (n.scale[k][l] - dot(&n.cross[k], &by_scale[l])) / excess)),
                pull: [0, 1].map(|k| (n.scale_pull[k] - dot(&by_scale[k], &n.pull)) / excess),
            };
            all = all.plus(&word, 1.0);
            words.push(word);
        }
        let mut step = n.pull.clone();
        solve(&n.a, p, &mut step);
        let freedom: f64 = (0..p).map(|i| 2.0 * n.a[i * (p + 1)].ln()).sum();
        if group.speaks {
            deviance +=
                (n.deviance - dot(&step, &n.pull)) / excess + n.log_det + samples * excess.ln() + freedom;
        }
        known.push(Some(Known { factor: n.a, by_scale, scale: [[0.0; 2]; 2], excess }));
        steps.push(step);
    }
    let leads_s = words.iter().map(|word| all.plus(word, -1.0).lead(lead_s)).collect();
    let covariance = all.covariance();
    let by = all.solved();
    let moves = [share * by[0].clamp(-0.5, 0.5), share * by[1].clamp(-0.1, 0.1)];
    deviance += all.determinant().ln() - by[0] * all.pull[0] - by[1] * all.pull[1];
    let mut largest_s = (moves[0] * tau_s).abs().max(moves[1].abs());
    for ((group, known), mut step) in fit.groups.iter_mut().zip(&mut known).zip(steps) {
        let Some(known) = known else { continue };
        group.excess = known.excess;
        known.scale = covariance;
        step.iter_mut().for_each(|s| *s *= share);
        for (by, moved) in known.by_scale.iter().zip(moves) {
            step.iter_mut().zip(by).for_each(|(s, b)| *s -= b * moved);
        }
        largest_s = largest_s.max(take(group, &step));
    }
    let tau_s = (tau_s.ln() + moves[0]).exp().clamp(1e-3, 5.0);
    let lead_s = lead_s + moves[1];
    fit.disturbance.scale = Scale { tau_s, lead_s };
    fit.tau_s = Estimate::new(tau_s, tau_s * covariance[0][0].sqrt());
    fit.lead_s = Some(Estimate::new(lead_s, covariance[1][1].sqrt()));
    Moved { largest_s, deviance, known, leads_s }
}

/// Normal equations of a group, what is expected beforehand included.
pub(super) struct Normal {
    /// Information on (base, parameters), and their pull.
    pub a: Vec<f64>,
    pub pull: Vec<f64>,
    /// Information that they share with the scale's two numbers, one after the other.
    cross: [Vec<f64>; 2],
    /// Information on these two, and their pull.
    scale: [[f64; 2]; 2],
    scale_pull: [f64; 2],
    /// Sum of squared whitened residuals, and the logarithm of the determinant of the samples' covariance.
    pub deviance: f64,
    pub log_det: f64,
}

/// What a group's samples show, a row each: the gradient to (base, parameters), to the logarithm of the lag and to the lead, and the residual.
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
                let found = burst.reading(t, scale);
                reading += found.value_g;
                row[1 + PARAMETERS * k..][..PARAMETERS].copy_from_slice(&found.by_parameter);
                row[p] += found.by_scale[0] * scale.tau_s;
                row[p + 1] += found.by_scale[1];
            }
            row[p + 2] = y - reading;
        }
        Self(rows)
    }
}

/// `rows` are those of the group under the scale of `wander`.
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
    let mut pull: Vec<f64> = (0..p).map(|i| at(i, p + 2)).collect();
    expect(group, x.interval_s, o, &mut a, &mut pull);
    Normal {
        a,
        pull,
        cross: [p, p + 1].map(|j| (0..p).map(|i| at(i, j)).collect()),
        scale: [p, p + 1].map(|i| [at(i, p), at(i, p + 1)]),
        scale_pull: [at(p, p + 2), at(p + 1, p + 2)],
        deviance: at(p + 2, p + 2),
        log_det,
    }
}

/// Adds what is expected beforehand: ramps as stated in the options; the flow of a burst of few samples as hands pour; the rest so loosely that it only keeps the equations solvable
/// where the log is cut in a pour.
fn expect(group: &Group, interval_s: f64, o: &SegmentOptions, a: &mut [f64], pull: &mut [f64]) {
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
        let flow = burst.flow_g_per_s;
        a[(at + 4) * (p + 1)] += 1.0 / (flow * flow);
        if burst.fall_s - burst.rise_s < FEW_SAMPLES * interval_s {
            let information = (flow * LOG_FLOW_SD).powi(-2);
            a[(at + 4) * (p + 1)] += information;
            pull[at + 4] += flow * (USUAL_FLOW_G_PER_S / flow).ln() * information;
        }
    }
}

/// Covariance of (group's parameters, logarithm of the lag, lead) once the uncertainty of these two is let in.
fn joint_covariance(inverse: &[f64], by: &[Vec<f64>; 2], scale: &[[f64; 2]; 2]) -> Vec<f64> {
    let p = by[0].len();
    let n = p + 2;
    let mut c = vec![0.0; n * n];
    // by * scale, a row a parameter.
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_its_word_a_group_has_said_nothing() {
        let expected = Word { information: [[4.0, 0.0], [0.0, 25.0]], pull: [1.0, 5.0] };
        let group = Word { information: [[3.0, 1.0], [1.0, 7.0]], pull: [-2.0, 4.0] };
        // By hand: 5/25 from 0.1, and 1/sqrt(25).
        let lead = expected.plus(&group, 1.0).plus(&group, -1.0).lead(0.1);
        assert!((lead.value - 0.3).abs() < 1e-12 && (lead.sd - 0.2).abs() < 1e-12);
        // By hand: (7, 1; 1, 32) x = (-1, 9) has the determinant 223, and its second unknown is (63 + 1)/223.
        let lead = expected.plus(&group, 1.0).lead(0.1);
        assert!((lead.value - 0.1 - 64.0 / 223.0).abs() < 1e-12);
    }
}
