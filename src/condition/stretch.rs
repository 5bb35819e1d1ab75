//! In: the longest path of possible samples. Out: the stretches in which one vessel stood undisturbed on the scale,
//! with their levels.

use crate::condition::longest_path::LongestPath;
use crate::math::robust::median;

/// A stretch is at least this long, s; a shorter interval between two jumps is still settling.
const SHORTEST_S: f64 = 0.8;
/// Disturbances nearer to each other than this are one, s.
const NEAR_S: f64 = 0.7;
/// A longer excursion is no knock, s.
pub(crate) const LONGEST_KNOCK_S: f64 = 1.3;
/// A swing is smaller than this, g; a removed vessel is larger.
pub(crate) const SWING_G: f64 = 25.0;
/// Two windows of this length with the same mean are calm, s.
const CALM_S: f64 = 0.4;
/// Draughts move any scale by this much, g.
const DRAUGHT_G: f64 = 0.05;
/// After a jump the level is calm within this time, or water flows, s.
pub(crate) const SETTLES_S: f64 = 2.5;

/// If it is not calm within that time, it is taken to have settled after this time, s.
const UNCLEAR_S: f64 = 0.6;
/// The reading crosses from the last sample of one knock to the first of the next in less than this, s.
const CROSSES_S: f64 = 0.35;

/// The samples in question, and which of them lie on the longest path and in no disturbance.
pub(crate) struct Seen {
    pub t: Vec<f64>,
    pub y: Vec<f64>,
    pub plausible: Vec<bool>,
    pub noise_g: f64,
}

/// From one sample to another, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Stretch {
    pub first: usize,
    pub last: usize,
}

/// A level, and whether the reading was calm there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Level {
    pub mass_g: f64,
    pub calm: bool,
    /// First sample (of a head) or last sample (of a tail) that is at this level.
    pub at: usize,
}

/// Splits at the jumps and at long disturbances; samples within the latter become implausible.
pub(crate) fn stretches(seen: &mut Seen, path: &LongestPath) -> Vec<Stretch> {
    let mut cut = path.jump.clone();
    for (first, last) in disturbances(&seen.t, path) {
        seen.plausible[first..=last].fill(false);
        if let Some(after) = cut.get_mut(last + 1) {
            *after = true;
        }
    }
    let mut all: Vec<Stretch> = Vec::new();
    let mut pending = false;
    for (i, &cut) in cut.iter().enumerate() {
        pending |= cut;
        if seen.plausible[i] {
            match all.last_mut() {
                Some(s) if !pending => s.last = i,
                _ => all.push(Stretch { first: i, last: i }),
            }
            pending = false;
        }
    }
    let t = &seen.t;
    let long = |s: &Stretch| t[s.last] - t[s.first] >= SHORTEST_S && s.last - s.first >= 3;
    if all.iter().any(long) {
        all.retain(long);
    } else {
        all = all.into_iter().max_by_key(|s| s.last - s.first).into_iter().collect();
    }
    all
}

/// Groups of excluded samples and of jumps, near each other, that last longer than a knock.
fn disturbances(t: &[f64], path: &LongestPath) -> Vec<(usize, usize)> {
    struct Group {
        first: usize,
        last: usize,
        excluded: usize,
        jumps: usize,
    }
    let mut groups: Vec<Group> = Vec::new();
    for i in (0..t.len()).filter(|&i| !path.on_path[i] || path.jump[i]) {
        let (excluded, jumps) = (usize::from(!path.on_path[i]), usize::from(path.jump[i]));
        match groups.last_mut() {
            Some(g) if t[i] - t[g.last] <= NEAR_S => {
                g.last = i;
                g.excluded += excluded;
                g.jumps += jumps;
            }
            _ => groups.push(Group { first: i, last: i, excluded, jumps }),
        }
    }
    let lasts = |g: &Group| {
        let (before, after) = (g.first.saturating_sub(1), (g.last + 1).min(t.len() - 1));
        let many = g.jumps > 0 || g.excluded * 3 > g.last - g.first;
        t[after] - t[before] > LONGEST_KNOCK_S && g.excluded > 3 && many
    };
    groups.retain(lasts);
    // A jump is complete at its last sample, which is valid unless more follows.
    groups
        .iter()
        .map(|g| (g.first, if path.jump[g.last] && g.last > g.first { g.last - 1 } else { g.last }))
        .collect()
}

impl Seen {
    /// Excludes the few possible samples between two knocks of a stretch: a slow scale recovers from one and falls to
    /// the next.
    pub(crate) fn exclude_crossings(&mut self, from: usize, last: usize) {
        let mut at = from;
        while let Some(first) = (at + 1..last).find(|&i| self.plausible[i] && !self.plausible[i - 1]) {
            at = (first..last).find(|&i| !self.plausible[i]).unwrap_or(last);
            if at < last && self.t[at] - self.t[first - 1] < CROSSES_S {
                self.plausible[first..at].fill(false);
            }
        }
    }

