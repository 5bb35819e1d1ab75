//! In: stretches of undisturbed samples. Out: what happened between them, and by how much the level is off afterwards.
//!
//! Between two stretches the level jumped faster than any pour, or the reading was disturbed for longer than a
//! knock lasts. Four things do that: the vessel was off the scale and came back; the zero key; something was put on
//! or taken off; the vessel was taken away for good.

use crate::condition::stretch::{LONGEST_KNOCK_S, Level, SETTLES_S, SWING_G, Seen, Stretch};

/// A lifted vessel is usually back within this time, s.
const LIFT_S: f64 = 20.0;
/// Water that must still come for the vessel not to be gone, g.
const STILL_POURING_G: f64 = 8.0;
/// What a lag may still show of a jump where the level is taken to have settled: so much, g, and such a share of it.
const LAG_LEAVES_G: f64 = 0.3;
const LAG_LEAVES: f64 = 0.05;
/// What recovers is half way within this share of the time that it takes: a lag needs a quarter, water of one flow a half.
const EASES: f64 = 0.4;
/// A fall by less than this in the middle of a pour, or beside a larger excursion, is the tail of a knock, g.
const UNSURE_G: f64 = 5.0;
/// Share of the samples of a disturbance that are away from both levels where a vessel was off, or swung.
const MOST: f64 = 0.3;
/// Bounds the search for the return of a vessel.
const MOST_LOOKED_AT: usize = 24;
/// A vessel that is about to be lifted swings up to this long before, s.
const TOUCHED_S: f64 = 1.5;
/// Where no rest tells since when it is touched, it is for this long, s.
const HELD_S: f64 = 0.3;

/// What happened between two stretches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    /// Too short to be more than a knock; the level goes on.
    Knock,
    /// Off and back, or on and off again.
    Lift,
    /// Disturbed for seconds, the level goes on.
    Swirl,
    /// Zero key.
    Zeroing,
    /// Put on or taken off.
    Placed,
    /// Gone for good.
    Removed,
}

/// A break of level: what, the stretches on both sides, and what has to be taken off every later reading.
#[derive(Debug, Clone, Copy)]
pub(super) struct Break {
    pub what: What,
    pub after: usize,
    pub tail: Level,
    pub head: Level,
    pub offset_g: f64,
    /// How far the reading moved, g.
    pub size_g: f64,
}

/// The stretches with the levels at their ends.
struct View<'a> {
    seen: &'a Seen,
    stretches: &'a [Stretch],
    max_flow: f64,
    step_g: f64,
    /// Level at the first sample, level once settled, level at the last sample.
    head: Vec<Level>,
    settled: Vec<Level>,
    tail: Vec<Level>,
    /// Water that arrives from a stretch on, jumps not counted, g.
    to_come: Vec<f64>,
}

/// Goes through the stretches in order and names each break.
pub(super) fn breaks(seen: &Seen, stretches: &[Stretch], max_flow: f64, step_g: f64) -> Vec<Break> {
    let head = stretches.iter().map(|&s| seen.head(s, false)).collect();
    let settled: Vec<Level> = stretches.iter().map(|&s| seen.head(s, true)).collect();
    let tail: Vec<Level> = stretches.iter().map(|&s| seen.tail(s, 0.0)).collect();
    let mut to_come = vec![0.0; stretches.len() + 1];
    for k in (0..stretches.len()).rev() {
        let rise = tail[k].mass_g - settled[k].mass_g;
        to_come[k] = to_come[k + 1] + if rise > 1.0 { rise } else { 0.0 };
    }
    let view = View { seen, stretches, max_flow, step_g, head, settled, tail, to_come };
    let mut found = Vec::new();
    let mut k = 0;
    while k + 1 < stretches.len() {
        let b = view.name(k);
        k = b.after;
        found.push(b);
        if b.what == What::Removed {
            break;
        }
    }
    found
}

