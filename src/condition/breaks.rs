//! In: stretches of undisturbed samples. Out: the break between each pair of stretches, and the offset of the level
//! after it.
//!
//! Between two stretches the level jumped faster than any pour, or the reading was disturbed for longer than a knock
//! lasts. There are four causes: the vessel was off the scale and came back; the zero key; a load was added or
//! removed; the vessel was removed for good.

use crate::condition::stretch::{LONGEST_KNOCK_S, Level, SETTLES_S, SWING_G, Seen, Stretch};

/// A lifted vessel is usually back within this time, s.
const LIFT_S: f64 = 20.0;
/// Least water after a fall that excludes a removed vessel, g.
const STILL_POURING_G: f64 = 8.0;
/// The lag may leave this much of a jump in a level that counts as settled: in g, and as a fraction of the jump.
const LAG_RESIDUE_G: f64 = 0.3;
const LAG_RESIDUE_FRACTION: f64 = 0.05;
/// A recovery reaches half of its way within this fraction of its time: a lag needs a quarter, water of constant flow
/// a half.
const HALF_TIME_FRACTION: f64 = 0.4;
/// A fall by less than this in the middle of a pour, or next to a larger excursion, is the tail of a knock, g.
const UNSURE_G: f64 = 5.0;
/// Fraction of the samples of a disturbance away from both levels, if a vessel was off or swung.
const AWAY_FRACTION: f64 = 0.3;
/// Bounds the search for the return of a vessel.
const MAX_SUCCESSORS: usize = 24;
/// A vessel swings for up to this time before it is lifted, s.
const SWINGS_BEFORE_S: f64 = 1.5;
/// Readings that belong to the return of a vessel may last for this time before the jump, s.
const RETURNS_S: f64 = 0.2;
/// If no rest identifies the first contact, the vessel is taken to be held for this time before a lift, s.
const HELD_S: f64 = 0.3;

/// Kind of the break between two stretches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum BreakKind {
    /// Not longer than a knock; the level continues.
    Knock,
    /// Off and back, or on and off again.
    Lift,
    /// Disturbed for seconds; the level continues.
    Swirl,
    /// Zero key.
    Zeroing,
    /// A load added or removed.
    Placed,
    /// Removed for good.
    Removed,
}

/// A break of level: its kind, the stretches on both sides, and the offset that is subtracted from every later
/// reading.
#[derive(Debug, Clone, Copy)]
pub(super) struct Break {
    pub kind: BreakKind,
    pub after: usize,
    pub tail: Level,
    pub head: Level,
    pub offset_g: f64,
    /// Size of the excursion, g.
    pub size_g: f64,
}

/// The stretches with the levels at their ends.
struct View<'a> {
    seen: &'a Seen,
    stretches: &'a [Stretch],
    /// First samples after a load that was put on slowly enough to resemble water.
    loads: &'a [usize],
    max_flow: f64,
    resolution_g: f64,
    /// Level at the first sample, level once settled, level at the last sample.
    head: Vec<Level>,
    settled: Vec<Level>,
    tail: Vec<Level>,
    /// Water that arrives from the start of a stretch to the end of the log, without jumps, g.
    to_come: Vec<f64>,
}

/// Classifies the breaks between the stretches, in order.
pub(super) fn breaks(
    seen: &Seen,
    stretches: &[Stretch],
    loads: &[usize],
    max_flow: f64,
    resolution_g: f64,
) -> Vec<Break> {
    let head = stretches.iter().map(|&s| seen.head(s, false)).collect();
    let settled: Vec<Level> = stretches.iter().map(|&s| seen.head(s, true)).collect();
    let tail: Vec<Level> = stretches.iter().map(|&s| seen.tail(s, 0.0)).collect();
    let mut to_come = vec![0.0; stretches.len() + 1];
    for k in (0..stretches.len()).rev() {
        // The first readings of a return may still be possible: they are no water.
        let s = stretches[k];
        let early = |i: &usize| seen.plausible[*i] && seen.t[s.last] - seen.t[*i] >= RETURNS_S;
        let end = (s.first..=s.last).rev().find(early).filter(|_| !tail[k].calm);
        let rise = end.map_or(tail[k].mass_g, |i| seen.y[i]) - settled[k].mass_g;
        to_come[k] = to_come[k + 1] + if rise > 1.0 { rise } else { 0.0 };
    }
    let view = View { seen, stretches, loads, max_flow, resolution_g, head, settled, tail, to_come };
    let mut found = Vec::new();
    let mut k = 0;
    while k + 1 < stretches.len() {
        let b = view.classify(k);
        k = b.after;
        found.push(b);
        if b.kind == BreakKind::Removed {
            break;
        }
    }
    found
}

