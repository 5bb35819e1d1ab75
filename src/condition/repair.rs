//! In: one weight. Out: the same with knocks flagged, and with the offsets of lifts, zeroings and added loads
//! subtracted.

use crate::condition::breaks::{Break, BreakKind, breaks};
use crate::condition::fade::{Base, faded, is_off_line};
use crate::condition::load::loads;
use crate::condition::longest_path::{Physics, longest_path};
use crate::condition::spikes::drop_spikes;
use crate::condition::stream::restore;
use crate::condition::stretch::{Seen, stretches};
use crate::condition::trace::{EventKind, Flag};
use crate::condition::work::{Repaired, Work};

impl Work<'_> {
    /// Finds the longest path of possible samples, classifies each break, flags and lists it, and subtracts the
    /// offsets.
    pub fn repair(&mut self) {
        let (index, t, y) = self.live();
        let noise_g = self.noise_g.value;
        let max_flow = self.options.max_flow_g_per_s;
        let mut path = longest_path(&t, &y, Physics { noise_g, max_flow, interval_s: self.order.interval_s });
        restore(&t, &y, noise_g, &mut path);
        let loads = loads(&t, &y, noise_g, &mut path);
        drop_spikes(&t, &y, noise_g, &mut path);
        let mut seen = Seen { t, y, plausible: path.on_path.clone(), noise_g };
        let stretches = stretches(&mut seen, &path);
        let breaks = breaks(&seen, &stretches, &loads, max_flow, self.resolution_g);
        let mut end = stretches.last().map_or(0, |s| s.last + 1);
        self.outside(&index, 0, stretches.first().map_or(0, |s| s.first));
        if let Some(s) = stretches.first() {
            self.knocks(&index, &mut seen, s.first, s.last);
        }
        for b in &breaks {
            if b.kind == BreakKind::Removed {
                end = b.tail.at + 1;
            } else {
                self.between(&index, &seen, b, stretches[b.after].last);
                self.knocks(&index, &mut seen, b.head.at, stretches[b.after].last);
            }
            self.breaks.push(Repaired {
                kind: b.kind,
                before: index[b.tail.at],
                after: index[b.head.at],
                reading_g: b.head.mass_g,
                offset_g: b.offset_g,
            });
        }
        self.subtract_offsets();
        let removed = breaks.last().filter(|b| b.kind == BreakKind::Removed);
        let size_g = removed.map_or_else(|| seen.final_fall(end), |b| Some(b.size_g));
        if let Some(size_g) = size_g {
            self.flag_all(&index, end, index.len(), Flag::Removed);
            let action = "vessel removed: no later reading is used".into();
            self.list(
                EventKind::Removed,
                index[end],
                index[index.len() - 1],
                size_g,
                index.len() - end,
                action,
            );
        } else {
            self.outside(&index, end, index.len());
        }
    }

    /// Subtracts from the readings after each break the sum of the offsets up to it.
    fn subtract_offsets(&mut self) {
        let mut off_g = 0.0;
        let mut from = 0;
        for b in &self.breaks {
            let to = b.after.max(from);
            self.mass_g[from..to].iter_mut().for_each(|y| *y -= off_g);
            off_g += b.offset_g;
            from = to;
        }
        self.mass_g[from..].iter_mut().for_each(|y| *y -= off_g);
    }

    fn flag_all(&mut self, index: &[usize], from: usize, to: usize, flag: Flag) {
        for &i in &index[from..to.max(from)] {
            self.flag[i] = flag;
        }
    }

    /// Samples before the first stretch or after the last.
    fn outside(&mut self, index: &[usize], from: usize, to: usize) {
        if from < to {
            self.flag_all(index, from, to, Flag::Knock);
            let action = "inconsistent with the neighbouring readings: not used".into();
            self.list(EventKind::Knock, index[from], index[to - 1], 0.0, to - from, action);
        }
    }

    /// Short excursions within a stretch.
    fn knocks(&mut self, index: &[usize], seen: &mut Seen, from: usize, last: usize) {
        seen.exclude_crossings(from, last);
        let mut i = from;
        while i < last {
            let first = i + 1;
            let next_plausible = |from: usize| (from..=last).find(|&k| seen.plausible[k]).unwrap_or(last);
            i = next_plausible(first);
            if first < i {
                let middle_g = f64::midpoint(seen.y[first - 1], seen.y[i]);
                let size_g = largest(seen.y[first..i].iter().map(|y| y - middle_g));
                let next = faded(seen, i, Base::around(seen, first - 1, i, last), last);
                i = if next == i && is_off_line(seen, first - 1, i, last) {
                    next_plausible(i + 1)
                } else {
                    next
                };
                while !seen.plausible[i] && i < last {
                    i = faded(
                        seen,
                        next_plausible(i),
                        Base::around(seen, first - 1, next_plausible(i), last),
                        last,
                    );
                }
                self.knock(index, first, i, size_g);
            }
        }
    }

    fn knock(&mut self, index: &[usize], from: usize, to: usize, size_g: f64) {
        if from < to {
            self.flag_all(index, from, to, Flag::Knock);
            let action = "faster than any pour, and back: not used".into();
            self.list(EventKind::Knock, index[from], index[to - 1], size_g, to - from, action);
        }
    }

    /// Flags and lists the samples between two stretches.
    fn between(&mut self, index: &[usize], seen: &Seen, b: &Break, last: usize) {
        let (from, mut to) = (b.tail.at + 1, b.head.at);
        if b.head.calm && from < to && b.kind != BreakKind::Knock {
            to = faded(seen, to, Base::Level(b.head.mass_g), last);
        }
        let offset = b.offset_g;
        let (kind, flag, action) = match b.kind {
            BreakKind::Knock | BreakKind::Removed => return self.knock(index, from, to, b.size_g),
            BreakKind::Lift if offset == 0.0 => (
                EventKind::Lift,
                Flag::Lift,
                "vessel off the scale and back: not used; water poured meanwhile is not detectable".into(),
            ),
            BreakKind::Lift => (
                EventKind::Lift,
                Flag::Lift,
                format!(
                    "vessel off the scale and back: not used; {offset:+.2} g subtracted from later readings; \
                     water poured meanwhile is not detectable"
                ),
            ),
            BreakKind::Swirl if offset == 0.0 => {
                (EventKind::Swirl, Flag::Lift, "reading swings about its level: not used".into())
            }
            BreakKind::Swirl => (
                EventKind::Swirl,
                Flag::Lift,
                format!("reading swings: not used; {offset:+.2} g subtracted from later readings"),
            ),
            BreakKind::Zeroing => (
                EventKind::Zeroing,
                Flag::Settling,
                format!("zero key: {offset:+.2} g subtracted from later readings"),
            ),
            BreakKind::Placed => {
                let what = if offset > 0.0 { "added" } else { "removed" };
                (
                    EventKind::Placed,
                    Flag::Settling,
                    format!("load {what}: {offset:+.2} g subtracted from later readings"),
                )
            }
        };
        self.flag_all(index, from, to, flag);
        let (first, last) = if from < to { (from, to - 1) } else { (from - 1, to) };
        self.list(kind, index[first], index[last], b.size_g, to.saturating_sub(from), action);
    }
}

