//! In: the longest path of possible samples. Out: the same path with the readings that a stream explains.
//!
//! A stream presses on the scale with a force in proportion to its flow: its speed over the acceleration of gravity,
//! times the flow (momentum). As the stream ends, the reading falls by that much through the lag, although no water
//! leaves. A drop presses for an instant: behind the lag its mass comes with an excess that decays. The longest path
//! excludes both, because it has a mass that never falls. A knock is out and back. After a stream has ended the level
//! stays, and after a pause the readings lack the water of the pause.

use crate::condition::longest_path::{LongestPath, slack_g};
use crate::math::robust::median;

/// Largest speed of a stream over the acceleration of gravity, s: water that has fallen by 0.35 m moves at 2.6 m/s.
const MOST_LEAD_S: f64 = 0.27;
/// Most times its mass by which a drop overshoots: that lead over the shortest lag, less one.
const MOST_OVERSHOOT: f64 = 2.4;
/// A drop is smaller than this, g.
const MOST_DROP_G: f64 = 5.0;
/// The flow before is taken over this time, s, and at least between two readings.
const BEFORE_S: f64 = 0.8;
/// A fall is complete after this time, s.
const TOP_S: f64 = 1.5;
/// After this time the lag of a usual scale has passed, s.
const PASSED_S: f64 = 0.9;
/// The smallest flow before a fall, g/s.
const FLOWS_G_PER_S: f64 = 1.0;
/// A flow grows by no more than this factor before it ends.
const GROWS: f64 = 1.6;
/// The shortest pause within a stream, s.
const PAUSE_S: f64 = 0.2;
/// A drop falls on a level that is calm for this time, s, and for this number of readings.
const CALM_S: f64 = 0.1;
const CALM_SAMPLES: usize = 2;

/// Puts back on the path the runs of excluded readings that a stream explains.
pub(super) fn restore(t: &[f64], y: &[f64], noise_g: f64, path: &mut LongestPath) {
    let slack_g = 2.0 * slack_g(noise_g);
    let mut i = 1;
    while i < t.len() {
        if path.on_path[i] {
            i += 1;
            continue;
        }
        let end = (i..t.len()).find(|&k| path.on_path[k]).unwrap_or(t.len());
        if end < t.len() && !path.jump[end] && path.on_path[i - 1] {
            let run = Run { t, y, path, slack_g, before: i - 1, after: end };
            if run.ends_a_stream()
                || run.follows_a_top().is_some_and(|run| run.ends_a_stream())
                || run.is_a_drop()
            {
                path.on_path[i..end].fill(true);
            }
        }
        i = end;
    }
}

/// Excluded readings between two of the path.
struct Run<'a> {
    t: &'a [f64],
    y: &'a [f64],
    path: &'a LongestPath,
    slack_g: f64,
    before: usize,
    after: usize,
}