impl View<'_> {
    fn name(&self, k: usize) -> Break {
        let (seen, noise, tail, next) = (self.seen, self.seen.noise_g, self.tail[k], k + 1);
        let (unsettled, head) = (self.head[next], self.settled[next]);
        let span_s = seen.t[self.stretches[next].first] - seen.t[self.stretches[k].last];
        let possible = |l: Level| {
            let rise = l.mass_g - tail.mass_g;
            rise > -4.0 * noise && rise < self.max_flow * span_s + 4.0 * noise
        };
        let (outside, share) = self.outside(k, next);
        if span_s <= LONGEST_KNOCK_S && possible(unsettled) {
            return Break {
                what: What::Knock,
                after: next,
                tail,
                head: unsettled,
                offset_g: 0.0,
                size_g: outside,
            };
        }
        let tail = self.untouched(k);
        let jump = head.mass_g - tail.mass_g;
        let size_g = if outside == 0.0 { jump } else { outside };
        // A knock while the level changes is a few samples; a vessel that was off is most of them.
        let far = outside.abs() > SWING_G && span_s > LONGEST_KNOCK_S && share > MOST;
        let swings = outside.abs() > 2.0 * jump.abs()
            && ((span_s > LONGEST_KNOCK_S && share > MOST) || jump.abs() < UNSURE_G);
        let recovers = !head.calm && jump < 0.0 && self.recovers(next, head.at, tail.mass_g, jump);
        if far || swings || recovers || jump.abs() < 4.0 * noise {
            // Off and back, too quick for a calm level between; or a swing about the level.
            return self.lift(k, next, if outside.abs() > SWING_G { What::Lift } else { What::Swirl });
        }
        let zero = |l: Level, left_g: f64| {
            let scatter_g = if l.calm { 3.0 } else { 6.0 } * noise;
            l.mass_g.abs() <= scatter_g.max(1.01 * self.step_g).max(left_g)
        };
        let zeroed = zero(head, LAG_LEAVES_G.min(LAG_LEAVES * jump.abs())) && !zero(tail, 0.0);
        if let Some(j) = self.comes_back(k, if zeroed { 0.25 } else { 0.5 }) {
            return self.lift(k, j, What::Lift);
        }
        let passed_s = seen.t[head.at] - seen.t[tail.at];
        let water = jump > -UNSURE_G && jump < self.max_flow * passed_s + 4.0 * noise;
        let what = if zeroed {
            What::Zeroing
        } else if water && !(tail.calm && head.calm) {
            What::Knock
        } else if jump < -SWING_G && self.to_come[next] < STILL_POURING_G {
            What::Removed
        } else {
            What::Placed
        };
        let offset_g = if matches!(what, What::Removed | What::Knock) { 0.0 } else { jump };
        Break { what, after: next, tail, head, offset_g, size_g }
    }

    /// The level at the end of a stretch, before a hand that may have touched the vessel.
    fn untouched(&self, k: usize) -> Level {
        if self.tail[k].calm { self.tail[k] } else { self.seen.tail(self.stretches[k], TOUCHED_S) }
    }

    /// The same before a lift, even where no rest tells since when a hand is there.
    fn before_the_hand(&self, k: usize) -> Level {
        let (seen, s, mut tail) = (self.seen, self.stretches[k], self.untouched(k));
        if !tail.calm {
            let held = |i: usize| seen.t[s.last] - seen.t[i] < HELD_S || !seen.kept[i];
            tail.at = (s.first..=s.last).rev().find(|&i| !held(i)).unwrap_or(s.first);
            tail.mass_g = seen.y[tail.at];
        }
        tail
    }

    /// Off the scale, or swung: the level before the hand touched it, and the one to which it came back.
    fn lift(&self, k: usize, after: usize, what: What) -> Break {
        let (seen, noise) = (self.seen, self.seen.noise_g);
        let tail = self.before_the_hand(k);
        let mut head = self.settled[after];
        if !head.calm {
            // Water may follow at once: settled is where the old level is reached.
            let s = self.stretches[after];
            let reached =
                (s.first..=head.at).find(|&i| seen.kept[i] && seen.y[i] >= tail.mass_g - 3.0 * noise);
            head.at = reached.unwrap_or(head.at);
        }
        let offset = head.mass_g - tail.mass_g;
        // However little it has settled: what was poured does not leave by itself.
        let lost = what == What::Lift && offset < -UNSURE_G;
        let known = tail.calm && (lost || (head.calm && offset.abs() >= 1.5 * noise));
        let (outside, _) = self.outside(k, after);
        Break { what, after, tail, head, offset_g: if known { offset } else { 0.0 }, size_g: outside }
    }

    /// Whether stretch `next` lies far below a level before sample `until`, much further than by the jump that is seen there, and comes up to it ever more slowly:
    /// so a lag shows the end of a knock, and no pour begins.
    fn recovers(&self, next: usize, until: usize, level_g: f64, jump_g: f64) -> bool {
        let (seen, s) = (self.seen, self.stretches[next]);
        let lowest = (s.first..=until).min_by(|&i, &j| seen.y[i].total_cmp(&seen.y[j])).unwrap_or(s.first);
        let (from_s, from_g) = (seen.t[lowest], seen.y[lowest]);
        let early = (lowest..=s.last).take_while(|&i| seen.t[i] - from_s <= SETTLES_S);
        let passes =
            |g: f64| early.clone().find(|&i| seen.kept[i] && seen.y[i] >= g).map(|i| seen.t[i] - from_s);
        let back_g = level_g - 3.0 * seen.noise_g;
        let (half_s, whole_s) = (passes(f64::midpoint(from_g, back_g)), passes(back_g));
        from_g < level_g + 2.0 * jump_g
            && half_s.zip(whole_s).is_some_and(|(half, whole)| half < EASES * whole)
    }

    /// The stretch at which the level of stretch `k` is back by a jump, if any.
    fn comes_back(&self, k: usize, share: f64) -> Option<usize> {
        let tail = self.tail[k];
        let depth = self.settled[k + 1].mass_g - tail.mass_g;
        let left_s = self.seen.t[self.stretches[k].last];
        let off = |l: Level| (l.mass_g - tail.mass_g) / depth;
        for j in (k + 2..self.stretches.len()).take(MOST_LOOKED_AT) {
            // Into a vessel that is off the scale nothing is poured.
            if self.to_come[k + 1] - self.to_come[j] > STILL_POURING_G {
                return None;
            }
            let back = self.settled[j];
            // What was put on and then leaves exactly zero was zeroed, not taken off.
            let zeroed = depth > 0.0 && back.mass_g.abs() <= 3.0 * self.seen.noise_g;
            if off(self.tail[j - 1]) > share && off(back).abs() <= share && !zeroed {
                let soon = self.seen.t[self.stretches[j].first] - left_s <= LIFT_S;
                let surely = off(back).abs() < 0.1 && depth < 0.0 && self.to_come[j] > STILL_POURING_G;
                return (soon || surely).then_some(j);
            }
        }
        None
    }

    /// Furthest that the samples between two stretches get from both levels, g, and the share of them that do.
    fn outside(&self, k: usize, after: usize) -> (f64, f64) {
        let (from, to) = (self.tail[k].mass_g, self.settled[after].mass_g);
        let (low, high) = (from.min(to), from.max(to));
        let out = |y: f64| if y < low { y - low } else { (y - high).max(0.0) };
        let between = &self.seen.y[self.stretches[k].last + 1..self.stretches[after].first];
        let outside: Vec<f64> = between.iter().map(|&y| out(y)).filter(|d| d.is_finite()).collect();
        let many = outside.iter().filter(|d| d.abs() > 4.0 * self.seen.noise_g).count();
        let furthest = outside.iter().fold(0.0, |a: f64, &d| if d.abs() > a.abs() { d } else { a });
        (furthest, many as f64 / between.len().max(1) as f64)
    }
}

