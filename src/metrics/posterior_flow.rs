//! In: the observations of a pour. Out: flow curves sampled from the posterior.
//!
//! Each metric is evaluated on each curve by its plain definition. Its value is the mean, and its sd that of
//! the values with that of their mean. Smoothing and noise therefore do not bias the value, and the sd includes
//! them.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::metrics::curve::Curve;
use crate::metrics::equations::Equations;
use crate::metrics::observation::Observation;
use crate::metrics::options::MetricsOptions;
use crate::metrics::sampler::{Sample, posterior};
use crate::model::burst::Burst;
use std::f64::consts::TAU;
use std::ops::RangeInclusive;

/// Longest pour of which flow curves are sampled, s. Longer ones would fill the memory.
pub(super) const LONGEST_S: f64 = 600.0;

/// Steps of a sampled curve per period of the fastest oscillation, and the longest step, s: about ten in a
/// usual ramp.
const STEPS: f64 = 10.0;
const LONGEST_STEP_S: f64 = 0.04;
/// Largest number of steps between two samples: it bounds the size of the curves of a slow log that lasts
/// hours.
const MAX_BETWEEN: f64 = 25.0;

/// Sampled flow curves of one pour.
pub(super) struct PosteriorFlow {
    pub curves: Vec<Curve>,
    /// Bayes factor for oscillations against none.
    pub bayes_factor: f64,
}

impl PosteriorFlow {
    /// `part`: the part of the bursts' time that belongs to the pour.
    pub(super) fn new(
        observation: &Observation,
        e: &Equations,
        part: &RangeInclusive<f64>,
        o: &MetricsOptions,
        seed: u64,
    ) -> Self {
        let posterior = posterior(e, o.usual_flow_cv, o.draws, seed);
        let curves =
            posterior.samples.iter().filter_map(|sample| curve(observation, e, sample, part, o)).collect();
        Self { curves, bayes_factor: posterior.bayes_factor }
    }

    /// Mean and sd of a metric over the curves; undefined, with the reason `why`, if it is so for more than
    /// half of them.
    pub(super) fn estimate(&self, metric: impl Fn(&Curve) -> Option<f64>, why: &str) -> Maybe {
        self.of_some(1, metric, why)
    }

    /// The same over every `every`th curve, for a metric that is slow to compute.
    pub(super) fn of_some(&self, every: usize, metric: impl Fn(&Curve) -> Option<f64>, why: &str) -> Maybe {
        let some = self.curves.iter().step_by(every);
        let values: Vec<f64> = some.filter_map(metric).filter(|v| v.is_finite()).collect();
        if values.is_empty() || 2 * every * values.len() < self.curves.len() {
            return Err(Undefined::because(why));
        }
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let var = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
        // The sd includes the Monte Carlo error of the mean.
        Ok(Estimate::new(mean, (var * (1.0 + 1.0 / n)).sqrt()))
    }
}

fn curve(
    observation: &Observation,
    e: &Equations,
    sample: &Sample,
    part: &RangeInclusive<f64>,
    o: &MetricsOptions,
) -> Option<Curve> {
    let finest_s = observation.interval_s / MAX_BETWEEN;
    let step_s = LONGEST_STEP_S.min(1.0 / (STEPS * o.fastest_hz)).max(finest_s);
    let bursts = e.bursts(&sample.oscillations, &sample.noise, &observation.bursts);
    let begin_s = bursts.iter().map(Burst::start_s).fold(f64::INFINITY, f64::min) - step_s;
    let start_s = begin_s.max(*part.start());
    let end_s = (bursts.iter().map(Burst::end_s).fold(begin_s, f64::max) + step_s).min(*part.end());
    // A poorly identified edge may be sampled far away.
    if end_s <= start_s || end_s - start_s > 2.0 * LONGEST_S {
        return None;
    }
    let tau_s = (observation.scale.tau_s + sample.lag * observation.tau_sd_s).max(0.0);
    let mut share = vec![1.0; ((end_s - start_s) / step_s).ceil() as usize + 1];
    for pair in sample.oscillations.chunks_exact(2) {
        let w = TAU * e.hz[pair[0].0 / 2];
        // A larger lag attenuates an oscillation more, so the same reading means a larger amplitude.
        let gain = (1.0 + (w * tau_s).powi(2)).sqrt() / (1.0 + (w * observation.scale.tau_s).powi(2)).sqrt();
        add_oscillation(
            &mut share,
            w * step_s,
            w * (start_s - observation.start_s()),
            gain * pair[0].1,
            gain * pair[1].1,
        );
    }
    let mut flow = vec![0.0; share.len()];
    for burst in &bursts {
        // The flow is 0 outside of it.
        let step = |t: f64| ((t - start_s) / step_s).max(0.0);
        let from = (step(burst.start_s()) as usize).min(flow.len());
        let to = (step(burst.end_s()).ceil() as usize + 1).clamp(from, flow.len());
        for (k, flow) in flow[from..to].iter_mut().enumerate() {
            *flow += burst.flow_at(start_s + step_s * (from + k) as f64);
        }
    }
    flow.iter_mut().zip(&share).for_each(|(flow, share)| *flow = (*flow * share).max(0.0));
    Curve::new(start_s, step_s, flow, o)
}

/// Adds `a cos + b sin` of an angle that starts at `angle` and grows by `turn` per step.
fn add_oscillation(share: &mut [f64], turn: f64, angle: f64, a: f64, b: f64) {
    // Independent rotations in parallel, each by as many steps, without a chain of dependencies.
    const LANES: usize = 4;
    let (turn_sin, turn_cos) = (LANES as f64 * turn).sin_cos();
    let mut cos: [f64; LANES] = std::array::from_fn(|k| (angle + k as f64 * turn).cos());
    let mut sin: [f64; LANES] = std::array::from_fn(|k| (angle + k as f64 * turn).sin());
    let mut chunks = share.chunks_exact_mut(LANES);
    for chunk in &mut chunks {
        for k in 0..LANES {
            chunk[k] += a * cos[k] + b * sin[k];
            (cos[k], sin[k]) = (cos[k] * turn_cos - sin[k] * turn_sin, sin[k] * turn_cos + cos[k] * turn_sin);
        }
    }
    let last = chunks.into_remainder().iter_mut().zip(cos.iter().zip(&sin));
    last.for_each(|(share, (cos, sin))| *share += a * cos + b * sin);
}