/// The value furthest from 0.
fn largest(values: impl Iterator<Item = f64>) -> f64 {
    values.filter(|v| v.is_finite()).fold(0.0, |a: f64, v| if v.abs() > a.abs() { v } else { a })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::options::ConditionOptions;
    use crate::condition::order::order;
    use crate::condition::stage::condition;
    use crate::condition::trace::Channel;
    use crate::log::meta::Meta;
    use crate::log::record::Log;

    #[test]
    fn after_each_break_the_sum_of_the_offsets_up_to_it_is_subtracted() {
        let t: Vec<f64> = (0..12).map(f64::from).collect();
        let (order, options) = (order(&t), ConditionOptions::default());
        let mut work = Work::new(Channel::Water, &order, &[100.0; 12], &options);
        let broken = |after: usize, offset_g: f64| Repaired {
            kind: BreakKind::Placed,
            before: after - 1,
            after,
            reading_g: 0.0,
            offset_g,
        };
        work.breaks = vec![broken(3, 40.0), broken(6, -15.0), broken(9, 2.0)];
        work.subtract_offsets();
        // By hand: nothing, 40, 40 - 15 and 40 - 15 + 2 g off.
        assert_eq!(work.mass_g, [[100.0; 3], [60.0; 3], [75.0; 3], [73.0; 3]].concat());
    }

    #[test]
    fn two_loads_added_one_after_the_other_are_no_water() {
        let t: Vec<f64> = (0..600).map(|i| 0.1 * f64::from(i)).collect();
        let load = |t: f64| {
            let put = if t >= 6.0 { 120.0 } else { 0.0 } + if t >= 12.0 { 35.0 } else { 0.0 };
            put + 6.0 * (t - 20.0).clamp(0.0, 10.0)
        };
        let noise = |i: usize| 0.1 * ((i * i * 37 % 101) as f64 / 50.0 - 1.0);
        let y = t.iter().enumerate().map(|(i, t)| ((load(*t) + noise(i)) * 10.0).round() / 10.0).collect();
        let log = Log::new(t, Some(y), None, Meta::default()).unwrap();
        let trace = condition(&log, &ConditionOptions::default()).unwrap();
        let mass_g = &trace.water.unwrap().mass_g;
        let level = |from: usize| mass_g[from..from + 40].iter().sum::<f64>() / 40.0;
        for (from, expected_g) in [(10, 0.0), (70, 0.0), (140, 0.0), (400, 60.0)] {
            // Each level is the median of a few readings of 0.06 g: the sd of two offsets is 0.05 g.
            assert!((level(from) - level(10) - expected_g).abs() < 0.2, "{} g at {from}", level(from));
        }
        let sizes: Vec<f64> = trace.events.iter().map(|e| e.size_g.round()).collect();
        assert_eq!(sizes, [120.0, 35.0]);
    }

    #[test]
    fn of_a_knock_in_a_pour_that_is_gone_at_once_one_reading_is_left_out_and_a_second_one_that_is_off_line() {
        let flagged = |second_g: f64| {
            let t: Vec<f64> = (0..400).map(|i| 0.1 * f64::from(i)).collect();
            let noise = |i: usize| 0.02 * ((i * i * 37 % 101) as f64 / 50.0 - 1.0);
            let mut y: Vec<f64> =
                t.iter().enumerate().map(|(i, t)| 10.0 * (t - 10.0).clamp(0.0, 10.0) + noise(i)).collect();
            y[150] -= 15.0;
            y[151] += second_g;
            let log = Log::new(t, Some(y), None, Meta::default()).unwrap();
            let flag = condition(&log, &ConditionOptions::default()).unwrap().water.unwrap().flag;
            (0..400).filter(|&i| flag[i] != Flag::Used).collect::<Vec<_>>()
        };
        assert_eq!(flagged(0.0), [150]);
        // A quarter of the 3 g between its neighbours: 0.75 g.
        assert_eq!(flagged(0.7), [150]);
        assert_eq!(flagged(0.85), [150, 151]);
    }
}
