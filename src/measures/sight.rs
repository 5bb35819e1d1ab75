//! In: the samples around a pour and the fitted bursts. Out: what the scale saw of it beside the bursts, as the normal equations of
//! beats of given frequencies.
//!
//! A beat is a flow `level (a cos + b sin)` that runs while water arrives; the scale reads its integral through the lag, in closed form.
//! What the bursts' own parameters can explain is projected out. Rows are weighted by the scale's noise and the wander of its zero.

use crate::math::solve::{cholesky, solve};
use crate::segment::shape::{Burst, PARAMETERS};
use crate::segment::{Fit, Group, Samples};
use std::f64::consts::TAU;

/// How far before a pour the level is looked for, s.
const BEFORE_S: f64 = 1.5;

/// A rounding smaller than this share of the step is left to the noise.
const LEAST_ROUNDING: f64 = 0.01;
/// Most frequencies of one pour; in one that lasts minutes they stand further apart.
const MOST: usize = 200;
/// The slow change over a pour: expected sd of its share of the flow.
const SLOW: f64 = 0.05;

/// The readings of one pour, less what the bursts explain.
pub(super) struct Sight {
    pub bursts: Vec<Burst>,
    pub tau_s: f64,
    pub tau_sd_s: f64,
    time_s: Vec<f64>,
    residual_g: Vec<f64>,
    noise_var: Vec<f64>,
    zero_g: f64,
    rounding: Option<Rounding>,
}

/// What a readout in steps leaves of itself: a beat whose phase is the reading itself, in turns of a step.
struct Rounding {
    turns: Vec<f64>,
    /// Its expected sd, g.
    sd_g: f64,
}

/// Normal equations of beats: two unknowns a frequency, shares of the level.
pub(super) struct Equations {
    pub hz: Vec<f64>,
    /// Information, `2 hz.len()` square, row by row, and pull.
    pub information: Vec<f64>,
    pub pull: Vec<f64>,
    /// Squared misfit without any beat, and its degrees of freedom.
    pub misfit: f64,
    pub degrees: f64,
    nuisance: Nuisance,
}

/// What one beat beside the slow change explains.
pub(super) struct Beat {
    /// Half of the fall of chi-square.
    pub gain: f64,
    /// Square of the amplitude, a share of the level, and the part of it that noise gives.
    pub square: f64,
    pub noise_var: f64,
}

/// Base and the bursts' parameters: factor of their information, what they share with the beats, their pull.
struct Nuisance {
    factor: Vec<f64>,
    shared: Vec<f64>,
    pull: Vec<f64>,
}

impl Sight {
    /// Samples from the rest before to the rest after the bursts `first..=last` of a group.
    pub(super) fn new(
        x: &Samples,
        step_g: f64,
        fit: &Fit,
        group: &Group,
        first: usize,
        last: usize,
    ) -> Option<Self> {
        let bursts = group.bursts.get(first..=last)?.to_vec();
        let tau_s = fit.tau_s.value;
        let settled = 3.0 * tau_s;
        let (start, end) = (bursts[0].start_s(), bursts.last()?.end_s());
        let after = first.checked_sub(1).map_or(f64::NEG_INFINITY, |k| group.bursts[k].end_s() + settled);
        let until = group.bursts.get(last + 1).map_or(f64::INFINITY, Burst::start_s);
        let kept = |&i: &usize| {
            let t = x.time_s[i];
            t > (start - BEFORE_S).max(after) && t < (end + settled + BEFORE_S).min(until)
        };
        let index: Vec<usize> = (group.from..group.to).filter(kept).collect();
        let stamp = fit.wander.stamp_sd_s;
        let flow = |t: f64| bursts.iter().map(|b| b.flow_at(t + tau_s / 2.0)).sum::<f64>();
        let reading: Vec<f64> = index.iter().map(|&i| group.reading(x.time_s[i], tau_s)).collect();
        let sd_g = x.rounding_var_g2.sqrt();
        let turns = || reading.iter().map(|r| r / step_g).collect();
        let rounding = (sd_g > LEAST_ROUNDING * step_g).then(|| Rounding { turns: turns(), sd_g });
        Some(Self {
            rounding,
            time_s: index.iter().map(|&i| x.time_s[i]).collect(),
            residual_g: index.iter().zip(&reading).map(|(&i, r)| x.mass_g[i] - r).collect(),
            noise_var: index
                .iter()
                .map(|&i| fit.wander.noise_sd_g.powi(2) + (flow(x.time_s[i]) * stamp).powi(2))
                .collect(),
            zero_g: fit.wander.zero_g,
            bursts,
            tau_s,
            tau_sd_s: fit.tau_s.sd,
        })
    }

    pub(super) fn time_s(&self) -> &[f64] {
        &self.time_s
    }

