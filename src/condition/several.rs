//! In: one weight without jumps, and the breaks whose offsets were subtracted. Out: where further brews begin.
//!
//! A log may run on while the next brew is made. Another brew begins if the vessel is emptied or exchanged after a brew,
//! or if the zero key is pressed in an absence of `brew_gap_s`. Water that was poured away before any brew is a rinse.

use crate::condition::breaks::BreakKind;
use crate::condition::prepare::{BREW_G, is_emptied};
use crate::condition::rise::{Rise, rises};
use crate::condition::trace::{EventKind, Flag};
use crate::condition::work::{Repaired, Work};

// All limits are common practice, no source.

/// Least water of a whole brew, g: in two pours or more with this rest between them, s; in one pour.
const WHOLE_G: f64 = 80.0;
const REST_S: f64 = 8.0;
const ALONE_G: f64 = 150.0;
/// A vessel that comes back with another mass than this, g, or than this share of the water, was emptied or is another
/// one.
const OTHER_G: f64 = 35.0;
const OTHER_SHARE: f64 = 0.4;
/// Least time without water in which a vessel is exchanged between two brews, s.
const PAUSE_S: f64 = 30.0;
/// A vessel is back on the scale if the reading is above this, g.
const BACK_G: f64 = -5.0;

/// Where a brew ends and the next one begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Next {
    /// First sample after the earlier brew.
    pub end: usize,
    /// First sample of the next brew.
    pub start: usize,
}

impl Work<'_> {
    /// The further brews of the log. `collected`: whether the server holds beverage at a sample.
    pub fn further_brews(&self, collected: impl Fn(usize) -> bool) -> Vec<Next> {
        let (index, t, y) = self.live();
        let all = rises(&t, &y, self.noise_g.value);
        let sum = |rises: &[&Rise]| rises.iter().map(|r| r.mass_g).sum::<f64>();
        let mut found: Vec<Next> = Vec::new();
        for (k, r) in self.breaks.iter().enumerate() {
            let from = found.last().map_or(0, |next| next.start);
            if r.before < from {
                continue;
            }
            let inside =
                |w: &&Rise| index[w.first] >= from && index[usize::midpoint(w.first, w.last)] <= r.before;
            let before: Vec<&Rise> = all.iter().filter(inside).collect();
            let Some(next) = all.iter().find(|w| index[usize::midpoint(w.first, w.last)] > r.before) else {
                break;
            };
            let rested = before.windows(2).any(|pair| t[pair[1].first] - t[pair[0].last] >= REST_S);
            let is_brew = sum(&before) >= WHOLE_G && (rested || collected(r.before))
                || before.iter().any(|w| w.mass_g >= ALONE_G);
            let Some(last) = before.last().filter(|_| is_brew) else { continue };
            let pause_s = t[next.first] - t[last.last];
            let water_g = sum(&before);
            let exchanged = matches!(r.kind, BreakKind::Lift | BreakKind::Placed)
                && is_emptied(-r.offset_g, water_g)
                && pause_s >= PAUSE_S;
            let left_alone = r.kind == BreakKind::Zeroing && pause_s >= self.options.brew_gap_s;
            let after: f64 = all.iter().filter(|w| w.first >= next.first).map(|w| w.mass_g).sum();
            if (exchanged || left_alone) && after >= BREW_G {
                let start = if exchanged { self.exchanged_at(k, water_g) } else { Some(r.before + 1) };
                let Some(start) = start.filter(|start| *start <= index[next.first]) else { continue };
                found.push(Next { end: r.before + 1, start });
            }
        }
        found
    }

    /// First sample with another vessel on the scale, or an emptied one, from a break on that may have taken it off; None if
    /// it comes back as it was.
    fn exchanged_at(&self, k: usize, water_g: f64) -> Option<usize> {
        let is_back = |r: &Repaired| r.reading_g > BACK_G;
        let last = self.breaks[k..].iter().position(is_back)?;
        let lost_g: f64 = self.breaks[k..=k + last].iter().map(|r| -r.offset_g).sum();
        (lost_g.abs() > OTHER_G.max(OTHER_SHARE * water_g)).then(|| self.breaks[k + last].after)
    }

    /// Leaves out what belongs to further brews.
    pub fn end_at(&mut self, next: Next) {
        let last_s = self.order.time_s[next.end.saturating_sub(1)];
        self.breaks.retain(|r| r.after < next.end);
        self.events.retain(|event| {
            event.start_s < last_s || matches!(event.kind, EventKind::Reordered | EventKind::Retimed)
        });
        let rest = self.flag[next.end..].iter_mut().filter(|flag| **flag == Flag::Used);
        let samples = rest.map(|flag| *flag = Flag::NextBrew).count();
        let action = "another brew begins: no later reading is used".into();
        self.list(EventKind::NextBrew, next.end, self.flag.len() - 1, 0.0, samples, action);
    }
}