#[cfg(test)]
mod tests {
    use crate::condition::options::ConditionOptions;
    use crate::condition::stage::condition;
    use crate::condition::trace::{EventKind, Flag, Trace};
    use crate::log::meta::Meta;
    use crate::log::record::Log;

    /// What a scale with a lag of 0.33 s shows of a load, ten times a second, with small noise on steps of 0.1 g.
    fn conditioned(load: impl Fn(f64) -> f64, long_s: u32) -> Trace {
        let t: Vec<f64> = (0..10 * long_s).map(|i| 0.1 * f64::from(i)).collect();
        let mut lagged = load(0.0);
        let mut show = |(i, t): (usize, &f64)| {
            for part in 1..=10 {
                lagged += (load(t - 0.1 + 0.01 * f64::from(part)) - lagged) * 0.01 / 0.33;
            }
            let noise = 0.08 * ((i * i * 37 % 101) as f64 / 50.0 - 1.0);
            ((lagged + noise) * 10.0).round() / 10.0
        };
        let y: Vec<f64> = t.iter().enumerate().map(&mut show).collect();
        condition(&Log::new(t, Some(y), None, Meta::default()).unwrap(), &ConditionOptions::default())
            .unwrap()
    }

    fn kinds(trace: &Trace) -> Vec<EventKind> {
        trace.events.iter().map(|e| e.kind).collect()
    }

