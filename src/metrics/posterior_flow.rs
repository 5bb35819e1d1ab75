//! In: what the scale saw of a pour. Out: flows that the hand may have poured, as likely as each other.
//!
//! Every measure is taken on each of them by its plain definition; its value is their mean, and its sd theirs with that of the mean. So what smoothing would
//! take from a flow, and what noise would add to it, is neither in the value nor forgotten in the sd.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::metrics::curve::Curve;
use crate::metrics::equations::Equations;
use crate::metrics::observation::Observation;
use crate::metrics::options::MetricsOptions;
use crate::metrics::sampler::{Draw, posterior};
use crate::model::burst::Burst;
use std::f64::consts::TAU;
use std::ops::RangeInclusive;

/// Longest pour of which flows are drawn, s. What takes longer is no hand, and its flows would fill the memory.
pub(super) const LONGEST_S: f64 = 600.0;

/// Steps of a drawn curve in the fastest beat, and the longest one, s: ten of them in a usual ramp.
const STEPS: f64 = 10.0;
const LONGEST_STEP_S: f64 = 0.04;
/// Most steps from sample to sample: logs slower than one a second have longer ones, or a log of hours would take as many as one of few samples cannot use.
const MOST_BETWEEN: f64 = 25.0;

/// Flows that one pour may have had.
pub(super) struct PosteriorFlow {
    pub curves: Vec<Curve>,
    /// Odds of a beat against none, over those before the log was seen.
    pub favours_beats: f64,
}

impl PosteriorFlow {
    /// `part`: the time of the bursts that is the pour's.
    pub(super) fn new(
        observation: &Observation,
        e: &Equations,
        part: &RangeInclusive<f64>,
        o: &MetricsOptions,
        seed: u64,
    ) -> Self {
        let posterior = posterior(e, o.usual_flow_cv, o.draws, seed);
        let curves = posterior.draws.iter().filter_map(|draw| curve(observation, e, draw, part, o)).collect();
        Self { curves, favours_beats: posterior.favours_beats }
    }

    /// Mean and sd of a measure over the flows; `why` it is undefined where it is so for more than half of them.
    pub(super) fn estimate(&self, measure: impl Fn(&Curve) -> Option<f64>, why: &str) -> Maybe {
        self.of_some(1, measure, why)
    }

    /// The same over every `every`th flow, for what takes long.
    pub(super) fn of_some(&self, every: usize, measure: impl Fn(&Curve) -> Option<f64>, why: &str) -> Maybe {
        let some = self.curves.iter().step_by(every);
        let values: Vec<f64> = some.filter_map(measure).filter(|v| v.is_finite()).collect();
        if values.is_empty() || 2 * every * values.len() < self.curves.len() {
            return Err(Undefined::because(why));
        }
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let var = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
        // The mean of so many flows is itself off by a little.
        Ok(Estimate::new(mean, (var * (1.0 + 1.0 / n)).sqrt()))
    }
}

fn curve(
    observation: &Observation,
    e: &Equations,
    draw: &Draw,
    part: &RangeInclusive<f64>,
    o: &MetricsOptions,
) -> Option<Curve> {
    let finest_s = observation.interval_s / MOST_BETWEEN;
    let step_s = LONGEST_STEP_S.min(1.0 / (STEPS * o.fastest_hz)).max(finest_s);
    let bursts = e.bursts(&draw.beats, &draw.noise, &observation.bursts);
    let begin_s = bursts.iter().map(Burst::start_s).fold(f64::INFINITY, f64::min) - step_s;
    let start_s = begin_s.max(*part.start());
    let end_s = (bursts.iter().map(Burst::end_s).fold(begin_s, f64::max) + step_s).min(*part.end());
    // An edge that is hardly known may be drawn anywhere.
    if end_s <= start_s || end_s - start_s > 2.0 * LONGEST_S {
        return None;
    }
    let tau_s = (observation.scale.tau_s + draw.lag * observation.tau_sd_s).max(0.0);
    let mut share = vec![1.0; ((end_s - start_s) / step_s).ceil() as usize + 1];
    for pair in draw.beats.chunks_exact(2) {
        let w = TAU * e.hz[pair[0].0 / 2];
        // A slower scale would show less of the same beat.
        let gain = (1.0 + (w * tau_s).powi(2)).sqrt() / (1.0 + (w * observation.scale.tau_s).powi(2)).sqrt();
        add_beat(
            &mut share,
            w * step_s,
            w * (start_s - observation.start_s()),
            gain * pair[0].1,
            gain * pair[1].1,
        );
    }
    let mut flow = vec![0.0; share.len()];
    for burst in &bursts {
        // Nothing flows outside of it.
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

/// Adds `a cos + b sin` of an angle that starts at `angle` and grows by `turn` from one to the next.
fn add_beat(share: &mut [f64], turn: f64, angle: f64, a: f64, b: f64) {
    // Pointers side by side, each turned by as many steps: none waits for the one before it.
    const SIDE: usize = 4;
    let (turn_sin, turn_cos) = (SIDE as f64 * turn).sin_cos();
    let mut cos: [f64; SIDE] = std::array::from_fn(|k| (angle + k as f64 * turn).cos());
    let mut sin: [f64; SIDE] = std::array::from_fn(|k| (angle + k as f64 * turn).sin());
    let mut chunks = share.chunks_exact_mut(SIDE);
    for chunk in &mut chunks {
        for k in 0..SIDE {
            chunk[k] += a * cos[k] + b * sin[k];
            (cos[k], sin[k]) = (cos[k] * turn_cos - sin[k] * turn_sin, sin[k] * turn_cos + cos[k] * turn_sin);
        }
    }
    let last = chunks.into_remainder().iter_mut().zip(cos.iter().zip(&sin));
    last.for_each(|(share, (cos, sin))| *share += a * cos + b * sin);
}
