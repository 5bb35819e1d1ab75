//! In: one weight. Out: the same weight; samples are flagged during which the reading stood still while water moved.
//!
//! Ordinary readings repeat themselves at rest. A reading was stuck if it is exactly constant and then makes up the
//! missed mass in one interval: far more than the intervals after it bring, while water flows before or after. No
//! water behind a lag can do this. Too little mass may be left after a pour for this test. The run itself is then
//! identified by its length, if readings at rest repeat far less often.

use crate::condition::trace::{EventKind, Flag};
use crate::condition::work::Work;
use crate::math::robust::median;

/// A reading is stuck for at least this long, s, and this many samples.
const LEAST_S: f64 = 0.25;
const LEAST_SAMPLES: usize = 3;
/// The jump at its end is at least this, g, and this many sd of the noise.
const LEAST_G: f64 = 0.5;
const SDS: f64 = 8.0;
/// The flow after the jump is at most this fraction of the rate of the jump.
const SHARE: f64 = 0.4;
/// The same if no water flowed before: behind a lag, the readings at the start of a pour accelerate.
const SHARE_AT_FIRST: f64 = 0.7;
/// A larger flow counts as water, g/s.
const FLOWS_G_PER_S: f64 = 1.0;
/// Half of the time over which the flow on either side is taken, s.
const HALF_S: f64 = 0.3;
/// Ramp and lag: an unstuck reading would have moved by this much earlier than the missed water, s.
const ONSET_S: f64 = 0.5;
/// A run is not random if a log like this one has fewer runs of its length than this. The next reading and the median
/// of those after it must also be higher by this many sd.
const CHANCE: f64 = 0.05;
const SHIFT_SDS: f64 = 2.0;
const SHIFT_SAMPLES: usize = 5;
/// A smaller shift is no event, g.
const SHIFT_G: f64 = 0.14;
/// The first reading of a run differs from the one before by at most this, g.
const FAR_G: f64 = 4.0;
/// If more than this fraction of the readings repeat the one before, a run is not informative.
const UNINFORMATIVE_FRACTION: f64 = 0.85;
/// A slower log does not resolve how a reading accelerates behind a lag, s between two readings.
const RESOLVES_S: f64 = 0.15;
/// A stream pulses if this number of rises from a level, within this time, have this fraction of the mass.
const PULSES: usize = 2;
const NEAR_S: f64 = 10.0;
const PULSE_FRACTION: f64 = 0.4;
/// Two readings of one level are no further apart than this, in sd.
const STILL_SDS: f64 = 4.0;

impl Work<'_> {
    /// Flags and lists stuck readings.
    pub fn stuck(&mut self) {
        let (index, t, y) = self.live();
        let (noise_g, resolution_g) = (self.noise_g.value, self.resolution_g);
        let readings = Readings {
            least_g: (SDS * noise_g).max(LEAST_G).max(2.0 * resolution_g),
            least_shift_g: (SHIFT_SDS * noise_g).max(1.5 * resolution_g).max(SHIFT_G),
            repeats: Repeats::of(&y, noise_g),
            noise_g,
            max_flow: self.options.max_flow_g_per_s,
            interval_s: self.order.interval_s,
            t: &t,
            y: &y,
        };
        let mut from = 0;
        let mut released = None;
        for i in 1..t.len() {
            if y[i] == y[from] {
                continue;
            }
            let run = Run { from, last: i - 1 };
            from = i;
            let still_runs = released == Some(run.from);
            let found = readings.too_long(run).or_else(|| readings.makes_up(run, still_runs));
            if let Some(Stood { from, to, missed_g }) = found {
                index[from..to].iter().for_each(|&k| self.flag[k] = Flag::Stuck);
                let action = "stood still while water moved: not used".into();
                self.list(EventKind::Stuck, index[from], index[to - 1], missed_g, to - from, action);
                released = Some(to);
            }
        }
    }
}

