//! In: stretches of undisturbed samples. Out: what happened between them, and by how much the level is off afterwards.
//!
//! Between two stretches the level jumped faster than any pour, or the reading was disturbed for longer than a
//! knock lasts. Four things do that: the vessel was off the scale and came back; the zero key; something was put on
//! or taken off; the vessel was taken away for good.

use super::stretch::{LONGEST_KNOCK_S, Level, Seen, Stretch};

/// A lifted vessel is usually back within this time, s.
const LIFT_S: f64 = 20.0;
/// Water that must still come for the vessel not to be gone, g.
const STILL_POURING_G: f64 = 8.0;
/// A swing is smaller than this, g; a vessel that leaves is more.
const SWING_G: f64 = 25.0;
/// Bounds the search for the return of a vessel.
const MOST_LOOKED_AT: usize = 24;

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
    /// Level at the first sample, level once settled, level at the last sample.
    head: Vec<Level>,
    settled: Vec<Level>,
    tail: Vec<Level>,
    /// Water that arrives from a stretch on, jumps not counted, g.
    to_come: Vec<f64>,
}

/// Goes through the stretches in order and names each break.
pub(super) fn breaks(seen: &Seen, stretches: &[Stretch], max_flow: f64) -> Vec<Break> {
    let head = stretches.iter().map(|&s| seen.head(s, false)).collect();
    let settled: Vec<Level> = stretches.iter().map(|&s| seen.head(s, true)).collect();
    let tail: Vec<Level> = stretches.iter().map(|&s| seen.tail(s)).collect();
    let mut to_come = vec![0.0; stretches.len() + 1];
    for k in (0..stretches.len()).rev() {
        let rise = tail[k].mass_g - settled[k].mass_g;
        to_come[k] = to_come[k + 1] + if rise > 1.0 { rise } else { 0.0 };
    }
    let view = View { seen, stretches, max_flow, head, settled, tail, to_come };
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
        let make = |what, after: usize, head: Level, offset_g| {
            let size_g = self.excursion(k, after, tail.mass_g, head.mass_g);
            Break { what, after, tail, head, offset_g, size_g }
        };
        let possible = |l: Level| {
            let rise = l.mass_g - tail.mass_g;
            rise > -4.0 * noise && rise < self.max_flow * span_s + 4.0 * noise
        };
        if span_s <= LONGEST_KNOCK_S && possible(unsettled) {
            return make(What::Knock, next, unsettled, 0.0);
        }
        let jump = head.mass_g - tail.mass_g;
        let size = self.excursion(k, next, tail.mass_g, head.mass_g).abs();
        if jump.abs() < 4.0 * noise || (jump.abs() < 0.5 * size && (possible(head) || size > SWING_G)) {
            // Off and back, too quick for a calm level between; or a swing about the level.
            let what = if size > SWING_G { What::Lift } else { What::Swirl };
            return make(what, next, head, self.unexplained(tail, head));
        }
        let zero = |l: Level| l.mass_g.abs() <= if l.calm { 3.0 } else { 6.0 } * noise;
        let zeroed = zero(head) && !zero(tail);
        if let Some(j) = self.comes_back(k, if zeroed { 0.25 } else { 0.5 }) {
            return make(What::Lift, j, self.settled[j], self.unexplained(tail, self.settled[j]));
        }
        if zeroed {
            return make(What::Zeroing, next, head, jump);
        }
        if jump < -SWING_G && self.to_come[next] < STILL_POURING_G {
            return make(What::Removed, next, head, 0.0);
        }
        make(What::Placed, next, head, jump)
    }

    /// The stretch at which the level of stretch `k` is back by a jump, if any.
    fn comes_back(&self, k: usize, share: f64) -> Option<usize> {
        let tail = self.tail[k];
        let depth = self.settled[k + 1].mass_g - tail.mass_g;
        let left_s = self.seen.t[self.stretches[k].last];
        let off = |l: Level| (l.mass_g - tail.mass_g) / depth;
        for j in (k + 2..self.stretches.len()).take(MOST_LOOKED_AT) {
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

    /// Offset across a disturbance: none where water may have run, or where the two levels agree within the noise.
    fn unexplained(&self, tail: Level, head: Level) -> f64 {
        let offset = head.mass_g - tail.mass_g;
        if !(tail.calm && head.calm) || offset.abs() < 1.5 * self.seen.noise_g { 0.0 } else { offset }
    }

    /// Largest deviation between two stretches from the way between their levels, g; the jump itself where there is none.
    fn excursion(&self, k: usize, after: usize, from_g: f64, to_g: f64) -> f64 {
        let (low, high) = (from_g.min(to_g), from_g.max(to_g));
        let out = |y: f64| if y < low { y - low } else { (y - high).max(0.0) };
        let between = self.stretches[k].last + 1..self.stretches[after].first;
        let outside = between.map(|i| out(self.seen.y[i])).filter(|d| d.is_finite());
        let largest = outside.fold(0.0, |a: f64, d| if d.abs() > a.abs() { d } else { a });
        if largest == 0.0 { to_g - from_g } else { largest }
    }
}
