//! In: the used samples of the water channel. Out: where water seems to arrive, as bursts grouped by neighbourhood.
//!
//! Method: two smoothed slopes, a quick one that separates and a slow one that notices weak flows; a burst is a run of samples in
//! which either is surely above the threshold. These are starting points: `fit` finds the instants.

use crate::math::robust::median;
use crate::model::burst::Burst;
use crate::model::samples::Samples;
use crate::model::trend::slopes;
use crate::segment::options::SegmentOptions;

/// What kitchen scales usually show, s; only the place where the search for the lag starts.
pub(crate) const USUAL_LAG_S: f64 = 0.2;

/// Bursts closer than this are fitted together, since lag and ramps of one reach into the other, s.
const TOGETHER_S: f64 = 3.5;

/// How far the slow slope sees, s.
const BESIDE_S: f64 = 1.5;

/// Groups of bursts, in order of time.
pub(crate) fn propose(x: &Samples, o: &SegmentOptions) -> Vec<Vec<Burst>> {
    // Standard deviation of a slope smoothed with corner w: sd = noise sqrt(interval w^3 / 8^0.5), the steady state of the smoother.
    let unit = x.noise_sd_g * (x.interval_s / 8.0_f64.sqrt()).sqrt();
    let quick = (0.3 / unit).powf(2.0 / 3.0).clamp(2.0, 12.0);
    let slow = quick.min(2.5);
    let at = |corner: f64| slopes(&x.time_s, &x.mass_g, x.noise_sd_g, x.interval_s, corner);
    let (q, s) = (at(quick), at(slow));
    let q_above = o.flow_g_per_s + 2.0 * unit * quick.powf(1.5);
    let s_above = o.flow_g_per_s + 4.0 * unit * slow.powf(1.5);
    // Beside a strong flow the slow slope would fill a pause, so there only the quick one counts.
    let strong: Vec<f64> = (0..q.len()).filter(|&i| q[i] > 3.0 * q_above).map(|i| x.time_s[i]).collect();
    let beside = |t: f64| {
        let next = strong.partition_point(|&s| s < t - BESIDE_S);
        strong.get(next).is_some_and(|&s| s < t + BESIDE_S)
    };
    let active = |i: usize| q[i] > q_above || (s[i] > s_above && !beside(x.time_s[i]));
    let mut groups: Vec<Vec<Burst>> = Vec::new();
    let may_flow = |i: usize| q[i] > 0.5 * o.flow_g_per_s;
    for (first, last) in runs(x, o, active, may_flow).into_iter().flat_map(|run| parted(&q, run, q_above)) {
        let Some(burst) = burst(x, &q, first, last) else { continue };
        if burst.mass_g() < 0.3 * o.mass_g {
            continue;
        }
        match groups.last_mut() {
            Some(g) if g.last().is_some_and(|b| burst.rise_s - b.fall_s < TOGETHER_S) => g.push(burst),
            _ => groups.push(vec![burst]),
        }
    }
    groups
}

/// Runs of samples for which `active` holds. A lull under a quarter of a second does not end one, nor does one of a sample in which something may flow: where
/// samples are few, a weak flow would be cut to pieces by its noise. Readings that are left out do where no water came meanwhile.
fn runs(
    x: &Samples,
    o: &SegmentOptions,
    active: impl Fn(usize) -> bool,
    may_flow: impl Fn(usize) -> bool,
) -> Vec<(usize, usize)> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    let goes_on = |from: usize, to: usize| {
        let (lull_s, rose_g) = (x.time_s[to] - x.time_s[from], x.mass_g[to] - x.mass_g[from]);
        if from + 1 == to {
            !x.is_gap(lull_s) || rose_g > o.flow_g_per_s * lull_s
        } else {
            lull_s < 0.25 || (lull_s < 2.5 * x.interval_s && (from + 1..to).all(&may_flow))
        }
    };
    for i in (0..x.time_s.len()).filter(|&i| active(i)) {
        match out.last_mut() {
            Some((_, last)) if goes_on(*last, i) => *last = i,
            _ => out.push((i, i)),
        }
    }
    out
}

/// A run parted where its slope falls to less than half of what it is on both sides: the lag fills short pauses.
fn parted(slope: &[f64], (first, last): (usize, usize), sure: f64) -> Vec<(usize, usize)> {
    const DEEP: f64 = 0.5;
    let (mut out, mut from) = (Vec::new(), first);
    let (mut peak, mut low) = (slope[first], first);
    for i in first..=last {
        if slope[i] < slope[low] {
            low = i;
        }
        // Both sides must stand clear of the slope's own noise.
        let deep = slope[low] < DEEP * peak.min(slope[i]) && peak.min(slope[i]) > 2.0 * sure;
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

/// A first shape for a run: its flow is the median of the quick slope, its edges are where that slope passes half of it.
fn burst(x: &Samples, slope: &[f64], first: usize, last: usize) -> Option<Burst> {
    let flow = median(&mut slope[first..=last].to_vec());
    let half = flow / 2.0;
    let up = (first..=last).find(|&i| slope[i] >= half)?;
    let down = (first..=last).rev().find(|&i| slope[i] >= half)?;
    let cross = |i: usize, j: usize| {
        // Over readings left out a slope says nothing, the level says how much came.
        let gap_s = x.time_s[j] - x.time_s[i];
        if x.is_gap(gap_s) {
            let came_s = ((x.mass_g[j] - x.mass_g[i]) / flow).clamp(0.0, gap_s);
            return if i == down { x.time_s[i] + came_s } else { x.time_s[j] - came_s } - USUAL_LAG_S;
        }
        let share = (half - slope[i]) / (slope[j] - slope[i]);
        let t = x.time_s[i] + share.clamp(0.0, 1.0) * (x.time_s[j] - x.time_s[i]);
        t - USUAL_LAG_S
    };
    let rise_s = if up > 0 { cross(up - 1, up) } else { x.time_s[0] - USUAL_LAG_S };
    let end = x.time_s.len() - 1;
    let fall_s = if down < end { cross(down, down + 1) } else { x.time_s[end] - USUAL_LAG_S };
    (fall_s > rise_s).then_some(Burst {
        rise_s,
        rise_ramp_s: 0.4,
        fall_s,
        fall_ramp_s: 0.4,
        flow_g_per_s: flow,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 5 g/s from 5 s to 9 s and nothing afterwards, ten readings a second, those from 8 s to 12 s left out; what was on the scale came back lighter by `lost_g`.
    fn proposed(lost_g: f64) -> Vec<Burst> {
        let time_s: Vec<f64> =
            (0..200).map(|i| f64::from(i) / 10.0).filter(|t| !(8.0..12.0).contains(t)).collect();
        let load = |t: &f64| 5.0 * (t.clamp(5.0, 9.0) - 5.0) - if *t < 12.0 { 0.0 } else { lost_g };
        let mass_g = time_s.iter().map(load).collect();
        let x = Samples::ten_a_second(time_s, mass_g);
        propose(&x, &SegmentOptions::default()).concat()
    }

    #[test]
    fn where_readings_are_left_out_the_level_says_how_long_a_burst_goes_on() {
        // Without a lag in the readings the proposed edges are early by the usual one.
        for (lost_g, fall_s) in [(0.0, 9.0), (30.0, 7.9)] {
            let bursts = proposed(lost_g);
            assert_eq!(bursts.len(), 1, "{bursts:?}");
            let off_s = bursts[0].fall_s + USUAL_LAG_S - fall_s;
            assert!(off_s.abs() < 0.25, "{off_s} s, {bursts:?}");
        }
    }
}
