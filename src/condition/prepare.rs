//! In: one weight without jumps, and the breaks whose offsets were subtracted. Out: the preparation, and zero at the
//! start of the brew.
//!
//! A brew is prepared by a rinse, emptying, the dose and the zero key. Samples before the last zeroing that precedes
//! the brew are preparation. Water before a zeroing is a rinse if the vessel was emptied or the dose fell in after it, or
//! if it began to arrive on a reading that was not zero. Otherwise it is a pour, and the zero key was pressed after it. A
//! zeroing does not qualify if little water comes after it or most of it came before. A vessel that is emptied and put
//! back at zero counts as zeroed: the key then has no detectable effect. The same holds if an added load is removed: a
//! dose weighed on the water's scale.

use crate::condition::breaks::BreakKind;
use crate::condition::rise::{Rise, rises, rises_apart};
use crate::condition::trace::{EventKind, Flag};
use crate::condition::work::{Repaired, Work};
use crate::math::robust::median;
use std::ops::Range;

/// The level at the start is taken over this time, s.
const BASE_S: f64 = 5.0;
/// A vessel was emptied if it lost more than this, g, and than this share of its water.
const EMPTIED_G: f64 = 5.0;
const EMPTIED_SHARE: f64 = 0.5;
/// Least mass of the first water, g: a smaller rise may be a settling reading.
const FIRST_G: f64 = 4.0;
/// More than a few drops, g, as the median of this many samples.
const DROPS_G: f64 = 2.0;
const DROPS_SAMPLES: usize = 5;
/// Least water of a brew, g.
pub(super) const BREW_G: f64 = 10.0;
/// Longest time in which a dose arrives, the lag included, s; and its mass, g. If it takes longer than `QUICK_S`, its
/// largest mass is `SLOW_DOSE_G`: more is water of a quick pour.
const DOSE_S: f64 = 2.6;
const DOSES_G: Range<f64> = 4.0..60.0;
const QUICK_S: f64 = 1.6;
const SLOW_DOSE_G: f64 = 35.0;
/// If the dose is known, what arrives has its mass within this share and this mass, g: drops fall meanwhile.
const DOSE_SHARE: f64 = 0.3;
const DOSE_DROPS_G: f64 = 2.0;
/// Least time between a rinse and a dose right after it, s.
const SHORT_S: f64 = 0.5;
/// A scale that was zeroed reads less than this, g.
const ZERO_G: f64 = 3.0;
/// A load that is added and removed has the same mass within this, g.
const SAME_G: f64 = 0.5;

/// What the breaks up to one show.
#[derive(Default)]
struct Start {
    /// First sample of the brew.
    at: Option<usize>,
    /// The same if the dose was there before.
    dosed: Option<usize>,
    /// Whether water since is a pour.
    poured: bool,
    /// First sample after the last zeroing.
    zeroed_at: usize,
}

/// Whether a vessel with so much water that lost so much was emptied.
pub(super) fn is_emptied(lost_g: f64, water_g: f64) -> bool {
    lost_g > EMPTIED_G.max(EMPTIED_SHARE * water_g)
}

/// Whether a rise can be the dose; `dose_g` is its mass, if that is known.
fn is_dose(rise: &Rise, dose_g: Option<f64>) -> bool {
    let most_g = if rise.core_s <= QUICK_S { DOSES_G.end } else { SLOW_DOSE_G };
    let is_own = |dose_g: f64| (rise.mass_g - dose_g).abs() <= DOSE_SHARE * dose_g + DOSE_DROPS_G;
    rise.core_s <= DOSE_S && rise.mass_g <= most_g && dose_g.is_none_or(is_own)
}

/// Whether a rise of water ends in the dose, right after a rinse. `pieces` are the rises with the shortest rests between
/// them. Pulses of a kettle are quick, too, but they are several.
fn ends_in_dose(rise: &Rise, pieces: &[Rise], dose_g: Option<f64>) -> bool {
    let inside = pieces.iter().filter(|p| p.first >= rise.first && p.last <= rise.last);
    let doses: Vec<bool> = inside.map(|p| DOSES_G.contains(&p.mass_g) && is_dose(p, dose_g)).collect();
    doses.len() > 1 && doses.iter().position(|is_dose| *is_dose) == Some(doses.len() - 1)
}

