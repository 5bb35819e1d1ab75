//! In: one weight. Out: the same with knocks flagged, and with lifts, zeroings and things put down taken out.

use crate::condition::fade::{Base, faded, is_bent};
use crate::condition::level::{Break, What, breaks};
use crate::condition::longest_path::{Physics, longest_path};
use crate::condition::stretch::{Seen, stretches};
use crate::condition::trace::{EventKind, Flag};
use crate::condition::work::{Repaired, Work};

impl Work<'_> {
    /// Finds the chain of possible samples, names what is between its stretches, flags, lists, and takes offsets out.
    pub fn repair(&mut self) {
        let (index, t, y) = self.live();
        let noise_g = self.noise_g.value;
        let max_flow = self.options.max_flow_g_per_s;
        let chain = longest_path(&t, &y, Physics { noise_g, max_flow, interval_s: self.order.interval_s });
        let mut seen = Seen { t, y, kept: chain.kept.clone(), noise_g };
        let stretches = stretches(&mut seen, &chain);
        let breaks = breaks(&seen, &stretches, max_flow, self.step_g);
        let mut end = stretches.last().map_or(0, |s| s.last + 1);
        self.outside(&index, 0, stretches.first().map_or(0, |s| s.first));
        if let Some(s) = stretches.first() {
            self.knocks(&index, &mut seen, s.first, s.last);
        }
        for b in &breaks {
            if b.what == What::Removed {
                end = b.tail.at + 1;
            } else {
                self.between(&index, &seen, b, stretches[b.after].last);
                self.knocks(&index, &mut seen, b.head.at, stretches[b.after].last);
            }
            self.breaks.push(Repaired {
                what: b.what,
                before: index[b.tail.at],
                after: index[b.head.at],
                reading_g: b.head.mass_g,
                offset_g: b.offset_g,
            });
        }
        self.take_offsets_out();
        let removed = breaks.last().filter(|b| b.what == What::Removed);
        let size_g = removed.map_or_else(|| seen.gone(end), |b| Some(b.size_g));
        if let Some(size_g) = size_g {
            self.flag_all(&index, end, index.len(), Flag::Removed);
            let action = "vessel taken away: nothing after this is used".into();
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

    /// From each break on the readings are off by what it left, and by what those before it left.
    fn take_offsets_out(&mut self) {
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
            let action = "does not fit what is next to it: not used".into();
            self.list(EventKind::Knock, index[from], index[to - 1], 0.0, to - from, action);
        }
    }

    /// Short excursions within a stretch.
    fn knocks(&mut self, index: &[usize], seen: &mut Seen, from: usize, last: usize) {
        seen.leave_out_crossings(from, last);
        let mut i = from;
        while i < last {
            let first = i + 1;
            let kept = |from: usize| (from..=last).find(|&k| seen.kept[k]).unwrap_or(last);
            i = kept(first);
            if first < i {
                let middle_g = f64::midpoint(seen.y[first - 1], seen.y[i]);
                let size_g = largest(seen.y[first..i].iter().map(|y| y - middle_g));
                let next = faded(seen, i, Base::beside(seen, first - 1, i, last), last);
                i = if next == i && is_bent(seen, first - 1, i, last) { kept(i + 1) } else { next };
                while !seen.kept[i] && i < last {
                    i = faded(seen, kept(i), Base::beside(seen, first - 1, kept(i), last), last);
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

    /// What is between two stretches.
    fn between(&mut self, index: &[usize], seen: &Seen, b: &Break, last: usize) {
        let (from, mut to) = (b.tail.at + 1, b.head.at);
        if b.head.calm && from < to && b.what != What::Knock {
            to = faded(seen, to, Base::Level(b.head.mass_g), last);
        }
        let offset = b.offset_g;
        let (kind, flag, action) = match b.what {
            What::Knock | What::Removed => return self.knock(index, from, to, b.size_g),
            What::Lift if offset == 0.0 => (
                EventKind::Lift,
                Flag::Lift,
                "off the scale and back: not used; water poured meanwhile cannot be seen".into(),
            ),
            What::Lift => (
                EventKind::Lift,
                Flag::Lift,
                format!(
                    "off the scale and back: not used, {offset:+.2} g taken off what follows; water poured meanwhile cannot be seen"
                ),
            ),
            What::Swirl if offset == 0.0 => {
                (EventKind::Swirl, Flag::Lift, "swings about its level: not used".into())
            }
            What::Swirl => (
                EventKind::Swirl,
                Flag::Lift,
                format!("swings: not used, {offset:+.2} g taken off what follows"),
            ),
            What::Zeroing => (
                EventKind::Zeroing,
                Flag::Settling,
                format!("zero key: {offset:+.2} g taken off what follows"),
            ),
            What::Placed => {
                let what = if offset > 0.0 { "put on" } else { "taken off" };
                (EventKind::Placed, Flag::Settling, format!("{what}: {offset:+.2} g taken off what follows"))
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
    fn from_each_break_on_all_offsets_before_it_are_taken_out() {
        let t: Vec<f64> = (0..12).map(f64::from).collect();
        let (order, options) = (order(&t), ConditionOptions::default());
        let mut work = Work::new(Channel::Water, &order, &[100.0; 12], &options);
        let broken = |after: usize, offset_g: f64| Repaired {
            what: What::Placed,
            before: after - 1,
            after,
            reading_g: 0.0,
            offset_g,
        };
        work.breaks = vec![broken(3, 40.0), broken(6, -15.0), broken(9, 2.0)];
        work.take_offsets_out();
        // By hand: nothing, 40, 40 - 15 and 40 - 15 + 2 g off.
        assert_eq!(work.mass_g, [[100.0; 3], [60.0; 3], [75.0; 3], [73.0; 3]].concat());
    }

    #[test]
    fn two_things_put_on_one_after_the_other_are_no_water() {
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
            // Each level is the median of a few readings of 0.06 g: two offsets are known to 0.05 g.
            assert!((level(from) - level(10) - expected_g).abs() < 0.2, "{} g at {from}", level(from));
        }
        let sizes: Vec<f64> = trace.events.iter().map(|e| e.size_g.round()).collect();
        assert_eq!(sizes, [120.0, 35.0]);
    }

    #[test]
    fn of_a_knock_in_a_pour_that_is_gone_at_once_one_reading_is_left_out_and_a_second_one_that_is_bent() {
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
        // A quarter of the 3 g that come between its neighbours: 0.75 g.
        assert_eq!(flagged(0.7), [150]);
        assert_eq!(flagged(0.85), [150, 151]);
    }
}
