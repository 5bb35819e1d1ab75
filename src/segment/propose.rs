//! In: the used samples of the water channel. Out: proposed bursts, in groups of neighbours.
//!
//! Method: two smoothed slopes. The quick one separates bursts; the slow one detects weak flows. A burst is a
//! run of samples in which either is above the threshold by a multiple of its sd. These are starting values;
//! `fit` estimates the instants.

use crate::math::robust::median;
use crate::model::burst::{Burst, Edge};
use crate::model::response::USUAL_LAG_S;
use crate::model::samples::Samples;
use crate::model::trend::slopes;
use crate::segment::extend::extended;
use crate::segment::options::SegmentOptions;

/// Bursts closer than this, s, are fitted together, since the lag and the ramps of one overlap with the other.
const TOGETHER_S: f64 = 3.5;

/// Length of a rise or fall at the start of the fit, s.
const RAMP_S: f64 = 0.3;

/// The slow slope detects a flow that is above the least one by this many sd, and by this much, g/s.
const SURE: f64 = 4.0;
const WEAK_G_PER_S: f64 = 0.2;

/// Reach of the slow slope, s.
const NEAR_S: f64 = 1.5;

/// Groups of bursts, in order of time.
pub(crate) fn propose(x: &Samples, o: &SegmentOptions) -> Vec<Vec<Burst>> {
    // Standard deviation of a slope smoothed with corner w: sd = noise sqrt(interval w^3 / 8^0.5), the steady
    // state of the smoother.
    let unit = x.noise_sd_g * (x.interval_s / 8.0_f64.sqrt()).sqrt();
    let quick = (0.3 / unit).powf(2.0 / 3.0).clamp(2.0, 12.0);
    // At a low rate the slow one is slower, so that a flow of 1 g/s passes its threshold.
    let slow = quick.min(2.5).min((WEAK_G_PER_S / (SURE * unit)).powf(2.0 / 3.0).max(1.0));
    let at = |corner: f64| slopes(&x.time_s, &x.mass_g, x.noise_sd_g, x.interval_s, corner);
    let (q, s) = (at(quick), at(slow));
    let q_above = o.flow_g_per_s + 2.0 * unit * quick.powf(1.5);
    let s_above = o.flow_g_per_s + SURE * unit * slow.powf(1.5);
    // Near a strong flow the slow slope would fill a pause, so only the quick one is used there.
    let strong: Vec<f64> = (0..q.len()).filter(|&i| q[i] > 3.0 * q_above).map(|i| x.time_s[i]).collect();
    let near_strong = |t: f64| {
        let next = strong.partition_point(|&s| s < t - NEAR_S);
        strong.get(next).is_some_and(|&s| s < t + NEAR_S)
    };
    let active = |i: usize| q[i] > q_above || (s[i] > s_above && !near_strong(x.time_s[i]));
    let may_flow = |i: usize| q[i] > 0.5 * o.flow_g_per_s;
    let split = runs(x, o, active, may_flow).into_iter().flat_map(|run| split(&q, run, q_above));
    let found: Vec<((usize, usize), Burst)> = split
        .filter_map(|run| burst(x, &q, run.0, run.1).map(|burst| (run, burst)))
        .filter(|(_, burst)| mass_g(burst) >= 0.3 * o.mass_g)
        .collect();
    let found = joined(x, &q, found);
    let mut groups: Vec<Vec<Burst>> = Vec::new();
    for burst in extended(x, &found, USUAL_LAG_S, o) {
        match groups.last_mut() {
            Some(g) if g.last().is_some_and(|b| burst.rise.at_s - b.fall.at_s < TOGETHER_S) => g.push(burst),
            _ => groups.push(vec![burst]),
        }
    }
    groups
}

/// The bursts, with those joined that meet at a step of the flow instead of a pause: the flow between them is not much
/// below that next to it on either side.
fn joined(x: &Samples, slope: &[f64], found: Vec<((usize, usize), Burst)>) -> Vec<Burst> {
    const SHARE: f64 = 0.6;
    const BESIDE_S: f64 = 0.6;
    let level = |from: usize, to: usize| median(&mut slope[from..=to].to_vec());
    let is_step = |(first, last): (usize, usize), (next, end): (usize, usize)| {
        let before = x.time_s.partition_point(|&t| t < x.time_s[last] - BESIDE_S).clamp(first, last);
        let after = x.time_s.partition_point(|&t| t < x.time_s[next] + BESIDE_S).clamp(next, end);
        let valley = slope[last..=next].iter().copied().fold(f64::INFINITY, f64::min);
        valley > SHARE * level(before, last).min(level(next, after))
    };
    let mut out: Vec<((usize, usize), Burst)> = Vec::new();
    for (run, burst) in found {
        match out.last_mut() {
            Some((last_run, last)) if is_step(*last_run, run) => {
                last_run.1 = run.1;
                let duration = [&*last, &burst].map(|b| b.fall.at_s - b.rise.at_s);
                let mass = last.scale_g_per_s * duration[0] + burst.scale_g_per_s * duration[1];
                last.scale_g_per_s = mass / (duration[0] + duration[1]);
                last.fall = burst.fall;
            }
            _ => out.push((run, burst)),
        }
    }
    out.into_iter().map(|(_, burst)| burst).collect()
}