impl Work<'_> {
    /// Index of the first sample of the brew, if the breaks show a preparation before it. `dose_g` is the dose, if it is
    /// known. `collected`: whether the server holds beverage of the water before a sample, which makes that water part of
    /// a brew.
    pub fn brew_start(&self, dose_g: Option<f64>, collected: impl Fn(usize) -> bool) -> Option<usize> {
        let (index, t, y) = self.live();
        let noise = self.noise_g.value;
        let all = rises(&t, &y, noise);
        let (doses, water): (Vec<Rise>, Vec<Rise>) = all.iter().partition(|r| is_dose(r, dose_g));
        let pieces = rises_apart(&t, &y, noise, SHORT_S);
        let sum = |rises: &[Rise]| rises.iter().map(|r| r.mass_g).sum::<f64>();
        let mut found = Start::default();
        for (k, r) in self.breaks.iter().enumerate() {
            // The middle of a rise: a pour may begin while the reading still settles.
            let middle = |w: &Rise| index[usize::midpoint(w.first, w.last)];
            let poured = |w: &Rise| middle(w) <= r.before;
            let before = &water[..water.partition_point(poured)];
            let after = &all[all.partition_point(poured)..];
            let emptied = r.kind == BreakKind::Lift
                && is_emptied(-r.offset_g, sum(before))
                && self.is_zero(r.reading_g);
            let emptied = emptied || self.unloaded(k, &index, &all);
            if r.kind != BreakKind::Zeroing && !emptied {
                continue;
            }
            let last_water = before.last().map_or(0, |w| index[w.last]);
            let since = |i: usize| i >= last_water && i <= r.before;
            // A load that was added or taken away since the last water shows that the vessel was being set up.
            let moved = |p: &&Repaired| {
                let lifted = p.offset_g >= DOSES_G.start || is_emptied(-p.offset_g, sum(before));
                since(p.after) && (p.kind == BreakKind::Placed || p.kind == BreakKind::Lift && lifted)
            };
            let set_up = emptied || self.breaks[..k].iter().any(|p| moved(&p));
            let dose = self.breaks[..k].iter().any(|p| moved(&p) && DOSES_G.contains(&p.offset_g))
                || doses.iter().filter(|d| since(index[d.first])).count() == 1
                || before.last().is_some_and(|w| ends_in_dose(w, &pieces, dose_g));
            let since_zero = before.iter().find(|w| middle(w) > found.zeroed_at);
            let rinsed = since_zero.is_none_or(|w| dose || !self.is_zero(self.reading_g(index[w.first])));
            // A dose after a single pour shows that it was a rinse, also if the key was pressed between the two. After
            // several pours it is a quick one.
            let rinsed = rinsed && if dose { before.len() <= 1 } else { !found.poured };
            let brew_follows = sum(after) >= BREW_G && (set_up || rinsed && !collected(r.before));
            // Water after the dose and its zeroing is no rinse.
            let poured_on = found.dosed.is_some_and(|d| last_water > d) && !set_up;
            let qualifies = brew_follows && !poured_on && (sum(after) >= sum(before) || after.len() >= 2);
            if qualifies {
                let at = if emptied { r.after } else { r.before + 1 };
                found.at = Some(at);
                found.dosed = dose.then_some(at);
            }
            found.poured = !qualifies && (found.poured || since_zero.is_some());
            found.zeroed_at = r.after;
        }
        found.at
    }

    /// Whether a reading is that of a zeroed scale.
    fn is_zero(&self, reading_g: f64) -> bool {
        reading_g.abs() < f64::max(ZERO_G, 10.0 * self.noise_g.value)
    }

    /// The reading at a sample as it was logged, g.
    fn reading_g(&self, at: usize) -> f64 {
        let passed = self.breaks.iter().take_while(|r| r.after <= at);
        self.mass_g[at] + passed.map(|r| r.offset_g).sum::<f64>()
    }

    /// Whether break `k` removes the only load that was added since the break before it, slowly enough through the
    /// lag to resemble water.
    fn unloaded(&self, k: usize, index: &[usize], rises: &[Rise]) -> bool {
        let (r, from) = (&self.breaks[k], k.checked_sub(1).map_or(0, |k| self.breaks[k].after));
        if r.kind != BreakKind::Placed {
            return false;
        }
        let mut since = rises.iter().filter(|w| index[w.last] <= r.before && index[w.last] > from);
        let (Some(first), None) = (since.next(), since.next()) else { return false };
        let same_g = SAME_G.max(6.0 * self.noise_g.value);
        first.core_s <= DOSE_S && (first.mass_g + r.offset_g).abs() < same_g
    }

    /// Whether more than a few drops have arrived before sample `at` and were not removed.
    pub fn holds(&self, at: usize) -> bool {
        let from = self.breaks.iter().map(|r| r.after).take_while(|&a| a <= at).last().unwrap_or(0);
        let level = |range: std::ops::Range<usize>| {
            let used = range.filter(|&i| self.flag[i] == Flag::Used).take(DROPS_SAMPLES);
            median(&mut used.map(|i| self.mass_g[i]).collect::<Vec<_>>())
        };
        level(at..self.flag.len()) - level(from..self.flag.len()) > DROPS_G.max(8.0 * self.noise_g.value)
    }

    /// Flags the samples before the brew.
    pub fn prepare(&mut self, start: usize) {
        let (index, t, y) = self.live();
        let water: Vec<Rise> =
            rises(&t, &y, self.noise_g.value).into_iter().filter(|r| index[r.last] < start).collect();
        let risen_g: f64 = water.iter().map(|r| r.mass_g).sum();
        let mut samples = 0;
        for flag in self.flag[..start].iter_mut().filter(|f| **f == Flag::Used) {
            *flag = Flag::Preparation;
            samples += 1;
        }
        let action =
            format!("before the brew: not used; it contains {} rises of {risen_g:.1} g in all", water.len());
        self.list(EventKind::Preparation, 0, start.saturating_sub(1), risen_g, samples, action);
    }

    /// First instant at which water arrives after the start, s.
    pub fn first_water_s(&self) -> Option<f64> {
        let (_, t, y) = self.live();
        let noise = self.noise_g.value;
        rises(&t, &y, noise).iter().find(|r| r.mass_g > FIRST_G.max(12.0 * noise)).map(|r| t[r.first])
    }

    /// Sets zero at the level before the first water, or over the first seconds if none is detected.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::options::ConditionOptions;
    use crate::condition::order::order;
    use crate::condition::trace::Channel;
    use crate::estimate::Estimate;

    /// The result of `ask` on readings at 10 Hz, all used, with the given noise.
    fn asked<T>(mass_g: &[f64], noise_g: f64, ask: impl Fn(&mut Work) -> T) -> (T, Vec<f64>) {
        let t: Vec<f64> = (0..mass_g.len()).map(|i| 0.1 * i as f64).collect();
        let (order, options) = (order(&t), ConditionOptions::default());
        let mut work = Work::new(Channel::Water, &order, mass_g, &options);
        work.noise_g = Estimate::exact(noise_g);
        let found = ask(&mut work);
        (found, work.mass_g)
    }

    fn placed(after: usize, offset_g: f64) -> Repaired {
        Repaired { kind: BreakKind::Placed, before: after - 1, after, reading_g: 0.0, offset_g }
    }

    #[test]
    fn a_removed_load_has_the_mass_with_which_it_was_added() {
        let dose = Rise { first: 10, last: 20, mass_g: 20.0, core_s: 1.0 };
        let unloaded = |offset_g: f64, noise_g: f64, rises: &[Rise]| {
            let index: Vec<usize> = (0..100).collect();
            asked(&[0.0; 100], noise_g, |work| {
                work.breaks = vec![placed(55, offset_g)];
                work.unloaded(0, &index, rises)
            })
            .0
        };
        // Half a gram, or six sd of the noise: 1.2 g with 0.2 g of it.
        let of = |by_g: f64, noise_g: f64| [by_g, -by_g].map(|by_g| unloaded(-20.0 + by_g, noise_g, &[dose]));
        assert_eq!([0.45, 0.55].map(|by_g| of(by_g, 0.05)), [[true; 2], [false; 2]]);
        assert_eq!([1.15, 1.25].map(|by_g| of(by_g, 0.2)), [[true; 2], [false; 2]]);
        assert!(!unloaded(-20.0, 0.05, &[Rise { core_s: 3.0, ..dose }]), "too slow for a dose");
        assert!(
            !unloaded(-20.0, 0.05, &[dose, Rise { first: 30, last: 40, ..dose }]),
            "two things were put on"
        );
        assert!(!unloaded(-20.0, 0.05, &[Rise { first: 60, last: 70, ..dose }]), "put on later");
    }

    #[test]
    fn more_than_a_few_drops_are_counted_from_the_break_before() {
        let holds = |drops_g: f64, noise_g: f64| {
            let mass_g: Vec<f64> = [vec![0.0; 30], vec![10.0; 30], vec![10.0 + drops_g; 30]].concat();
            asked(&mass_g, noise_g, |work| {
                work.breaks = vec![placed(5, 1.0), placed(30, 10.0), placed(80, 0.0)];
                work.holds(60)
            })
            .0
        };
        // 2 g, or eight sd of the noise: 4 g with half a gram of it.
        assert_eq!([1.9, 2.1].map(|g| holds(g, 0.05)), [false, true]);
        assert_eq!([3.9, 4.1].map(|g| holds(g, 0.5)), [false, true]);
    }

    #[test]
    fn zero_is_the_level_over_the_five_seconds_before_the_first_water() {
        let mut mass_g = [vec![3.0; 60], vec![7.0; 60], vec![47.0; 60]].concat();
        mass_g[0] = 90.0;
        let first = |first_s: Option<f64>| asked(&mass_g, 0.05, |work| work.zero(first_s)).1[170];
        // No water: the first five seconds. Water from 11 s on: from 6 to 11 s, and a few instants of earlier time.
        assert_eq!([None, Some(11.0), Some(5.0)].map(first), [44.0, 40.0, 44.0]);
    }

    #[test]
    fn a_rise_below_the_least_first_water_may_be_a_settling_reading() {
        let first = |mass_g: f64, noise_g: f64| {
            let poured: Vec<f64> =
                (0..200).map(|i| (0.5 * (f64::from(i) - 50.0)).clamp(0.0, mass_g)).collect();
            asked(&poured, noise_g, |work| work.first_water_s()).0.is_some()
        };
        // 4 g, or twelve sd of the noise: 6 g with half a gram of it.
        assert_eq!([3.5, 4.5].map(|g| first(g, 0.05)), [false, true]);
        assert_eq!([5.5, 6.5].map(|g| first(g, 0.5)), [false, true]);
    }

    #[test]
    fn a_lift_that_removes_most_of_the_poured_water_empties_the_vessel() {
        let start = |lost_g: f64, reading_g: f64, after_g: f64| {
            let mass_g: Vec<f64> = (0..600)
                .map(|i| {
                    let t = 0.1 * f64::from(i);
                    6.0 * (t - 3.0).clamp(0.0, 50.0 / 6.0) + 6.0 * (t - 30.0).clamp(0.0, after_g / 6.0)
                })
                .collect();
            asked(&mass_g, 0.05, |work| {
                work.breaks = vec![Repaired {
                    kind: BreakKind::Lift,
                    before: 180,
                    after: 200,
                    reading_g,
                    offset_g: -lost_g,
                }];
                work.brew_start(None, |_| false)
            })
            .0
        };
        // Half of 50 g, and back at zero within 3 g.
        assert_eq!([24.0, 26.0].map(|g| start(g, 1.0, 100.0)), [None, Some(200)]);
        assert_eq!([2.9, 3.1].map(|g| start(48.0, g, 100.0)), [Some(200), None]);
        // At least 10 g have to follow, and more than before if they come in one pour.
        assert_eq!([48.0, 52.0].map(|g| start(48.0, 1.0, g)), [None, Some(200)]);
    }
}
