//! In: what the scale saw of a pour. Out: flows that the hand may have poured, as likely as each other.
//!
//! Every measure is taken on each of them by its plain definition; its value is their mean and its sd theirs. So what smoothing would
//! take from a flow, and what noise would add to it, is neither in the value nor forgotten in the sd.

use super::MeasuresOptions;
use super::chain::{Draw, posterior};
use super::curve::Curve;
use super::equations::Equations;
use super::sight::Sight;
use crate::segment::shape::Burst;
use crate::{Estimate, Maybe, Undefined};
use std::f64::consts::TAU;
use std::ops::RangeInclusive;

/// Step of a drawn curve, s: the fastest beat takes 20 of them.
const STEP_S: f64 = 0.02;

/// Flows that one pour may have had.
pub(super) struct Hand {
    pub curves: Vec<Curve>,
    /// Odds of a beat against none, over those before the log was seen.
    pub favours_beats: f64,
}

impl Hand {
    /// `part`: the time of the bursts that is the pour's.
    pub(super) fn new(
        sight: &Sight,
        e: &Equations,
        part: &RangeInclusive<f64>,
        o: &MeasuresOptions,
        seed: u64,
    ) -> Self {
        let posterior = posterior(e, o.usual_steadiness, o.draws, seed);
        let curves = posterior.draws.iter().filter_map(|draw| curve(sight, e, draw, part, o)).collect();
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
        Ok(Estimate::new(mean, var.sqrt()))
    }
}

fn curve(
    sight: &Sight,
    e: &Equations,
    draw: &Draw,
    part: &RangeInclusive<f64>,
    o: &MeasuresOptions,
) -> Option<Curve> {
    let bursts = e.bursts(&draw.beats, &draw.noise, &sight.bursts);
    let begin_s = bursts.iter().map(Burst::start_s).fold(f64::INFINITY, f64::min) - STEP_S;
    let start_s = begin_s.max(*part.start());
    let end_s = (bursts.iter().map(Burst::end_s).fold(begin_s, f64::max) + STEP_S).min(*part.end());
    if end_s <= start_s {
        return None;
    }
    let tau_s = (sight.scale.tau_s + draw.lag * sight.tau_sd_s).max(0.0);
    let mut share = vec![1.0; ((end_s - start_s) / STEP_S).ceil() as usize + 1];
    for pair in draw.beats.chunks_exact(2) {
        let w = TAU * e.hz[pair[0].0 / 2];
        // A turning pointer: one sine for the start and one for the step.
        let (mut sin, mut cos) = (w * (start_s - sight.start_s())).sin_cos();
        let (step_sin, step_cos) = (w * STEP_S).sin_cos();
        // A slower scale would show less of the same beat.
        let gain = (1.0 + (w * tau_s).powi(2)).sqrt() / (1.0 + (w * sight.scale.tau_s).powi(2)).sqrt();
        let (a, b) = (gain * pair[0].1, gain * pair[1].1);
        for share in &mut share {
            *share += a * cos + b * sin;
            (cos, sin) = (cos * step_cos - sin * step_sin, sin * step_cos + cos * step_sin);
        }
    }
    let level = |k: usize| bursts.iter().map(|b| b.flow_at(start_s + STEP_S * k as f64)).sum::<f64>();
    let flow = share.iter().enumerate().map(|(k, share)| (level(k) * share).max(0.0)).collect();
    Curve::new(start_s, STEP_S, flow, o)
}
