//! In: one weight without jumps, and the jumps that were taken out. Out: what of it is preparation, and zero at the start of the brew.
//!
//! A brew is prepared by a rinse, emptying, the dose and the zero key. What is before the last zeroing that precedes
//! the brew is preparation; a zeroing after which little water comes, or before which most of it came, is not that one.
//! A vessel that is emptied and put back at zero counts as zeroed: the key then changes nothing that could be seen.

use super::level::What;
use super::repair::Repaired;
use super::rise::{Rise, rises};
use super::work::Work;
use super::{EventKind, Flag};
use crate::math::robust::median;

/// Samples from which the level at the start is taken, s.
const BASE_S: f64 = 5.0;
/// A rinse that was poured away was at least this much, g.
const RINSE_G: f64 = 5.0;
/// Water that makes a brew, g.
const BREW_G: f64 = 10.0;

impl Work<'_> {
    /// Flags the preparation and sets zero at the start of the brew. `look` tells whether zeroings are looked at.
    pub fn prepare(&mut self, repaired: &[Repaired], look: bool) {
        let (index, t, y) = self.live();
        let water = rises(&t, &y, self.noise_g.value);
        if let Some(start) = look.then(|| self.brew_start(repaired, &index, &water)).flatten() {
            self.start_s = self.order.time_s[start];
            let before: Vec<&Rise> = water.iter().filter(|r| index[r.last] < start).collect();
            let seen_g: f64 = before.iter().map(|r| r.mass_g).sum();
            let mut samples = 0;
            for flag in self.flag[..start].iter_mut().filter(|f| matches!(f, Flag::Used)) {
                *flag = Flag::Preparation;
                samples += 1;
            }
            let action = if before.is_empty() {
                "before the zeroing that starts the brew: not used; no water seen".into()
            } else {
                format!(
                    "before the zeroing that starts the brew: not used; {seen_g:.1} g of water seen, {} rises",
                    before.len()
                )
            };
            self.list(EventKind::Preparation, 0, start - 1, seen_g, samples, action);
        }
        self.zero_at_start();
    }

    /// The first sample of the brew, where something before it shows that it is.
    fn brew_start(&self, repaired: &[Repaired], index: &[usize], water: &[Rise]) -> Option<usize> {
        let noise = self.noise_g.value;
        let mut evidence_until = None;
        let mut start = None;
        for (k, r) in repaired.iter().enumerate() {
            let (mut before_g, mut before, mut after_g, mut after) = (0.0, 0, 0.0, 0);
            for w in water {
                // The middle of a rise: a pour may begin while the reading still settles.
                if index[usize::midpoint(w.first, w.last)] < r.before.max(1) {
                    before_g += w.mass_g;
                    before += 1;
                } else {
                    after_g += w.mass_g;
                    after += 1;
                }
            }
            let emptied = r.what == What::Lift
                && -r.offset_g > f64::max(RINSE_G, 0.6 * before_g)
                && r.reading_g.abs() < f64::max(3.0, 10.0 * noise);
            if r.what != What::Zeroing && !emptied {
                continue;
            }
            // Something put on, taken off or lifted since the last water shows that the vessel was being set up.
            let last_water = water.iter().map(|w| index[w.last]).take_while(|&l| l <= r.before).last();
            let set_up = emptied
                || repaired[..k].iter().any(|p| {
                    matches!(p.what, What::Lift | What::Placed) && last_water.is_none_or(|l| p.after > l)
                });
            let most = after_g >= before_g && after >= before;
            let rinse = before <= 1 && after >= 2;
            let brew_follows = after_g >= BREW_G && (most || rinse || (set_up && before <= 2));
            // Once the vessel was set up and zeroed, a zeroing without further setting up is one in the middle of a brew.
            let later_than_set_up = evidence_until.is_some() && !set_up && last_water > evidence_until;
            if brew_follows && !later_than_set_up {
                start = Some(r.after);
                if set_up {
                    evidence_until = Some(r.after);
                }
            }
        }
        start
    }

    /// Zero is the level before the first water of the brew.
    fn zero_at_start(&mut self) {
        let (_, t, y) = self.live();
        let Some(&first_s) = t.first() else { return };
        let water_s = rises(&t, &y, self.noise_g.value).first().map_or(f64::INFINITY, |r| t[r.first] - 0.2);
        let end_s = water_s.min(f64::max(first_s + BASE_S, water_s - 0.0));
        let mut calm: Vec<f64> =
            t.iter().zip(&y).filter(|(t, _)| **t <= end_s && **t > end_s - BASE_S).map(|(_, y)| *y).collect();
        let base = if calm.is_empty() { y[0] } else { median(&mut calm) };
        if base.is_finite() {
            self.mass_g.iter_mut().for_each(|y| *y -= base);
        }
    }
}