    /// Number of samples while water arrives.
    pub(super) fn samples(&self) -> usize {
        let inside = |t: &&f64| self.bursts.iter().any(|b| b.rise_s < **t && **t < b.fall_s);
        self.time_s.iter().filter(inside).count()
    }

    /// Time from the first rise to the last fall, s.
    pub(super) fn duration_s(&self) -> f64 {
        self.bursts.last().map_or(0.0, |b| b.fall_s) - self.start_s()
    }

    /// Instant at which the phase of the beats is counted from, s.
    pub(super) fn start_s(&self) -> f64 {
        self.bursts[0].rise_s
    }

    pub(super) fn equations(&self, hz: &[f64]) -> Option<Equations> {
        let n = 2 * hz.len();
        let mut columns: Vec<Vec<f64>> = self.of_bursts();
        let p = columns.len();
        for &hz in hz {
            columns.extend(self.beat(TAU * hz));
        }
        columns.push(self.residual_g.clone());
        self.whiten(&mut columns);
        let dot = |i: usize, j: usize| columns[i].iter().zip(&columns[j]).map(|(a, b)| a * b).sum::<f64>();
        let mut factor: Vec<f64> = (0..p * p).map(|k| dot(k / p, k % p)).collect();
        for (k, own) in self.expected().iter().enumerate() {
            factor[k * (p + 1)] += own;
        }
        if !cholesky(&mut factor, p) {
            return None;
        }
        let last = p + n;
        let pull: Vec<f64> = (0..p).map(|i| dot(i, last)).collect();
        // The part of each column that the nuisance explains, in the factor's own frame.
        let shared: Vec<f64> = (0..p * n).map(|k| dot(k % p, p + k / p)).collect();
        let mut explained = shared.clone();
        explained.chunks_exact_mut(p).for_each(|column| forward(&factor, p, column));
        let mut pulled = pull.clone();
        forward(&factor, p, &mut pulled);
        let part = |j: usize| &explained[j * p..(j + 1) * p];
        let inner = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let mut information = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..=i {
                let value = dot(p + i, p + j) - inner(part(i), part(j));
                information[i * n + j] = value;
                information[j * n + i] = value;
            }
        }
        Some(Equations {
            hz: hz.to_vec(),
            information,
            pull: (0..n).map(|j| dot(p + j, last) - inner(part(j), &pulled)).collect(),
            misfit: dot(last, last) - inner(&pulled, &pulled),
            degrees: self.time_s.len() as f64 - p as f64,
            nuisance: Nuisance { factor, shared, pull },
        })
    }

    /// Columns of the base, of the bursts' parameters and of the rounding.
    fn of_bursts(&self) -> Vec<Vec<f64>> {
        let mut columns = vec![vec![1.0; self.time_s.len()]];
        for burst in &self.bursts {
            let by: Vec<[f64; PARAMETERS]> =
                self.time_s.iter().map(|&t| burst.reading(t, self.tau_s).1).collect();
            columns.extend((0..PARAMETERS).map(|k| by.iter().map(|row| row[k]).collect()));
        }
        if let Some(rounding) = &self.rounding {
            let part = |of: fn(f64) -> f64| rounding.turns.iter().map(|t| of(TAU * t)).collect();
            columns.extend([part(f64::cos), part(f64::sin)]);
        }
        columns
    }

    /// What is expected of the bursts beside the readings, as information: no more than keeps the equations solvable; ramps within 0.2 s.
    fn expected(&self) -> Vec<f64> {
        let own = |b: &Burst| [1.0, 25.0, 1.0, 25.0, b.flow_g_per_s.powi(-2)];
        let rounding = self.rounding.iter().flat_map(|r| [r.sd_g.powi(-2); 2]);
        std::iter::once(1e-6).chain(self.bursts.iter().flat_map(own)).chain(rounding).collect()
    }

    /// Readings of a beat: of its cosine and of its sine.
    ///
    /// Of a flow `e^(i w t)` from `a` on, the water is `(e^(i w t) - e^(i w a)) / (i w)`; a first-order lag holds back
    /// `(e^(i w t) - e^(i w a) e^(-(t - a) / tau)) / (i w + 1 / tau)` of it, and lets that go with its time constant once the flow ends.
    fn beat(&self, w: f64) -> [Vec<f64>; 2] {
        let kappa = 1.0 / self.tau_s;
        let mut out = [vec![0.0; self.time_s.len()], vec![0.0; self.time_s.len()]];
        for burst in &self.bursts {
            let (a, b) = (burst.rise_s, burst.fall_s);
            let phase = |t: f64| (w * (t - self.start_s())).sin_cos();
            let (sin_a, cos_a) = phase(a);
            for (k, &t) in self.time_s.iter().enumerate() {
                if t <= a {
                    continue;
                }
                let until = t.min(b);
                let (sin, cos) = phase(until);
                let keep = (-kappa * (until - a)).exp();
                let release = (-kappa * (t - until)).exp() / (kappa * kappa + w * w);
                // Division by i w turns (cos, sin) into (sin, -cos) / w; by kappa + i w as written.
                let (re, im) = (cos - cos_a * keep, sin - sin_a * keep);
                out[0][k] +=
                    burst.flow_g_per_s * ((sin - sin_a) / w - release * (kappa * re + w * im));
                out[1][k] +=
                    burst.flow_g_per_s * ((cos_a - cos) / w - release * (kappa * im - w * re));
            }
        }
        out
    }

    /// Innovations of white noise on a zero that walks, in units of their sd.
    fn whiten(&self, columns: &mut [Vec<f64>]) {
        let (mut var, mut before) = (0.0, self.time_s.first().copied().unwrap_or(0.0));
        let steps: Vec<(f64, f64)> = self
            .time_s
            .iter()
            .zip(&self.noise_var)
            .map(|(&t, &noise)| {
                var += self.zero_g.powi(2) * (t - before);
                before = t;
                let s = var + noise;
                let gain = var / s;
                var *= 1.0 - gain;
                (gain, 1.0 / s.sqrt())
            })
            .collect();
        for column in columns {
            let mut mean = 0.0;
            for (x, (gain, scale)) in column.iter_mut().zip(&steps) {
                let v = *x - mean;
                mean += gain * v;
                *x = v * scale;
            }
        }
    }
}

