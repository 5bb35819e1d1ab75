//! In: one weight. Out: the same with samples flagged in which the reading stood still while water moved.
//!
//! Ordinary readings repeat themselves at rest. A reading was stuck where it is exactly constant and then makes up in
//! one interval what it has missed: far more than the intervals after it bring, which no water behind a lag can do,
//! while water runs before or after. What is left to come after a pour may be too little for that: then the run itself is told by
//! its length, where readings at rest repeat themselves far more seldom.

use super::work::Work;
use super::{EventKind, Flag};
use crate::math::robust::median;

/// A reading is stuck for at least this long, s, and this many samples.
const LEAST_S: f64 = 0.25;
const LEAST_SAMPLES: usize = 3;
/// The jump at its end is at least this, g, and this many sd of the noise.
const LEAST_G: f64 = 1.0;
const SDS: f64 = 8.0;
/// What comes after the jump comes at most at this share of its rate.
const SHARE: f64 = 0.4;
/// Water runs, g/s.
const FLOWS_G_PER_S: f64 = 1.0;
/// Half of the time over which the flow on either side is taken, s.
const HALF_S: f64 = 0.3;
/// Ramp and lag: the reading would have moved this long before the water that was missed, s.
const ONSET_S: f64 = 0.5;
/// A run is no chance where a log like this one has fewer of its length than this, and the next reading and the median of those after it are higher by more than so many sd.
const CHANCE: f64 = 0.05;
const SHIFT_SDS: f64 = 2.0;
const SHIFT_SAMPLES: usize = 5;
/// Nothing that moves a scale by less than this, g, is called an event.
const SHIFT_G: f64 = 0.14;
/// A scale on which more of the readings than this repeat the one before says nothing by doing so.
const QUIET: f64 = 0.85;
/// Two readings of one level are no further apart than this, in sd.
const STILL_SDS: f64 = 4.0;

impl Work<'_> {
    /// Flags and lists stuck readings.
    pub fn stuck(&mut self) {
        let (index, t, y) = self.live();
        let least_g = (SDS * self.noise_g.value).max(LEAST_G).max(2.0 * self.step_g);
        let repeats = Repeats::of(&y, self.noise_g.value);
        let mut first = 0;
        for i in 1..t.len() {
            if y[i] == y[first] {
                continue;
            }
            let (from, last) = (first, i - 1);
            first = i;
            let jump = y[i] - y[last];
            let shift = median(&mut y[i..t.len().min(i + SHIFT_SAMPLES)].to_vec()) - y[last];
            let least_shift_g = (SHIFT_SDS * self.noise_g.value).max(1.5 * self.step_g).max(SHIFT_G);
            let (over, many) = (flow(&t, &y, i, true) < FLOWS_G_PER_S, last - from + 1 >= LEAST_SAMPLES);
            if many
                && jump < least_g
                && jump.min(shift) > least_shift_g
                && over
                && repeats.surprise(last - from) < CHANCE
            {
                self.stand_still(&index[from + 1..=last], shift);
                continue;
            }
            let long = last - from + 1 >= LEAST_SAMPLES && t[last] - t[from] >= LEAST_S;
            if !long || !(least_g..=self.options.max_flow_g_per_s * (t[i] - t[from])).contains(&jump) {
                continue;
            }
            let stays = (i + 1..t.len().min(i + 4)).all(|k| y[k] >= y[i] - 0.5 * SDS * self.noise_g.value);
            let rate = |k: usize| (y[k] - y[k - 1]) / (t[k] - t[k - 1]);
            let eases = (i + 1..t.len().min(i + 3)).all(|k| rate(k) < SHARE * rate(i));
            if !stays || !eases {
                continue;
            }
            let (before, after) = (flow(&t, &y, from, false), flow(&t, &y, i, true));
            // After a pause in the stamps a jump is what has run meanwhile.
            let paused = t[i] - t[last] > 1.5 * self.order.interval_s;
            let most = if paused { before.max(after) } else { after };
            if before.max(after) < FLOWS_G_PER_S || most > SHARE * rate(i) {
                continue;
            }
            // At rest before: only the time in which what was missed can have come.
            let missed_s = if before >= FLOWS_G_PER_S { f64::INFINITY } else { jump / after + ONSET_S };
            let begin = (from + 1..=last).find(|&k| t[i] - t[k] <= missed_s).unwrap_or(last);
            self.stand_still(&index[begin..=last], jump);
        }
    }

    fn stand_still(&mut self, index: &[usize], jump: f64) {
        index.iter().for_each(|&k| self.flag[k] = Flag::Stuck);
        let action = "stood still while water moved: not used".into();
        self.list(EventKind::Stuck, index[0], index[index.len() - 1], jump, index.len(), action);
    }
}

/// How often readings of this log repeat the one before, where nothing moves.
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

    /// How many runs of so many repetitions or more chance would give in the log, this one not counted; any number where readings hardly scatter.
    fn surprise(&self, repetitions: usize) -> f64 {
        let pairs = (self.pairs - repetitions.min(self.pairs)) as f64;
        let same = (self.same - repetitions.min(self.same)) as f64;
        let share = (same + 1.0) / (pairs + 2.0);
        if share < QUIET { pairs * share.powf(repetitions as f64) } else { f64::INFINITY }
    }
}

/// Flow next to sample `i`, g/s: between the medians of two windows on that side; 0 at the ends of the log.
fn flow(t: &[f64], y: &[f64], i: usize, forward: bool) -> f64 {
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

#[cfg(test)]
mod tests {
    use crate::{ConditionOptions, Flag, Log, Meta, condition};

    fn flags(y: Vec<f64>) -> Vec<Flag> {
        let t: Vec<f64> = (0..y.len()).map(|i| i as f64 / 10.0).collect();
        let log = Log::new(t, Some(y), None, Meta::default()).unwrap();
        condition(&log, &ConditionOptions::default()).unwrap().water.unwrap().flag
    }

    /// Half a minute with a pour of 6 g/s from 10 to 20 s, and small noise on steps of 0.1 g.
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
    fn a_reading_that_stands_still_as_a_pour_ends_is_told_by_how_long_it_does() {
        let mut y: Vec<f64> = (0..300).map(pour).collect();
        // The last 0.4 g come all at once, when the pour is long over.
        y[200..240].fill(59.6);
        let flags = flags(y);
        assert!(flags[201..240].iter().all(|f| *f == Flag::Stuck));
        assert_eq!(flags.iter().filter(|f| **f != Flag::Used).count(), 39);
    }

    #[test]
    fn a_reading_that_repeats_itself_at_rest_is_not_stuck() {
        let y: Vec<f64> = (0..300).map(|i| (pour(i) / 2.0).round() * 2.0).collect();
        assert!(flags(y).iter().all(|f| *f == Flag::Used));
    }
}