    /// 5 g/s between two instants, g.
    fn water(t: f64, from_s: f64, to_s: f64) -> f64 {
        5.0 * (t.clamp(from_s, to_s) - from_s)
    }

    #[test]
    fn a_knock_that_is_let_go_as_a_pour_begins_puts_nothing_on_or_off() {
        let knock = |t: f64| if (20.0..20.25).contains(&t) { -100.0 } else { 0.0 };
        let trace = conditioned(|t| water(t, 5.0, 15.0) + water(t, 21.2, 30.0) + knock(t), 40);
        assert!(!kinds(&trace).contains(&EventKind::Placed), "{:?}", trace.events);
        let mass_g = &trace.water.as_ref().unwrap().mass_g;
        assert!((mass_g[mass_g.len() - 1] - 94.0).abs() < 0.3, "{:?}", mass_g.last());
    }

    #[test]
    fn a_vessel_lifted_between_two_pours_that_leave_no_rest_is_used_neither_in_the_hand_nor_while_it_settles()
    {
        let off = |t: f64| {
            let taken = if (15.8..24.0).contains(&t) { -500.0 } else { 0.0 };
            if (15.6..15.8).contains(&t) { 6.0 } else { taken }
        };
        let poured = |t: f64| water(t, 5.0, 15.0) + water(t, 26.2, 35.0);
        let (lifted, left_alone) = (conditioned(|t| poured(t) + off(t), 45), conditioned(poured, 45));
        let (got, kept) = (lifted.water.as_ref().unwrap(), left_alone.water.as_ref().unwrap());
        let used = (0..450).filter(|&i| got.flag[i] == Flag::Used);
        for i in used {
            let off_g = got.mass_g[i] - kept.mass_g[i];
            assert!(off_g.abs() < 0.7, "{off_g} g at {} s", lifted.time_s[i]);
        }
    }

    use super::*;
    use std::iter::repeat_n;

    /// Readings at ten a second, in parts that the chain kept or left out, and the stretches that are kept; noise
    /// 0.05 g.
    fn seen(parts: &[(Vec<f64>, bool)]) -> (Seen, Vec<Stretch>) {
        let (mut y, mut kept, mut stretches) = (Vec::new(), Vec::new(), Vec::new());
        for (part, keep) in parts {
            if *keep {
                stretches.push(Stretch { first: y.len(), last: y.len() + part.len() - 1 });
            }
            y.extend(part);
            kept.extend(repeat_n(*keep, part.len()));
        }
        (Seen { t: (0..y.len()).map(|i| 0.1 * i as f64).collect(), y, kept, noise_g: 0.05 }, stretches)
    }

    fn rest(level_g: f64) -> (Vec<f64>, bool) {
        (vec![level_g; 20], true)
    }

    fn first_break(parts: &[(Vec<f64>, bool)], max_flow: f64) -> Break {
        let (seen, stretches) = seen(parts);
        breaks(&seen, &stretches, max_flow, 0.1)[0]
    }

    #[test]
    fn a_jump_is_as_large_as_its_levels_lie_apart() {
        let on = first_break(&[rest(0.0), (vec![50.0, 100.0, 150.0], false), rest(200.0)], 30.0);
        assert_eq!((on.what, on.offset_g, on.size_g), (What::Placed, 200.0, 200.0));
        let off = first_break(&[rest(200.0), (vec![150.0, 100.0, 50.0], false), rest(20.0)], 30.0);
        assert_eq!((off.what, off.offset_g, off.size_g), (What::Removed, 0.0, -180.0));
        // 8 g still to come, by hand: then something was taken off, and the vessel is there.
        let still = (0..40).map(|i| 20.0 + 0.3 * f64::from(i)).collect();
        let taken = first_break(&[rest(200.0), (vec![150.0, 100.0], false), rest(20.0), (still, true)], 30.0);
        assert_eq!((taken.what, taken.offset_g), (What::Placed, -180.0));
    }