    /// The level from the first sample of a stretch on; after a jump, the settled level.
    pub fn head(&self, s: Stretch, settling: bool) -> Level {
        let mut i = s.first;
        while i <= s.last && self.t[i] - self.t[s.first] <= SETTLES_S {
            if let Some(mass_g) = self.plausible[i].then(|| self.calm(s, i, true)).flatten() {
                let same = |&k: &usize| self.plausible[k] && (self.y[k] - mass_g).abs() <= 3.0 * self.noise_g;
                let at = if settling { (i..=s.last).find(same).unwrap_or(i) } else { i };
                return Level { mass_g, calm: true, at };
            }
            if !settling {
                break;
            }
            i += 1;
        }
        let after_s = |i: usize| self.t[i] - self.t[s.first];
        let late = (s.first..=s.last).find(|&i| settling && after_s(i) >= UNCLEAR_S);
        let mut at = late.unwrap_or(s.first);
        // A slow scale is still settling while its slope decreases.
        while late.is_some() && after_s(at) < SETTLES_S && self.slows(s, at) {
            at += 1;
        }
        Level { mass_g: self.y[at], calm: false, at }
    }

    /// Whether the slope of the level decreases significantly at a sample.
    fn slows(&self, s: Stretch, i: usize) -> bool {
        let near = |k: &usize| self.plausible[*k] && (self.t[*k] - self.t[i]).abs() <= CALM_S;
        let first = (s.first..i).find(near);
        let last = (i + 1..=s.last).rev().find(near);
        first.zip(last).is_some_and(|(first, last)| {
            let slope = |a: usize, b: usize| ((self.y[b] - self.y[a]) / (self.t[b] - self.t[a])).abs();
            let sd = 1.4 * self.noise_g / (self.t[i] - self.t[first]).min(self.t[last] - self.t[i]);
            slope(first, i) - slope(i, last) > 2.0 * 1.4 * sd
        })
    }

    /// The level at the end of a stretch; the samples of the last `reach_s` may belong to the next break.
    pub fn tail(&self, s: Stretch, reach_s: f64) -> Level {
        let near = |i: usize| self.t[s.last] - self.t[i] <= reach_s || s.last - i < 4;
        let last = (s.first..=s.last).rev().take_while(|&i| near(i)).filter(|&i| self.plausible[i]);
        let calm = last.filter_map(|i| Some((i, self.calm(s, i, false)?))).next();
        let Some((from, mass_g)) = calm else {
            return Level { mass_g: self.y[s.last], calm: false, at: s.last };
        };
        let same = |&i: &usize| self.plausible[i] && (self.y[i] - mass_g).abs() <= 3.0 * self.noise_g;
        let onwards = (from..=s.last).take_while(|i| !self.plausible[*i] || same(i)).last();
        let at = onwards.or_else(|| (s.first..from).rev().find(same)).unwrap_or(from);
        Level { mass_g, calm: true, at }
    }

    /// Fall of the readings at the end of the log, g, if they did not come to rest again.
    pub fn final_fall(&self, from: usize) -> Option<f64> {
        let before = *self.y.get(from.checked_sub(1)?)?;
        let mut rest = self.y.get(from..)?.to_vec();
        let fall = median(&mut rest) - before;
        (fall < -SWING_G && self.t[self.t.len() - 1] - self.t[from] > 0.5).then_some(fall)
    }