impl Run<'_> {
    /// Whether the readings fall by no more than the force of a stream that ended or paused here.
    fn ends_a_stream(&self) -> bool {
        let (t, y, before) = (self.t, self.y, self.before);
        let Some(flow) = self.flow_before().filter(|flow| *flow >= FLOWS_G_PER_S) else { return false };
        let excluded = before + 1..self.after;
        let (mut top, mut fall_g) = (y[before], 0.0_f64);
        for k in excluded.clone() {
            if y[k] > y[before] + GROWS * flow * (t[k] - t[before]) + self.slack_g {
                return false;
            }
            top = top.max(y[k]);
            fall_g = fall_g.max(top - y[k]);
        }
        fall_g = fall_g.max(top - y[self.after]);
        if fall_g > GROWS * MOST_LEAD_S * flow + self.slack_g {
            return false;
        }
        let Some(later) = self.later() else { return true };
        let lacks_g = y[before] + flow * (t[later] - t[before]) - y[later];
        lacks_g > PAUSE_S * flow + 0.5 * self.slack_g && self.stays_low()
    }

    /// Whether the readings stay near their lowest for the shortest pause: a knock fades at once.
    fn stays_low(&self) -> bool {
        let (t, y) = (self.t, self.y);
        let fallen = self.before + 1..=self.after;
        let Some(low) = fallen.min_by(|&a, &b| y[a].total_cmp(&y[b])) else { return false };
        let near = |k: &usize| y[*k] < y[low] + self.slack_g;
        let first = (self.before + 1..=low).rev().take_while(near).last().unwrap_or(low);
        let last = (low..t.len()).take_while(near).last().unwrap_or(low);
        // At slow rates the two readings around the pause.
        let next = t.get(last + 1).copied().unwrap_or(f64::INFINITY);
        t[last] - t[first] >= PAUSE_S || (last - first < 2 && next - t[first - 1] > 3.0 * PAUSE_S)
    }

    /// The same run from the highest reading shortly before it: the fall may be only just possible at first.
    fn follows_a_top(&self) -> Option<Self> {
        let (t, y, before) = (self.t, self.y, self.before);
        let near = |k: &usize| t[before] - t[*k] <= TOP_S;
        let used = (0..before).rev().take_while(near).filter(|&k| self.path.on_path[k]);
        let top = used.max_by(|&a, &b| y[a].total_cmp(&y[b]))?;
        (y[top] > y[before]).then_some(Self { before: top, ..*self })
    }

    /// Whether the readings rise at once from one calm level to a higher one, with an excess that decays.
    fn is_a_drop(&self) -> bool {
        let Some((from, to)) = self.calm_levels() else { return false };
        let excess = |k: usize| self.y[k] - to;
        let run = self.before + 1..self.after;
        let top = run.clone().max_by(|&a, &b| self.y[a].total_cmp(&self.y[b])).unwrap_or(self.after);
        let falls = (top + 1..self.after).all(|k| excess(k) <= excess(k - 1) + self.slack_g);
        let gain_g = to - from;
        gain_g > 0.5 * self.slack_g
            && gain_g < MOST_DROP_G
            && falls
            && run.clone().all(|k| self.y[k] > from - self.slack_g)
            && run.map(excess).fold(0.0, f64::max) <= MOST_OVERSHOOT * gain_g + self.slack_g
    }

    /// The levels before and after the run, g, if both are calm.
    fn calm_levels(&self) -> Option<(f64, f64)> {
        let (y, t) = (self.y, self.t);
        let near =
            |k: usize, from: usize| (t[k] - t[from]).abs() <= CALM_S || k.abs_diff(from) < CALM_SAMPLES;
        let level = |readings: &mut Vec<f64>| {
            let least = readings.iter().copied().fold(f64::INFINITY, f64::min);
            let most = readings.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            (most - least <= self.slack_g).then(|| median(readings))
        };
        let early = (0..=self.before).rev().take_while(|&k| near(k, self.before)).map(|k| y[k]);
        let late = (self.after..t.len()).take_while(|&k| near(k, self.after)).map(|k| y[k]);
        level(&mut early.collect()).zip(level(&mut late.collect()))
    }

    /// The flow before the run, g/s.
    fn flow_before(&self) -> Option<f64> {
        let (t, y, before) = (self.t, self.y, self.before);
        let used = (0..before).rev().filter(|&k| self.path.on_path[k]);
        let first = used.clone().take_while(|&k| t[before] - t[k] <= BEFORE_S).last();
        let first = first.or_else(|| used.clone().next())?;
        Some((y[before] - y[first]) / (t[before] - t[first]))
    }

    /// The first reading after the lag has passed.
    fn later(&self) -> Option<usize> {
        let used = |k: &usize| self.path.on_path[*k];
        (self.after..self.t.len()).filter(used).find(|&k| self.t[k] - self.t[self.after] >= PASSED_S)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::longest_path::{Physics, longest_path};

    /// Readings at 20 Hz of a flow on a grid of 1 ms, with a lag of 0.1 s and a stream that has fallen by 0.3 m: its
    /// speed is sqrt(2 x 9.81 x 0.3) = 2.43 m/s, and 2.43/9.81 = 0.247 s.
    fn shown(flow: impl Fn(f64) -> f64, more: impl Fn(f64) -> f64) -> (Vec<f64>, Vec<f64>) {
        let (mut mass_g, mut reading_g) = (0.0, 0.0);
        let (mut t, mut y) = (Vec::new(), Vec::new());
        for i in 0..20_000 {
            let at_s = 0.001 * f64::from(i);
            if i % 50 == 0 {
                t.push(at_s);
                y.push(reading_g);
            }
            mass_g += 0.001 * flow(at_s);
            reading_g += (mass_g + 0.247 * flow(at_s) + more(at_s) - reading_g) * 0.001 / 0.1;
        }
        (t, y)
    }

    /// Readings that are left out, before and after the stream is considered.
    fn left_out(flow: impl Fn(f64) -> f64, more: impl Fn(f64) -> f64) -> [usize; 2] {
        let (t, y) = shown(flow, more);
        let mut path = longest_path(&t, &y, Physics { noise_g: 0.05, max_flow: 60.0, interval_s: 0.05 });
        let count = |path: &LongestPath| path.on_path.iter().filter(|on| !**on).count();
        let before = count(&path);
        restore(&t, &y, 0.05, &mut path);
        [before, count(&path)]
    }

    fn pour(t_s: f64) -> f64 {
        if (5.0..10.0).contains(&t_s) { 8.0 } else { 0.0 }
    }

    #[test]
    fn the_fall_of_a_reading_as_a_stream_ends_or_pauses_is_no_knock() {
        // 0.247 s x 8 g/s = 1.98 g.
        let [before, after] = left_out(pour, |_| 0.0);
        assert!(before > 0 && after == 0, "{before} {after}");
        let pauses = |t: f64| if (7.0..7.5).contains(&t) { 0.0 } else { pour(t) };
        let [before, after] = left_out(pauses, |_| 0.0);
        assert!(before > 0 && after == 0, "{before} {after}");
    }

    #[test]
    fn a_fall_beyond_the_force_of_the_stream_is_a_knock_and_so_is_one_that_fades_at_once() {
        let fall = |from_s: f64, fall_g: f64| {
            move |t: f64| if t >= from_s && t < from_s + 0.1 { -fall_g } else { 0.0 }
        };
        for (from_s, fall_g) in [(7.0, 3.0), (7.0, 30.0), (9.7, 30.0), (14.0, 2.0)] {
            let [before, after] = left_out(pour, fall(from_s, fall_g));
            let [_, without] = left_out(pour, |_| 0.0);
            assert!(before > 0 && after > without, "{fall_g} g at {from_s} s: {before} {after}");
        }
    }

    #[test]
    fn the_impact_of_a_drop_is_no_knock_and_a_reading_that_returns_to_its_level_is_one() {
        // 1 g in 10 ms, in the middle of a rest: an excess of 0.247/0.1 - 1 = 1.5 g that decays.
        let drop = |t: f64| if (14.0..14.01).contains(&t) { 100.0 } else { 0.0 };
        let [before, after] = left_out(drop, |_| 0.0);
        assert!(before > 0 && after == 0, "{before} {after}");
        let [before, after] = left_out(|_| 0.0, |t| if (14.0..14.1).contains(&t) { 3.0 } else { 0.0 });
        assert!(before > 0 && after == before, "{before} {after}");
    }
}