    #[test]
    fn what_water_can_bring_in_the_time_of_a_knock_is_no_jump() {
        // Half a second at 30 g/s and four sd of 0.05 g: from -0.2 to 15.2 g.
        let what = |rise_g: f64| {
            let between = vec![10.0 + rise_g / 2.0; 4];
            first_break(&[rest(10.0), (between, false), rest(10.0 + rise_g)], 30.0).what
        };
        assert_eq!(
            [-0.21, -0.19, 15.1, 15.3].map(what),
            [What::Placed, What::Knock, What::Knock, What::Placed]
        );
    }

    #[test]
    fn water_that_ran_while_the_reading_was_disturbed_is_kept() {
        // 5 g/s all the time, two seconds of it left out.
        let pour = |from: usize, to: usize| (from..to).map(|i| 0.5 * i as f64).collect::<Vec<f64>>();
        let parts = [(pour(0, 20), true), (pour(20, 40), false), (pour(40, 80), true)];
        let found = |max_flow: f64| first_break(&parts, max_flow);
        assert_eq!((found(6.0).what, found(6.0).offset_g), (What::Knock, 0.0));
        assert_eq!(found(4.0).what, What::Placed);
    }

    #[test]
    fn a_vessel_that_comes_back_lighter_or_heavier_is_off_by_that_beyond_the_noise() {
        let offset_g = |by_g: f64| {
            let found = first_break(&[rest(100.0), (vec![-300.0; 30], false), rest(100.0 + by_g)], 30.0);
            assert_eq!(found.what, What::Lift);
            found.offset_g
        };
        // One and a half sd of 0.05 g are 0.075 g.
        for (by_g, expected_g) in [(-1.0, -1.0), (1.0, 1.0), (-0.08, -0.08), (-0.07, 0.0), (0.07, 0.0)] {
            assert!((offset_g(by_g) - expected_g).abs() < 1e-9, "{by_g}: {}", offset_g(by_g));
        }
    }

    #[test]
    fn a_vessel_is_back_where_its_level_is_and_not_where_it_is_still_off() {
        let back = first_break(&[rest(100.0), rest(-20.0), rest(100.0)], 30.0);
        assert_eq!((back.what, back.after), (What::Lift, 2));
        let gone = first_break(&[rest(100.0), rest(-20.0), rest(-15.0)], 30.0);
        assert_eq!(gone.what, What::Removed);
        // Half of the way back is the limit.
        let half = |level_g: f64| first_break(&[rest(100.0), rest(-20.0), rest(level_g)], 30.0).what;
        assert_eq!([45.0, 35.0].map(half), [What::Lift, What::Removed]);
    }

    #[test]
    fn a_lag_recovers_ever_more_slowly_and_a_pour_does_not() {
        let recovers = |rise: &dyn Fn(f64) -> f64| {
            let up = (0..40).map(|i| rise(0.1 * f64::from(i))).collect();
            let (seen, stretches) = seen(&[rest(100.0), (up, true)]);
            let none = Vec::new;
            let view = View {
                seen: &seen,
                stretches: &stretches,
                max_flow: 30.0,
                step_g: 0.1,
                head: none(),
                settled: none(),
                tail: none(),
                to_come: Vec::new(),
            };
            view.recovers(1, stretches[1].last, 100.0, -10.0)
        };
        // By hand: 80 exp(-t/0.35) is at 40 g after 0.24 s, at 0.15 g after 2.2 s; a straight rise is half way
        // after half the time.
        assert!(recovers(&|t| 100.0 - 80.0 * (-t / 0.35).exp()));
        assert!(!recovers(&|t| (20.0 + 40.0 * t).min(101.0)));
        assert!(!recovers(&|t| 85.0 + 15.0 * (1.0 - (-t / 0.35).exp())), "no further off than the jump");
    }
}