/// The samples in question, and limits derived from them.
struct Readings<'a> {
    t: &'a [f64],
    y: &'a [f64],
    noise_g: f64,
    least_g: f64,
    least_shift_g: f64,
    repeats: Repeats,
    max_flow: f64,
    interval_s: f64,
}

/// Readings that are all the same, both ends included.
#[derive(Clone, Copy)]
struct Run {
    from: usize,
    last: usize,
}

/// Stuck readings, the last not included, and the missed mass.
struct Stood {
    from: usize,
    to: usize,
    missed_g: f64,
}

impl Readings<'_> {
    /// Whether that much water can have arrived while the reading stood still.
    fn can_come(&self, missed_g: f64, run: Run, to: usize) -> bool {
        missed_g <= self.max_flow * (self.t[to] - self.t[run.from])
    }

    /// A run too long for a rest of this log, after which the reading is higher and at rest.
    fn too_long(&self, run: Run) -> Option<Stood> {
        let (y, to) = (self.y, run.last + 1);
        let after = median(&mut y[to..y.len().min(to + SHIFT_SAMPLES)].to_vec());
        let (jump, missed_g) = (y[to] - y[run.last], after - y[run.last]);
        // A vessel that was removed and put back is no stuck reading.
        let goes_on = run.from == 0 || (y[run.from] - y[run.from - 1]).abs() <= self.least_g.max(FAR_G);
        let unlikely = run.last - run.from + 1 >= LEAST_SAMPLES
            && jump.min(missed_g) > self.least_shift_g
            && goes_on
            && self.can_come(jump.max(missed_g), run, to)
            && self.repeats.expected_runs(run.last - run.from) < CHANCE;
        (unlikely && self.flow(to, true) < FLOWS_G_PER_S).then_some(Stood {
            from: run.from + 1,
            to,
            missed_g,
        })
    }

    /// A run that makes up the missed mass at once, while water flows before or after, or flowed before a run that
    /// ended at the start of this one.
    fn makes_up(&self, run: Run, still_runs: bool) -> Option<Stood> {
        let (t, y, next) = (self.t, self.y, run.last + 1);
        let jump = y[next] - y[run.last];
        if run.last - run.from + 1 < LEAST_SAMPLES || t[run.last] - t[run.from] < LEAST_S {
            return None;
        }
        let least = if still_runs { FLOWS_G_PER_S } else { 0.0 };
        let before = self.flow(run.from, false).max(least);
        let share = if before < FLOWS_G_PER_S { SHARE_AT_FIRST } else { SHARE };
        // A reading may be released in the middle of its averaging window.
        let halfway = y.get(next + 1).is_some_and(|then| jump > 0.0 && then - y[next] > share * jump);
        let to = if halfway { next + 1 } else { next };
        let missed_g = y[to] - y[run.last];
        if missed_g < self.least_g || !self.can_come(missed_g, run, to) {
            return None;
        }
        let stays = (to + 1..t.len().min(to + 4)).all(|k| y[k] >= y[to] - 0.5 * SDS * self.noise_g);
        let rate = |k: usize| (y[k] - y[k - 1]) / (t[k] - t[k - 1]);
        let eases = (to + 1..t.len().min(to + 3)).all(|k| rate(k) < share * rate(to));
        if !stays || !eases {
            return None;
        }
        let after = self.flow(to, true);
        // After a pause in the stamps a jump is the water of the pause.
        let paused = t[to] - t[to - 1] > 1.5 * self.interval_s;
        let most = if paused { before.max(after) } else { after };
        if before.max(after) < FLOWS_G_PER_S || most > share * rate(to) {
            return None;
        }
        // Water on one side only: a hand explains it that begins, pauses or lets single drops fall, unless readings
        // at rest repeat far less often. Behind a lag, water at first accelerates; slow readings do not resolve that.
        let by_chance = self.repeats.expected_runs(run.last - run.from) >= CHANCE;
        let one_side = before < FLOWS_G_PER_S || after < FLOWS_G_PER_S;
        if one_side && by_chance && (self.interval_s > RESOLVES_S || self.pulses(run, to)) {
            return None;
        }
        // At rest before: only the time in which the missed mass can have arrived.
        let missed_s = if before >= FLOWS_G_PER_S { f64::INFINITY } else { missed_g / after + ONSET_S };
        let from = (run.from + 1..to).find(|&k| t[to] - t[k] <= missed_s).unwrap_or(to - 1);
        Some(Stood { from, to, missed_g })
    }

    /// Whether the readings near this run have other level stretches that end with a rise as large: a stream in pulses
    /// or drops.
    fn pulses(&self, run: Run, to: usize) -> bool {
        let (t, y) = (self.t, self.y);
        let rise_g = PULSE_FRACTION * (y[to] - y[run.last]);
        let near = |k: &usize| (t[*k] - t[run.from]).abs() <= NEAR_S && (*k < run.from || *k > to + 1);
        let level = |k: usize| k >= 2 && (y[k - 1] - y[k - 2]).abs() <= STILL_SDS * self.noise_g;
        let rises = |k: &usize| {
            level(*k) && y[*k] - y[*k - 1] > 0.5 * rise_g && y[(*k + 1).min(y.len() - 1)] - y[*k - 1] > rise_g
        };
        (1..t.len()).filter(near).filter(rises).count() >= PULSES
    }

    /// Flow next to sample `i`, g/s: between the medians of two windows on that side; 0 at the ends of the log.
    fn flow(&self, i: usize, forward: bool) -> f64 {
        let (t, y) = (self.t, self.y);
        let mut sides = [(Vec::new(), Vec::new()), (Vec::new(), Vec::new())];
        let mut k = i;
        while (t[k] - t[i]).abs() < 2.0 * HALF_S || sides[1].0.len() < 2 {
            let far = (t[k] - t[i]).abs() >= HALF_S && sides[0].0.len() >= 2;
            sides[usize::from(far)].0.push(t[k]);
            sides[usize::from(far)].1.push(y[k]);
            if (forward && k + 1 == t.len()) || (!forward && k == 0) {
                break;
            }
            if forward { k += 1 } else { k -= 1 }
        }
        let [(near_t, near_y), (far_t, far_y)] = &mut sides;
        let slope = (median(far_y) - median(near_y)) / (median(far_t) - median(near_t));
        if slope.is_finite() { slope } else { 0.0 }
    }
}