/// Runs of samples for which `active` holds. A lull under a quarter of a second does not end a run. A lull of
/// one sample that may have flow does not either: at a low rate, noise would cut a weak flow into pieces. A gap
/// ends a run if no water arrived in it.
fn runs(
    x: &Samples,
    o: &SegmentOptions,
    active: impl Fn(usize) -> bool,
    may_flow: impl Fn(usize) -> bool,
) -> Vec<(usize, usize)> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    let continues = |from: usize, to: usize| {
        let (lull_s, rose_g) = (x.time_s[to] - x.time_s[from], x.mass_g[to] - x.mass_g[from]);
        if from + 1 == to {
            !x.is_gap(lull_s) || rose_g > o.flow_g_per_s * lull_s
        } else {
            lull_s < 0.25 || (lull_s < 2.5 * x.interval_s && (from + 1..to).all(&may_flow))
        }
    };
    for i in (0..x.time_s.len()).filter(|&i| active(i)) {
        match out.last_mut() {
            Some((_, last)) if continues(*last, i) => *last = i,
            _ => out.push((i, i)),
        }
    }
    out
}

/// A run split if its slope falls below half of the peaks on both sides: the lag fills short pauses.
fn split(slope: &[f64], (first, last): (usize, usize), threshold: f64) -> Vec<(usize, usize)> {
    const DEEP: f64 = 0.5;
    let (mut out, mut from) = (Vec::new(), first);
    let (mut peak, mut low) = (slope[first], first);
    for i in first..=last {
        if slope[i] < slope[low] {
            low = i;
        }
        // Both sides must exceed the noise of the slope.
        let deep = slope[low] < DEEP * peak.min(slope[i]) && peak.min(slope[i]) > 2.0 * threshold;
        if deep && low > from {
            out.push((from, low - 1));
            (from, peak) = (low, slope[i]);
            low = i;
        } else if slope[i] > peak {
            (peak, low) = (slope[i], i);
        }
    }
    out.push((from, last));
    out
}

/// Starting burst of a run: its flow is the median of the quick slope, or the mean if that is larger, as around a gap; its
/// edges are the crossings of half of it.
fn burst(x: &Samples, slope: &[f64], first: usize, last: usize) -> Option<Burst> {
    let mean = (x.mass_g[last] - x.mass_g[first]) / (x.time_s[last] - x.time_s[first]);
    let flow = median(&mut slope[first..=last].to_vec()).max(if first < last { mean } else { 0.0 });
    let half = flow / 2.0;
    let up = (first..=last).find(|&i| slope[i] >= half)?;
    let down = (first..=last).rev().find(|&i| slope[i] >= half)?;
    let cross = |i: usize, j: usize| {
        // In a gap the slope is not informative; the level after it gives the water that arrived.
        let gap_s = x.time_s[j] - x.time_s[i];
        if x.is_gap(gap_s) {
            let arrived_s = ((x.mass_g[j] - x.mass_g[i]) / flow).clamp(0.0, gap_s);
            return if i == down { x.time_s[i] + arrived_s } else { x.time_s[j] - arrived_s } - USUAL_LAG_S;
        }
        let share = (half - slope[i]) / (slope[j] - slope[i]);
        let t = x.time_s[i] + share.clamp(0.0, 1.0) * (x.time_s[j] - x.time_s[i]);
        t - USUAL_LAG_S
    };
    let rise_s = if up > 0 { cross(up - 1, up) } else { x.time_s[0] - USUAL_LAG_S };
    let end = x.time_s.len() - 1;
    let fall_s = if down < end { cross(down, down + 1) } else { x.time_s[end] - USUAL_LAG_S };
    let edge = |at_s: f64| Edge { at_s, ramp_s: RAMP_S, skew: 0.0 };
    (fall_s > rise_s).then_some(Burst {
        rise: edge(rise_s),
        fall: edge(fall_s),
        changes: Vec::new(),
        scale_g_per_s: flow,
    })
}

fn mass_g(b: &Burst) -> f64 {
    b.scale_g_per_s * (b.fall.at_s - b.rise.at_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 5 g/s from 5 s to 9 s, no flow afterwards, ten readings per second, a gap from 8 s to 12 s; the load is
    /// lighter by `lost_g` after the gap.
    fn proposed(lost_g: f64) -> Vec<Burst> {
        let time_s: Vec<f64> =
            (0..200).map(|i| f64::from(i) / 10.0).filter(|t| !(8.0..12.0).contains(t)).collect();
        let load = |t: &f64| 5.0 * (t.clamp(5.0, 9.0) - 5.0) - if *t < 12.0 { 0.0 } else { lost_g };
        let mass_g = time_s.iter().map(load).collect();
        let x = Samples::ten_a_second(time_s, mass_g);
        propose(&x, &SegmentOptions::default()).concat()
    }

    #[test]
    fn the_level_after_a_gap_gives_the_end_of_a_burst() {
        // The readings have no lag, so the proposed edges are early by the usual lag.
        for (lost_g, fall_s) in [(0.0, 9.0), (30.0, 7.9)] {
            let bursts = proposed(lost_g);
            assert_eq!(bursts.len(), 1, "{bursts:?}");
            let off_s = bursts[0].fall.at_s + USUAL_LAG_S - fall_s;
            assert!(off_s.abs() < 0.25, "{off_s} s, {bursts:?}");
        }
    }
}