impl Equations {
    /// Frequencies from one turn of the pour up to `fastest_hz`, so close that a beat between two of them is not lost; the first is half
    /// a turn.
    pub(super) fn frequencies(duration_s: f64, fastest_hz: f64) -> Vec<f64> {
        let step = (0.5 / duration_s).max(fastest_hz / MOST as f64);
        let slow = std::iter::once(step);
        slow.chain((2..).map(|k| f64::from(k) * step).take_while(|f| *f <= fastest_hz)).collect()
    }

    /// The bursts as they are expected where the beats are `c`, moved by `noise` in units of what is open about them.
    pub(super) fn bursts(&self, c: &[(usize, f64)], noise: &[f64], bursts: &[Burst]) -> Vec<Burst> {
        let p = self.nuisance.pull.len();
        let mut pull = self.nuisance.pull.clone();
        for &(j, value) in c {
            let shared = &self.nuisance.shared[j * p..(j + 1) * p];
            pull.iter_mut().zip(shared).for_each(|(x, s)| *x -= s * value);
        }
        solve(&self.nuisance.factor, p, &mut pull);
        let mut moved = noise[..p].to_vec();
        backward(&self.nuisance.factor, p, &mut moved);
        pull.iter_mut().zip(&moved).for_each(|(x, m)| *x += m);
        bursts.iter().zip(pull[1..].chunks_exact(PARAMETERS)).map(|(b, by)| b.moved(by)).collect()
    }

    /// Information that is expected of the slow change.
    pub(super) fn slow_information() -> f64 {
        1.0 / (SLOW * SLOW)
    }

    /// The beat of frequency `k`, the slow change taken out.
    pub(super) fn beat(&self, k: usize) -> Beat {
        let n = self.pull.len();
        let index = [0, 1, 2 * k, 2 * k + 1];
        let mut a: Vec<f64> = index.iter().flat_map(|i| index.map(|j| self.information[i * n + j])).collect();
        let mut pull = index.map(|i| self.pull[i]);
        let none = Beat { gain: 0.0, square: 0.0, noise_var: 0.0 };
        (a[0], a[5]) = (a[0] + Self::slow_information(), a[5] + Self::slow_information());
        if !cholesky(&mut a, 4) {
            return none;
        }
        forward(&a, 4, &mut pull);
        let gain = 0.5 * (pull[2] * pull[2] + pull[3] * pull[3]);
        backward(&a, 4, &mut pull);
        // Covariance of the last two unknowns from the last block of the factor.
        let (p, q, r) = (a[10], a[14], a[15]);
        let noise_var = 1.0 / (p * p) + (q / (p * r)).powi(2) + 1.0 / (r * r);
        Beat { gain, square: pull[2] * pull[2] + pull[3] * pull[3], noise_var }
    }

    /// Number of unknowns beside the beats.
    pub(super) fn open(&self) -> usize {
        self.nuisance.pull.len()
    }
}

/// Solves `L x = b` in place.
fn forward(l: &[f64], n: usize, b: &mut [f64]) {
    for i in 0..n {
        let known: f64 = l[i * n..i * n + i].iter().zip(&b[..i]).map(|(l, x)| l * x).sum();
        b[i] = (b[i] - known) / l[i * n + i];
    }
}

/// Solves `L' x = b` in place.
pub(super) fn backward(l: &[f64], n: usize, b: &mut [f64]) {
    for i in (0..n).rev() {
        let tail: f64 = (i + 1..n).map(|k| l[k * n + i] * b[k]).sum();
        b[i] = (b[i] - tail) / l[i * n + i];
    }
}