/// How often readings of this log repeat the one before at rest.
struct Repeats {
    pairs: usize,
    same: usize,
}

impl Repeats {
    fn of(y: &[f64], noise_g: f64) -> Self {
        let still = |w: &&[f64]| (w[1] - w[0]).abs() <= STILL_SDS * noise_g;
        let same = |w: &&[f64]| w[1] == w[0];
        Self { pairs: y.windows(2).filter(still).count(), same: y.windows(2).filter(same).count() }
    }

    /// Expected number of random runs of at least that many repetitions in the log, this run not counted; infinite if
    /// readings hardly scatter.
    fn expected_runs(&self, repetitions: usize) -> f64 {
        let pairs = (self.pairs - repetitions.min(self.pairs)) as f64;
        let same = (self.same - repetitions.min(self.same)) as f64;
        let share = (same + 1.0) / (pairs + 2.0);
        if share < UNINFORMATIVE_FRACTION { pairs * share.powf(repetitions as f64) } else { f64::INFINITY }
    }
}

#[cfg(test)]
mod tests {
    use crate::condition::options::ConditionOptions;
    use crate::condition::stage::condition;
    use crate::condition::trace::Flag;
    use crate::log::meta::Meta;
    use crate::log::record::Log;

    fn flags(y: Vec<f64>) -> Vec<Flag> {
        let t: Vec<f64> = (0..y.len()).map(|i| i as f64 / 10.0).collect();
        let log = Log::new(t, Some(y), None, Meta::default()).unwrap();
        condition(&log, &ConditionOptions::default()).unwrap().water.unwrap().flag
    }