    /// Median of the two windows next to sample `i`, if they agree.
    fn calm(&self, s: Stretch, i: usize, forward: bool) -> Option<f64> {
        let mut near = Vec::new();
        let mut far = Vec::new();
        let mut k = i;
        loop {
            let away = (self.t[k] - self.t[i]).abs();
            if away >= 2.0 * CALM_S && near.len() >= 2 && far.len() >= 2 {
                break;
            }
            if self.plausible[k] {
                if away < CALM_S || near.len() < 2 { near.push(self.y[k]) } else { far.push(self.y[k]) }
            }
            if (forward && k == s.last) || (!forward && k == s.first) {
                break;
            }
            if forward { k += 1 } else { k -= 1 }
        }
        if near.len() < 2 || far.len() < 2 {
            return None;
        }
        // 1.25: sd of a median over that of a mean.
        let sd = 1.25 * self.noise_g * (1.0 / near.len() as f64 + 1.0 / far.len() as f64).sqrt();
        let same = (median(&mut far) - median(&mut near)).abs() < (2.5 * sd).max(DRAUGHT_G);
        near.append(&mut far);
        let level = median(&mut near);
        let scatter = near.iter().map(|y| (y - level).powi(2)).sum::<f64>() / near.len() as f64;
        (same && scatter.sqrt() < 2.0 * self.noise_g.max(DRAUGHT_G)).then_some(level)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_between_two_knocks_for_a_moment_is_excluded_and_a_level_is_not() {
        let plausible = |pattern: &str| pattern.chars().map(|c| c == '+').collect::<Vec<bool>>();
        let mut seen = Seen {
            t: (0..17).map(|i| 0.1 * f64::from(i)).collect(),
            y: vec![0.0; 17],
            plausible: plausible("++--+---++++--+++"),
            noise_g: 0.05,
        };
        seen.exclude_crossings(0, 16);
        assert_eq!(seen.plausible, plausible("++------++++--+++"));
    }

    #[test]
    fn a_short_interval_between_two_jumps_is_no_stretch_anywhere_in_the_log() {
        // Eight readings per second: seven of them last 0.75 s, eight 0.875 s; the limit is 0.8 s.
        let n = 120;
        let mut seen = Seen {
            t: (0..n).map(|i| 0.125 * i as f64).collect(),
            y: vec![0.0; n],
            plausible: vec![true; n],
            noise_g: 0.05,
        };
        let jump = (0..n).map(|i| [40, 47, 80, 88].contains(&i)).collect();
        let found = stretches(&mut seen, &LongestPath { on_path: vec![true; n], jump });
        let expected = [(0, 39), (47, 79), (80, 87), (88, 119)].map(|(first, last)| Stretch { first, last });
        assert_eq!(found, expected);
    }

    #[test]
    fn a_decrease_of_slope_is_significant_above_its_noise() {
        // Slopes over 0.375 s, three of eight readings a second, of 0.05 g: 1.4 x 0.05/0.375 = 0.187 g/s each, 2 x
        // 1.4 of them 0.52 g/s.
        let slows = |by_g_per_s: f64| {
            let t: Vec<f64> = (0..17).map(|i| 0.125 * f64::from(i)).collect();
            let y = t.iter().map(|t| 3.0 * t.min(1.0) + (3.0 - by_g_per_s) * (t - 1.0).max(0.0)).collect();
            let seen = Seen { t, y, plausible: vec![true; 17], noise_g: 0.05 };
            seen.slows(Stretch { first: 0, last: 16 }, 8)
        };
        assert_eq!([-1.0, 0.5, 0.55].map(slows), [false, false, true]);
    }

    #[test]
    fn a_disturbance_that_lasts_longer_than_a_knock_separates_two_stretches() {
        // Excluded for k readings of an eighth of a second: from the one before to the one after (k + 1)/8 s; the
        // limit is 1.3 s.
        let parts = |k: usize| {
            let plausible: Vec<bool> = (0..120).map(|i| !(50..50 + k).contains(&i)).collect();
            let t = (0..120).map(|i| 0.125 * f64::from(i)).collect();
            let mut seen = Seen { t, y: vec![0.0; 120], plausible: plausible.clone(), noise_g: 0.05 };
            stretches(&mut seen, &LongestPath { on_path: plausible, jump: vec![false; 120] }).len()
        };
        assert_eq!([9, 10].map(parts), [1, 2]);
    }

    #[test]
    fn two_readings_near_and_two_far_make_a_level_calm_and_fewer_do_not() {
        let calm = |y: &[f64]| {
            let (n, t) = (y.len(), (0..y.len()).map(|i| 0.5 * i as f64).collect());
            let seen = Seen { t, y: y.to_vec(), plausible: vec![true; n], noise_g: 0.05 };
            let s = Stretch { first: 0, last: n - 1 };
            [seen.calm(s, 0, true), seen.calm(s, n - 1, false)]
        };
        assert_eq!(calm(&[5.0; 4]), [Some(5.0); 2]);
        assert_eq!(calm(&[5.0; 3]), [None; 2]);
        // Medians of two and two of 0.05 g differ by 2.5 x 1.25 x 0.05 = 0.156 g at most.
        assert!(calm(&[5.0, 5.0, 5.15, 5.15])[0].is_some() && calm(&[5.0, 5.0, 5.165, 5.165])[0].is_none());
        // They scatter by twice the noise at most: 0.1 g.
        assert!(calm(&[4.91, 5.09, 4.91, 5.09])[0].is_some() && calm(&[4.89, 5.11, 4.89, 5.11])[0].is_none());
    }

    #[test]
    fn a_final_fall_is_larger_than_a_swing() {
        let final_fall = |fall_g: f64, samples: usize| {
            let y = [vec![100.0; 20], vec![100.0 - fall_g; samples]].concat();
            let t = (0..y.len()).map(|i| 0.125 * i as f64).collect();
            Seen { t, plausible: vec![true; y.len()], y, noise_g: 0.05 }.final_fall(20)
        };
        assert_eq!([24.0, 26.0].map(|g| final_fall(g, 20)), [None, Some(-26.0)]);
        // Half a second is too short.
        assert_eq!([5, 6].map(|n| final_fall(26.0, n)), [None, Some(-26.0)]);
    }
}
