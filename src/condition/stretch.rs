//! In: the chain of possible samples. Out: the stretches in which the scale held one vessel undisturbed, with their levels.

use super::chain::Chain;
use crate::math::robust::median;

/// A stretch is at least this long, s; what is shorter between two jumps is still settling.
const SHORTEST_S: f64 = 0.8;
/// Excursions nearer to each other than this are one, s.
const NEAR_S: f64 = 0.36;
/// Excursions that go on for longer than this are no knocks, s.
pub(super) const LONGEST_KNOCK_S: f64 = 1.3;
/// Two windows of this length with the same mean are calm, s.
const CALM_S: f64 = 0.4;
/// Once the level has jumped it is calm within this time, or water runs, s.
const SETTLES_S: f64 = 2.5;

/// The samples in question, and which of them the chain kept.
pub(super) struct Seen {
    pub t: Vec<f64>,
    pub y: Vec<f64>,
    pub kept: Vec<bool>,
    pub noise_g: f64,
}

/// From one sample to another, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stretch {
    pub first: usize,
    pub last: usize,
}

/// A level, and whether nothing moved there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Level {
    pub mass_g: f64,
    pub calm: bool,
    /// First sample (of a head) or last sample (of a tail) that is at this level.
    pub at: usize,
}

/// Splits at the jumps and at excursions that last.
pub(super) fn stretches(seen: &Seen, chain: &Chain) -> Vec<Stretch> {
    let t = &seen.t;
    let kept: Vec<usize> = (0..t.len()).filter(|&i| seen.kept[i]).collect();
    let mut all: Vec<Stretch> = Vec::new();
    let mut broken = vec![false; t.len()];
    for i in lasting(t, &kept) {
        broken[i] = true;
    }
    for &i in &kept {
        match all.last_mut() {
            Some(s) if !chain.jump[i] && !broken[i] => s.last = i,
            _ => all.push(Stretch { first: i, last: i }),
        }
    }
    let long = |s: &Stretch| t[s.last] - t[s.first] >= SHORTEST_S && s.last - s.first >= 3;
    if all.iter().any(long) {
        all.retain(long);
    } else if let Some(longest) =
        all.iter().copied().max_by(|a, b| (a.last - a.first).cmp(&(b.last - b.first)))
    {
        all = vec![longest];
    }
    all
}

/// Kept samples that do not continue the ones before them, because excursions went on and on between them.
fn lasting(t: &[f64], kept: &[usize]) -> Vec<usize> {
    let mut found = Vec::new();
    let mut k = 1;
    while k < kept.len() {
        if kept[k] == kept[k - 1] + 1 {
            k += 1;
            continue;
        }
        // One group of excursions: from kept[begin] to kept[end], with few good samples between.
        let (begin, mut end, mut look) = (k - 1, k, k);
        while look + 1 < kept.len() && t[kept[look + 1]] - t[kept[end]] <= NEAR_S {
            look += 1;
            if kept[look] != kept[look - 1] + 1 {
                end = look;
            }
        }
        let inside = kept[end] - kept[begin] - 1;
        let good = end - begin - 1;
        if t[kept[end]] - t[kept[begin]] > LONGEST_KNOCK_S && good * 2 <= inside && inside > 3 {
            found.extend(&kept[begin + 1..=end]);
        }
        k = end + 1;
    }
    found
}

impl Seen {
    /// The level from sample `first` on; after a jump, where it has settled.
    pub fn head(&self, s: Stretch, settling: bool) -> Level {
        let mut i = s.first;
        while i <= s.last && self.t[i] - self.t[s.first] <= SETTLES_S {
            if let Some(mass_g) = self.kept[i].then(|| self.calm(s, i, true)).flatten() {
                return Level { mass_g, calm: true, at: i };
            }
            if !settling {
                break;
            }
            i += 1;
        }
        let late = (s.first..=s.last).find(|&i| settling && self.t[i] - self.t[s.first] >= 0.6);
        let at = late.unwrap_or(s.first);
        Level { mass_g: self.y[at], calm: false, at }
    }

    /// The level up to the end of a stretch.
    pub fn tail(&self, s: Stretch) -> Level {
        let Some(mass_g) = self.calm(s, s.last, false) else {
            return Level { mass_g: self.y[s.last], calm: false, at: s.last };
        };
        // The first samples of a fall may still be within the noise that the chain allows.
        let near = |&i: &usize| self.kept[i] && (self.y[i] - mass_g).abs() <= 3.0 * self.noise_g;
        let at = (s.first..=s.last).rev().take(8).find(near).unwrap_or(s.last);
        Level { mass_g, calm: true, at }
    }

    /// Median of the two windows next to sample `i`, where they agree.
    fn calm(&self, s: Stretch, i: usize, forward: bool) -> Option<f64> {
        let mut near = Vec::new();
        let mut far = Vec::new();
        let mut k = i;
        loop {
            let away = (self.t[k] - self.t[i]).abs();
            if away >= 2.0 * CALM_S && near.len() >= 2 && far.len() >= 2 {
                break;
            }
            if self.kept[k] {
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
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let sd = self.noise_g * (1.0 / near.len() as f64 + 1.0 / far.len() as f64).sqrt();
        let same = (mean(&far) - mean(&near)).abs() < 3.0 * sd;
        near.append(&mut far);
        same.then(|| median(&mut near))
    }
}
