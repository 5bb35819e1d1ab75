//! In: one weight without jumps, and the jumps that were taken out. Out: what of it is preparation, and zero at the start of the brew.
//!
//! A brew is prepared by a rinse, emptying, the dose and the zero key. What is before the last zeroing that precedes
//! the brew is preparation; a zeroing after which little water comes, or before which most of it came, is not that one.
//! A vessel that is emptied and put back at zero counts as zeroed: the key then changes nothing that could be seen. So does taking off what was put on:
//! a dose weighed on the water's scale.

use crate::condition::level::What;
use crate::condition::rise::{Rise, rises};
use crate::condition::trace::{EventKind, Flag};
use crate::condition::work::{Repaired, Work};
use crate::math::robust::median;

/// Samples from which the level at the start is taken, s.
const BASE_S: f64 = 5.0;
/// A rinse that was poured away was at least this much, g.
const RINSE_G: f64 = 5.0;
/// The first water is at least this much, g: less may be a reading that settles.
const FIRST_G: f64 = 4.0;
/// More than a few drops, g, as the median of this many samples.
const DROPS_G: f64 = 2.0;
const DROPS_SAMPLES: usize = 5;
/// Water that makes a brew, g.
const BREW_G: f64 = 10.0;
/// A dose falls in within this time, the lag included, s; and is not more than this, g.
const DOSE_S: f64 = 2.6;
const DOSE_G: f64 = 60.0;
/// What is put on and taken off again weighs the same to this, g.
const SAME_G: f64 = 0.5;

impl Work<'_> {
    /// Index of the first sample of the brew, where what was taken out shows that there is a preparation before it.
    /// `collected` tells whether beverage of the water before a sample still stands in the server: a brew, then.
    pub fn brew_start(&self, collected: impl Fn(usize) -> bool) -> Option<usize> {
        let (index, t, y) = self.live();
        let noise = self.noise_g.value;
        let quick = |r: &Rise| r.core_s <= DOSE_S && r.mass_g <= DOSE_G;
        let all = rises(&t, &y, noise);
        let (doses, water): (Vec<Rise>, Vec<Rise>) = all.iter().partition(|r| quick(r));
        let sum = |rises: &[Rise]| rises.iter().map(|r| r.mass_g).sum::<f64>();
        let (mut dosed, mut emptied_at, mut start) = (None, 0, None);
        for (k, r) in self.breaks.iter().enumerate() {
            // The middle of a rise: a pour may begin while the reading still settles.
            let poured = |w: &Rise| index[usize::midpoint(w.first, w.last)] <= r.before;
            let before = &water[..water.partition_point(poured)];
            let after = &all[all.partition_point(poured)..];
            let emptied = r.what == What::Lift
                && -r.offset_g > f64::max(RINSE_G, 0.6 * sum(before))
                && r.reading_g.abs() < f64::max(3.0, 10.0 * noise);
            let emptied = emptied || self.unloaded(k, &index, &all);
            if r.what != What::Zeroing && !emptied {
                continue;
            }
            let last_water = before.last().map_or(0, |w| index[w.last]);
            let since = |i: usize| i >= last_water && i <= r.before;
            // Something put on, taken off or lifted since the last water shows that the vessel was being set up.
            let moved = |p: &&Repaired| matches!(p.what, What::Lift | What::Placed) && since(p.after);
            let set_up = emptied || self.breaks[..k].iter().any(|p| moved(&p));
            let dose = self.breaks[..k].iter().any(|p| moved(&p) && (4.0..DOSE_G).contains(&p.offset_g))
                || doses.iter().any(|d| since(index[d.first]));
            // A dose comes after the rinse: what is quick but before the last slow water is water too.
            let since_emptied = |w: &&Rise| index[w.last] > emptied_at && index[w.last] <= last_water;
            let poured_since = all.iter().filter(since_emptied).count();
            let rinsed = poured_since <= 1 && !collected(r.after);
            let brew_follows = sum(after) >= BREW_G && (set_up || rinsed);
            // With the dose in and zeroed, water that was poured since is no rinse.
            let poured_on = dosed.is_some_and(|d| last_water > d) && !set_up;
            if brew_follows && !poured_on && (sum(after) >= sum(before) || after.len() >= 2) {
                start = Some(if emptied { r.after } else { r.before + 1 });
                dosed = if dose { start } else { None };
                emptied_at = if emptied { r.after } else { emptied_at };
            }
        }
        start
    }

    /// Whether break `k` takes off what alone was put on since the break before it, slowly enough through the lag to look like water.
    fn unloaded(&self, k: usize, index: &[usize], rises: &[Rise]) -> bool {
        let (r, from) = (&self.breaks[k], k.checked_sub(1).map_or(0, |k| self.breaks[k].after));
        if r.what != What::Placed {
            return false;
        }
        let mut since = rises.iter().filter(|w| index[w.last] <= r.before && index[w.last] > from);
        let (Some(first), None) = (since.next(), since.next()) else { return false };
        let same_g = SAME_G.max(6.0 * self.noise_g.value);
        first.core_s <= DOSE_S && (first.mass_g + r.offset_g).abs() < same_g
    }

    /// Whether more than a few drops have arrived before sample `at` and were not taken away.
    pub fn holds(&self, at: usize) -> bool {
        let from = self.breaks.iter().map(|r| r.after).take_while(|&a| a <= at).last().unwrap_or(0);
        let level = |range: std::ops::Range<usize>| {
            let used = range.filter(|&i| self.flag[i] == Flag::Used).take(DROPS_SAMPLES);
            median(&mut used.map(|i| self.mass_g[i]).collect::<Vec<_>>())
        };
        level(at..self.flag.len()) - level(from..self.flag.len()) > DROPS_G.max(8.0 * self.noise_g.value)
    }

    /// Flags what is before the brew.
    pub fn prepare(&mut self, start: usize) {
        let (index, t, y) = self.live();
        let water: Vec<Rise> =
            rises(&t, &y, self.noise_g.value).into_iter().filter(|r| index[r.last] < start).collect();
        let seen_g: f64 = water.iter().map(|r| r.mass_g).sum();
        let mut samples = 0;
        for flag in self.flag[..start].iter_mut().filter(|f| **f == Flag::Used) {
            *flag = Flag::Preparation;
            samples += 1;
        }
        let action = format!(
            "before the brew: not used; {} rises of {seen_g:.1} g in all are seen in it",
            water.len()
        );
        self.list(EventKind::Preparation, 0, start.saturating_sub(1), seen_g, samples, action);
    }

    /// First instant at which water arrives after the start, s.
    pub fn first_water_s(&self) -> Option<f64> {
        let (_, t, y) = self.live();
        let noise = self.noise_g.value;
        rises(&t, &y, noise).iter().find(|r| r.mass_g > FIRST_G.max(12.0 * noise)).map(|r| t[r.first])
    }

    /// Sets zero at the level before the first water, or over the first seconds where none is seen.
    pub fn zero(&mut self, first_water_s: Option<f64>) {
        let (_, t, y) = self.live();
        let Some(&first_s) = t.first() else { return };
        let to_s = first_water_s.unwrap_or(first_s + BASE_S);
        let mut calm: Vec<f64> =
            t.iter().zip(&y).filter(|(t, _)| **t <= to_s && **t > to_s - BASE_S).map(|(_, y)| *y).collect();
        let base = if calm.is_empty() { y[0] } else { median(&mut calm) };
        if base.is_finite() {
            self.mass_g.iter_mut().for_each(|y| *y -= base);
        }
    }
}