    /// Half a minute with a pour of 6 g/s from 10 to 20 s, and small noise and a readout of 0.1 g.
    fn pour(i: usize) -> f64 {
        let mass = 6.0 * (i as f64 / 10.0 - 10.0).clamp(0.0, 10.0);
        let noise = 0.08 * ((i * i * 37 % 101) as f64 / 50.0 - 1.0);
        ((mass + noise) * 10.0).round() / 10.0
    }

    #[test]
    fn a_reading_that_stands_still_while_water_runs_is_stuck() {
        let mut y: Vec<f64> = (0..300).map(pour).collect();
        let held = y[140];
        y[140..150].fill(held);
        let flags = flags(y);
        assert!(flags[141..150].iter().all(|f| *f == Flag::Stuck));
        assert_eq!(flags.iter().filter(|f| **f != Flag::Used).count(), 9);
    }

    #[test]
    fn a_reading_stuck_as_a_pour_ends_is_identified_by_its_duration() {
        let mut y: Vec<f64> = (0..300).map(pour).collect();
        // The last 0.4 g come all at once, when the pour is long over.
        y[200..240].fill(59.6);
        let flags = flags(y);
        assert!(flags[201..240].iter().all(|f| *f == Flag::Stuck));
        assert_eq!(flags.iter().filter(|f| **f != Flag::Used).count(), 39);
    }

    #[test]
    fn a_reading_stuck_as_a_pour_begins_is_identified_by_the_slower_rise_after_it() {
        let mut y: Vec<f64> = (0..300).map(pour).collect();
        // Stuck from 0.4 s before the pour to 0.2 s after its start: 1.2 g come at once, and then 0.6 g per reading.
        y[96..102].fill(0.0);
        y[95] = 0.1;
        let flags = flags(y);
        assert!((97..102).all(|k| flags[k] == Flag::Stuck), "{:?}", &flags[94..104]);
        assert_eq!(flags.iter().filter(|f| **f != Flag::Used).count(), 5);
    }

    #[test]
    fn a_reading_that_repeats_itself_at_rest_is_not_stuck() {
        let y: Vec<f64> = (0..300).map(|i| (pour(i) / 2.0).round() * 2.0).collect();
        assert!(flags(y).iter().all(|f| *f == Flag::Used));
    }

    fn at(flags: &[Flag], range: std::ops::Range<usize>) {
        let stuck: Vec<usize> = (0..flags.len()).filter(|&k| flags[k] == Flag::Stuck).collect();
        assert_eq!(stuck, range.collect::<Vec<_>>());
    }

    #[test]
    fn a_stuck_reading_is_listed_with_its_time_samples_and_missed_mass() {
        let mut y: Vec<f64> = (0..300).map(pour).collect();
        let (held, after) = (y[140], y[150]);
        y[140..150].fill(held);
        let t: Vec<f64> = (0..300).map(|i| f64::from(i) / 10.0).collect();
        let log = Log::new(t, Some(y), None, Meta::default()).unwrap();
        let trace = condition(&log, &ConditionOptions::default()).unwrap();
        let event = &trace.events[0];
        assert_eq!((event.start_s, event.end_s, event.samples), (14.1, 14.9, 9));
        assert!((event.size_g - (after - held)).abs() < 1e-9);
    }

    #[test]
    fn a_reading_released_as_a_pour_ends_is_identified_by_the_water_before_it() {
        let mut y: Vec<f64> = (0..300).map(pour).collect();
        // 57.6 g five times, then 60 g, which is all: 2.4 g at once.
        y[196..201].fill(57.6);
        at(&flags(y), 197..201);
    }