impl View<'_> {
    fn classify(&self, k: usize) -> Break {
        let (seen, noise, tail, next) = (self.seen, self.seen.noise_g, self.tail[k], k + 1);
        let (unsettled, head) = (self.head[next], self.settled[next]);
        let span_s = seen.t[self.stretches[next].first] - seen.t[self.stretches[k].last];
        let possible = |l: Level| {
            let rise = l.mass_g - tail.mass_g;
            rise > -4.0 * noise && rise < self.max_flow * span_s + 4.0 * noise
        };
        let (outside, share) = self.outside(k, next);
        let is_load = self.loads.contains(&self.stretches[next].first);
        if !is_load && span_s <= LONGEST_KNOCK_S && possible(unsettled) {
            return Break {
                kind: BreakKind::Knock,
                after: next,
                tail,
                head: unsettled,
                offset_g: 0.0,
                size_g: outside,
            };
        }
        let tail = self.before_swing(k);
        let jump = head.mass_g - tail.mass_g;
        let size_g = if outside == 0.0 { jump } else { outside };
        // A knock during a change of level is a few samples; a vessel that was off is most of them.
        let far = outside.abs() > SWING_G && span_s > LONGEST_KNOCK_S && share > AWAY_FRACTION;
        let swings = outside.abs() > 2.0 * jump.abs()
            && ((span_s > LONGEST_KNOCK_S && share > AWAY_FRACTION) || jump.abs() < UNSURE_G);
        let recovers = !head.calm && jump < 0.0 && self.recovers(next, head.at, tail.mass_g, jump);
        if far || swings || recovers || jump.abs() < 4.0 * noise {
            // Off and back, too fast for a calm level between; or a swing about the level.
            return self.lift(
                k,
                next,
                if outside.abs() > SWING_G { BreakKind::Lift } else { BreakKind::Swirl },
            );
        }
        let zero = |l: Level, residue_g: f64| {
            let scatter_g = if l.calm { 3.0 } else { 6.0 } * noise;
            l.mass_g.abs() <= scatter_g.max(1.01 * self.resolution_g).max(residue_g)
        };
        let zeroed = zero(head, LAG_RESIDUE_G.min(LAG_RESIDUE_FRACTION * jump.abs())) && !zero(tail, 0.0);
        if let Some(j) = self.comes_back(k, if zeroed { 0.25 } else { 0.5 }) {
            return self.lift(k, j, BreakKind::Lift);
        }
        let passed_s = seen.t[head.at] - seen.t[tail.at];
        let water = !is_load && jump > -UNSURE_G && jump < self.max_flow * passed_s + 4.0 * noise;
        let kind = if zeroed {
            BreakKind::Zeroing
        } else if water && !(tail.calm && head.calm) {
            BreakKind::Knock
        } else if jump < -SWING_G && self.to_come[next] < STILL_POURING_G {
            BreakKind::Removed
        } else {
            BreakKind::Placed
        };
        let offset_g = if matches!(kind, BreakKind::Removed | BreakKind::Knock) { 0.0 } else { jump };
        Break { kind, after: next, tail, head, offset_g, size_g }
    }

    /// The level at the end of a stretch, before a possible contact with the vessel.
    fn before_swing(&self, k: usize) -> Level {
        if self.tail[k].calm { self.tail[k] } else { self.seen.tail(self.stretches[k], SWINGS_BEFORE_S) }
    }

    /// The level before a lift, even if no rest identifies the first contact.
    fn before_lift(&self, k: usize) -> Level {
        let (seen, s, mut tail) = (self.seen, self.stretches[k], self.before_swing(k));
        if !tail.calm {
            let is_held = |i: usize| seen.t[s.last] - seen.t[i] < HELD_S || !seen.plausible[i];
            tail.at = (s.first..=s.last).rev().find(|&i| !is_held(i)).unwrap_or(s.first);
            tail.mass_g = seen.y[tail.at];
        }
        tail
    }

    /// A lift or a swing: the level before the first contact, and the level after the return.
    fn lift(&self, k: usize, after: usize, kind: BreakKind) -> Break {
        let (seen, noise) = (self.seen, self.seen.noise_g);
        let tail = self.before_lift(k);
        let mut head = self.settled[after];
        if !head.calm {
            // Water may follow at once: the level is settled as soon as the old level is reached.
            let s = self.stretches[after];
            let reached =
                (s.first..=head.at).find(|&i| seen.plausible[i] && seen.y[i] >= tail.mass_g - 3.0 * noise);
            head.at = reached.unwrap_or(head.at);
        }
        let offset = head.mass_g - tail.mass_g;
        // Applies even to an unsettled level: poured water does not leave by itself.
        let lost = kind == BreakKind::Lift && offset < -UNSURE_G;
        let known = tail.calm && (lost || (head.calm && offset.abs() >= 1.5 * noise));
        let (outside, _) = self.outside(k, after);
        Break { kind, after, tail, head, offset_g: if known { offset } else { 0.0 }, size_g: outside }
    }

    /// Whether stretch `next` begins far below the level before the break, by much more than the apparent jump, and
    /// approaches it ever more slowly up to sample `until`. This is the response of a lag after a knock, not the
    /// start of a pour.
    fn recovers(&self, next: usize, until: usize, level_g: f64, jump_g: f64) -> bool {
        let (seen, s) = (self.seen, self.stretches[next]);
        let lowest = (s.first..=until).min_by(|&i, &j| seen.y[i].total_cmp(&seen.y[j])).unwrap_or(s.first);
        let (from_s, from_g) = (seen.t[lowest], seen.y[lowest]);
        let early = (lowest..=s.last).take_while(|&i| seen.t[i] - from_s <= SETTLES_S);
        let passes =
            |g: f64| early.clone().find(|&i| seen.plausible[i] && seen.y[i] >= g).map(|i| seen.t[i] - from_s);
        let back_g = level_g - 3.0 * seen.noise_g;
        let (half_s, whole_s) = (passes(f64::midpoint(from_g, back_g)), passes(back_g));
        from_g < level_g + 2.0 * jump_g
            && half_s.zip(whole_s).is_some_and(|(half, whole)| half < HALF_TIME_FRACTION * whole)
    }

    /// The first stretch after a jump back to the level of stretch `k`, if any.
    fn comes_back(&self, k: usize, share: f64) -> Option<usize> {
        let tail = self.tail[k];
        let depth = self.settled[k + 1].mass_g - tail.mass_g;
        let left_s = self.seen.t[self.stretches[k].last];
        let off = |l: Level| (l.mass_g - tail.mass_g) / depth;
        for j in (k + 2..self.stretches.len()).take(MAX_SUCCESSORS) {
            // Nothing is poured into a vessel that is off the scale.
            if self.to_come[k + 1] - self.to_come[j] > STILL_POURING_G {
                return None;
            }
            let back = self.settled[j];
            // A level of exactly zero after an added load is a zeroing, not a removal.
            let zeroed = depth > 0.0 && back.mass_g.abs() <= 3.0 * self.seen.noise_g;
            if off(self.tail[j - 1]) > share && off(back).abs() <= share && !zeroed {
                let soon = self.seen.t[self.stretches[j].first] - left_s <= LIFT_S;
                let unmistakable = off(back).abs() < 0.1 && depth < 0.0 && self.to_come[j] > STILL_POURING_G;
                return (soon || unmistakable).then_some(j);
            }
        }
        None
    }

    /// Largest distance of the samples between two stretches from both levels, g, and the fraction away from both.
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

    /// Trace of a load on a scale with a lag of 0.33 s, at 10 Hz, with small noise and a readout of 0.1 g.
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
    fn a_knock_that_ends_as_a_pour_begins_is_no_change_of_load() {
        let knock = |t: f64| if (20.0..20.25).contains(&t) { -100.0 } else { 0.0 };
        let trace = conditioned(|t| water(t, 5.0, 15.0) + water(t, 21.2, 30.0) + knock(t), 40);
        assert!(!kinds(&trace).contains(&EventKind::Placed), "{:?}", trace.events);
        let mass_g = &trace.water.as_ref().unwrap().mass_g;
        assert!((mass_g[mass_g.len() - 1] - 94.0).abs() < 0.3, "{:?}", mass_g.last());
    }

    #[test]
    fn a_vessel_lifted_between_two_pours_without_rest_is_not_used_while_held_or_settling() {
        let off = |t: f64| {
            let taken = if (15.8..24.0).contains(&t) { -500.0 } else { 0.0 };
            if (15.6..15.8).contains(&t) { 6.0 } else { taken }
        };
        let poured = |t: f64| water(t, 5.0, 15.0) + water(t, 26.2, 35.0);
        let (lifted, undisturbed) = (conditioned(|t| poured(t) + off(t), 45), conditioned(poured, 45));
        let (got, expected) = (lifted.water.as_ref().unwrap(), undisturbed.water.as_ref().unwrap());
        let used = (0..450).filter(|&i| got.flag[i] == Flag::Used);
        for i in used {
            let off_g = got.mass_g[i] - expected.mass_g[i];
            assert!(off_g.abs() < 0.7, "{off_g} g at {} s", lifted.time_s[i]);
        }
    }

    use super::*;
    use std::iter::repeat_n;

    /// Readings at 10 Hz in parts that are plausible or not, and the stretches of the plausible parts; noise 0.05 g.
    fn seen(parts: &[(Vec<f64>, bool)]) -> (Seen, Vec<Stretch>) {
        let (mut y, mut plausible, mut stretches) = (Vec::new(), Vec::new(), Vec::new());
        for (part, is_plausible) in parts {
            if *is_plausible {
                stretches.push(Stretch { first: y.len(), last: y.len() + part.len() - 1 });
            }
            y.extend(part);
            plausible.extend(repeat_n(*is_plausible, part.len()));
        }
        (Seen { t: (0..y.len()).map(|i| 0.1 * i as f64).collect(), y, plausible, noise_g: 0.05 }, stretches)
    }

    fn rest(level_g: f64) -> (Vec<f64>, bool) {
        (vec![level_g; 20], true)
    }

    fn first_break(parts: &[(Vec<f64>, bool)], max_flow: f64) -> Break {
        let (seen, stretches) = seen(parts);
        breaks(&seen, &stretches, &[], max_flow, 0.1)[0]
    }

    #[test]
    fn a_jump_has_the_size_of_the_difference_of_its_levels() {
        let on = first_break(&[rest(0.0), (vec![50.0, 100.0, 150.0], false), rest(200.0)], 30.0);
        assert_eq!((on.kind, on.offset_g, on.size_g), (BreakKind::Placed, 200.0, 200.0));
        let off = first_break(&[rest(200.0), (vec![150.0, 100.0, 50.0], false), rest(20.0)], 30.0);
        assert_eq!((off.kind, off.offset_g, off.size_g), (BreakKind::Removed, 0.0, -180.0));
        // More than 8 g still to come: a load was removed, and the vessel is there.
        let still = (0..40).map(|i| 20.0 + 0.3 * f64::from(i)).collect();
        let taken = first_break(&[rest(200.0), (vec![150.0, 100.0], false), rest(20.0), (still, true)], 30.0);
        assert_eq!((taken.kind, taken.offset_g), (BreakKind::Placed, -180.0));
    }

    #[test]
    fn a_rise_that_water_can_cause_within_a_knock_is_no_jump() {
        // Half a second at 30 g/s and four sd of 0.05 g: from -0.2 to 15.2 g.
        let kind = |rise_g: f64| {
            let between = vec![10.0 + rise_g / 2.0; 4];
            first_break(&[rest(10.0), (between, false), rest(10.0 + rise_g)], 30.0).kind
        };
        assert_eq!(
            [-0.21, -0.19, 15.1, 15.3].map(kind),
            [BreakKind::Placed, BreakKind::Knock, BreakKind::Knock, BreakKind::Placed]
        );
    }

    #[test]
    fn water_that_arrived_during_a_disturbance_is_counted() {
        // 5 g/s all the time, two seconds of it excluded.
        let pour = |from: usize, to: usize| (from..to).map(|i| 0.5 * i as f64).collect::<Vec<f64>>();
        let parts = [(pour(0, 20), true), (pour(20, 40), false), (pour(40, 80), true)];
        let found = |max_flow: f64| first_break(&parts, max_flow);
        assert_eq!((found(6.0).kind, found(6.0).offset_g), (BreakKind::Knock, 0.0));
        assert_eq!(found(4.0).kind, BreakKind::Placed);
    }

    #[test]
    fn a_vessel_that_returns_lighter_or_heavier_gives_an_offset_above_the_noise() {
        let offset_g = |by_g: f64| {
            let found = first_break(&[rest(100.0), (vec![-300.0; 30], false), rest(100.0 + by_g)], 30.0);
            assert_eq!(found.kind, BreakKind::Lift);
            found.offset_g
        };
        // One and a half sd of 0.05 g are 0.075 g.
        for (by_g, expected_g) in [(-1.0, -1.0), (1.0, 1.0), (-0.08, -0.08), (-0.07, 0.0), (0.07, 0.0)] {
            assert!((offset_g(by_g) - expected_g).abs() < 1e-9, "{by_g}: {}", offset_g(by_g));
        }
    }

    #[test]
    fn a_vessel_is_back_at_its_level_and_not_at_a_level_that_is_still_off() {
        let back = first_break(&[rest(100.0), rest(-20.0), rest(100.0)], 30.0);
        assert_eq!((back.kind, back.after), (BreakKind::Lift, 2));
        let gone = first_break(&[rest(100.0), rest(-20.0), rest(-15.0)], 30.0);
        assert_eq!(gone.kind, BreakKind::Removed);
        // Half of the way back is the limit.
        let half = |level_g: f64| first_break(&[rest(100.0), rest(-20.0), rest(level_g)], 30.0).kind;
        assert_eq!([45.0, 35.0].map(half), [BreakKind::Lift, BreakKind::Removed]);
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
                loads: &[],
                max_flow: 30.0,
                resolution_g: 0.1,
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