    #[test]
    fn a_run_followed_by_more_than_water_behind_a_lag_is_not_stuck() {
        let mut y: Vec<f64> = (0..300).map(pour).collect();
        // 12 g/s as it moves again, and two readings later 6 g/s, which is more than four tenths of it.
        y[190..195].fill(54.0);
        (y[195], y[196]) = (55.2, 55.5);
        y[197..].fill(56.1);
        at(&flags(y), 0..0);
        let mut y: Vec<f64> = (0..300).map(pour).collect();
        // Slower for two readings, and then 15 g/s.
        y[150..155].fill(30.0);
        (y[155], y[156], y[157]) = (31.2, 31.3, 31.4);
        (158..300).for_each(|i| y[i] = (31.4 + 1.5 * (i as f64 - 157.0)).min(70.4));
        at(&flags(y), 0..0);
    }

    /// Half a minute at rest with a readout of 0.01 g and a run of 40 equal readings; `then` is added to what comes
    /// after it.
    fn rest(then: impl Fn(usize) -> f64) -> Vec<f64> {
        let noise = |i: usize| 0.03 * ((i * i * 37 % 101) as f64 / 50.0 - 1.0);
        let shown = |i: usize| if (150..190).contains(&i) { 0.0 } else { noise(i) + then(i) };
        (0..300).map(|i| (shown(i) * 100.0).round() / 100.0).collect()
    }

    #[test]
    fn a_long_run_is_stuck_if_the_level_after_it_has_moved_by_more_than_a_draught() {
        let moved = |by_g: f64| flags(rest(|i| if i >= 190 { by_g } else { 0.0 }));
        at(&moved(0.2), 151..190);
        at(&moved(0.08), 0..0);
        // A single reading is no level.
        at(&flags(rest(|i| if i == 190 { 0.2 } else { 0.0 })), 0..0);
    }

    use super::{Readings, Repeats, Run};

    #[test]
    fn repeats_are_counted_at_rest_only() {
        // Differences 0, 0.1, 4.9, 0: three within four sd of 0.05 g, two of them none.
        let found = Repeats::of(&[0.0, 0.0, 0.1, 5.0, 5.0], 0.05);
        assert_eq!((found.pairs, found.same), (3, 2));
        // Without the run itself: 1 of 2, counted as 2 of 4; two places for a run of one repetition.
        assert_eq!(found.expected_runs(1), 1.0);
        assert_eq!(Repeats { pairs: 100, same: 10 }.expected_runs(0), 100.0);
        let by_hand = 95.0 * (6.0_f64 / 97.0).powi(5);
        assert!((Repeats { pairs: 100, same: 10 }.expected_runs(5) - by_hand).abs() < 1e-12);
        // Above 85 % repeats are not informative.
        assert_eq!(Repeats { pairs: 98, same: 85 }.expected_runs(0), f64::INFINITY);
        assert!(Repeats { pairs: 98, same: 83 }.expected_runs(0).is_finite());
    }

    #[test]
    fn a_run_that_begins_with_a_fall_or_a_rise_is_not_stuck() {
        let too_long = |before_g: f64, least_g: f64| {
            let mut y: Vec<f64> = (0..100).map(|i| before_g + 0.01 * f64::from(i * i * 37 % 10)).collect();
            y.extend([0.0; 40]);
            y.extend((0..60).map(|i| 0.3 + 0.01 * f64::from(i * i * 37 % 10)));
            let t: Vec<f64> = (0..y.len()).map(|i| 0.1 * i as f64).collect();
            let repeats = Repeats::of(&y[..100], 0.05);
            let readings = Readings {
                t: &t,
                y: &y,
                noise_g: 0.05,
                least_g,
                least_shift_g: 0.14,
                repeats,
                max_flow: 30.0,
                interval_s: 0.1,
            };
            readings.too_long(Run { from: 100, last: 139 }).is_some()
        };
        // 4 g, or the least jump.
        assert_eq!([3.8, 4.2, -3.8, -4.2].map(|g| too_long(g, 0.5)), [true, false, true, false]);
        assert!(too_long(5.0, 6.0) && !too_long(7.0, 6.0));
    }
}
