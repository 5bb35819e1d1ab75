//! In: stamps and readings of a log that has more rows than the scale makes values. Out: the instants of the values.
//!
//! A converter or display that is slower than the log gives each value several times. While water flows, two values of
//! a scale are hardly ever the same: repeats there are rows between two updates. The updates are taken as regular. Their
//! interval and phase are those that explain in which rows the reading changed.

use crate::condition::order::Order;
use crate::condition::resolution::readout_resolution;
use std::ops::RangeInclusive;

/// Rows on each side over which the flow is taken, and the time if that is longer, s.
const BESIDE: usize = 6;
const BESIDE_S: f64 = 0.6;
/// Within this flow, g/s, a reading changes at each update.
const FLOWS_G_PER_S: f64 = 1.5;
/// Fewest rows in pours that are judged.
const FEWEST: usize = 40;
/// Readings with white noise that rise by `d` between two rows are equal in at most `step / d` times this of all cases,
/// whatever the noise: the maximum of `exp(-d^2 / 4 s^2) / (s sqrt(4 pi))` over s.
const CHANCE: f64 = 0.242;
/// More than chance explains, as a share of the rows in pours.
const MORE: f64 = 0.12;
/// The interval of the updates, in intervals of the log.
const INTERVALS: [f64; 2] = [1.05, 12.0];
/// Phases that are tried, and how far two tried intervals are apart over the whole log, in phases.
const PHASES: usize = 48;
const APART: f64 = 0.7;
/// The interval by the number of changes is right within this share.
const WITHIN: f64 = 0.15;
/// Rows in pours of which regular updates explain no more than this leave the stamps as they are.
const UNEXPLAINED: f64 = 0.04;

/// A row in a pour: its stamp, that of the row before, and whether the reading changed.
struct Row {
    from_s: f64,
    to_s: f64,
    changed: bool,
}

/// Values that a scale makes regularly, while the log has more rows.
pub(super) struct Updates {
    /// Interval between two values, s.
    pub every_s: f64,
    /// For each row the instant of its value, s.
    pub time_s: Vec<f64>,
    /// Standard deviation of an instant, s.
    pub sd_s: f64,
}

/// The instants of the values; None if each row is a value of its own, or the updates are not regular.
pub(super) fn updates(order: &Order, reading: impl Fn(usize) -> f64) -> Option<Updates> {
    let stamp_s = &order.time_s;
    let y: Vec<f64> = (0..stamp_s.len()).map(reading).collect();
    let rows = in_pours(stamp_s, &y, order.interval_s)?;
    let changes = rows.iter().filter(|row| row.changed).count();
    let whole_s: f64 = rows.iter().map(|row| row.to_s - row.from_s).sum();
    let about_s = whole_s / changes.max(1) as f64;
    let between = INTERVALS.map(|intervals| intervals * order.interval_s);
    if !(between[0]..between[1]).contains(&about_s) {
        return None;
    }
    let (every_s, phase_s, unexplained) = regular(&rows, about_s)?;
    if unexplained as f64 > UNEXPLAINED * rows.len() as f64 {
        return None;
    }
    let number = |t_s: f64| ((t_s - phase_s) / every_s).floor();
    let time_s: Vec<f64> = stamp_s.iter().map(|&t| phase_s + every_s * number(t)).collect();
    Some(Updates { every_s, time_s, sd_s: every_s / PHASES as f64 })
}

/// The rows in pours, if more of them repeat their reading than chance explains.
fn in_pours(stamp_s: &[f64], y: &[f64], interval_s: f64) -> Option<Vec<Row>> {
    let step_g = readout_resolution(y);
    let beside = BESIDE.max((BESIDE_S / interval_s) as usize);
    let (mut rows, mut repeated, mut by_chance) = (Vec::new(), 0.0, 0.0);
    for i in beside..y.len().saturating_sub(beside) {
        let (from, to) = (i - beside, i + beside);
        let flow = (y[to] - y[from]) / (stamp_s[to] - stamp_s[from]);
        let each_s = stamp_s[i] - stamp_s[i - 1];
        // A jump is no flow: at most half of the rise comes in one row.
        let is_flow =
            flow > FLOWS_G_PER_S && flow.is_finite() && 2.0 * (y[i] - y[i - 1]).abs() < y[to] - y[from];
        if is_flow && each_s > 0.0 && y[i].is_finite() {
            let changed = y[i] != y[i - 1];
            repeated += f64::from(u8::from(!changed));
            by_chance += (CHANCE * step_g / (flow * each_s)).min(1.0);
            rows.push(Row { from_s: stamp_s[i - 1], to_s: stamp_s[i], changed });
        }
    }
    (rows.len() >= FEWEST && repeated > by_chance + MORE * rows.len() as f64).then_some(rows)
}

/// Interval and phase of the updates with the fewest rows that they do not explain, and how many these are. All that
/// explain as many count as much.
fn regular(rows: &[Row], about_s: f64) -> Option<(f64, f64, usize)> {
    let (first_s, last_s) = (rows.first()?.from_s, rows.last()?.to_s);
    let step = APART / PHASES as f64 * about_s / (last_s - first_s).max(about_s);
    let tried = (WITHIN / step) as i32;
    let mut best: Vec<(f64, f64)> = Vec::new();
    let mut fewest = usize::MAX;
    for k in -tried..=tried {
        let every_s = about_s * (1.0 + f64::from(k) * step);
        let unexplained = by_phase(rows, first_s, every_s);
        for (bin, &count) in unexplained.iter().enumerate() {
            if count < fewest {
                fewest = count;
                best.clear();
            }
            if count == fewest {
                best.push((every_s, (bin as f64 + 0.5) / PHASES as f64));
            }
        }
    }
    // The middle of the intervals, and of the phases at that of the middle one.
    let every_s = best.get(best.len() / 2)?.0;
    let bins: Vec<f64> = best.iter().filter(|b| b.0 == every_s).map(|b| b.1).collect();
    let angle = |of: fn(f64) -> f64| bins.iter().map(|b| of(std::f64::consts::TAU * b)).sum::<f64>();
    let phase = angle(f64::sin).atan2(angle(f64::cos)) / std::f64::consts::TAU;
    Some((every_s, first_s + phase * every_s, fewest))
}

/// For each phase, the rows in pours that updates of this interval do not explain: a change without an update, or an
/// update without a change.
fn by_phase(rows: &[Row], first_s: f64, every_s: f64) -> Vec<usize> {
    let mut unexplained = vec![0; PHASES];
    for row in rows {
        let [from, to] = [row.from_s, row.to_s].map(|t| (t - first_s) / every_s * PHASES as f64);
        let bins = bins(from, to);
        // Within one row there is an update at each phase at least once, if it is as long.
        if to - from >= PHASES as f64 {
            if !row.changed {
                unexplained.iter_mut().for_each(|u| *u += 1);
            }
            continue;
        }
        if row.changed {
            unexplained.iter_mut().for_each(|u| *u += 1);
            bins.for_each(|b| unexplained[b.rem_euclid(PHASES as i64) as usize] -= 1);
        } else {
            bins.for_each(|b| unexplained[b.rem_euclid(PHASES as i64) as usize] += 1);
        }
    }
    unexplained
}

/// The phases whose middle lies between two instants, in phases.
fn bins(from: f64, to: f64) -> RangeInclusive<i64> {
    (from - 0.5).floor() as i64 + 1..=(to - 0.5).floor() as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::order::order;

    /// 6 g/s from 5 to 15 and from 25 to 35 s, ten rows a second, in steps of .1 g.
    fn load(t: f64) -> f64 {
        let g = 6.0 * ((t - 5.0).clamp(0.0, 10.0) + (t - 25.0).clamp(0.0, 10.0));
        (10.0 * g).round() / 10.0
    }

    fn stamps() -> Vec<f64> {
        (0..400).map(|i| 0.1 * f64::from(i)).collect()
    }

    #[test]
    fn values_that_a_log_repeats_are_dated_to_their_updates() {
        // The scale makes a value at .17 s and every .31 s from there.
        let made = |t: f64| 0.17 + 0.31 * ((t - 0.17) / 0.31).floor();
        let found = updates(&order(&stamps()), |row| load(made(0.1 * row as f64))).unwrap();
        assert!((found.every_s - 0.31).abs() < 2e-4, "{}", found.every_s);
        for (i, t) in found.time_s.iter().enumerate() {
            let off_s = t - made(0.1 * i as f64);
            // A row on the instant of an update may be on either side.
            assert!(off_s.abs() < 0.012 || (off_s.abs() - 0.31).abs() < 0.012, "{i}: {off_s}");
        }
        let same = found.time_s.windows(2).filter(|w| w[0] == w[1]).count();
        assert!((same as f64 - 400.0 * (1.0 - 0.1 / 0.31)).abs() < 3.0);
    }

    #[test]
    fn rows_that_are_values_of_their_own_and_held_readings_keep_their_stamps() {
        assert!(updates(&order(&stamps()), |row| load(0.1 * row as f64)).is_none());
        // A display that follows from 1.5 g on, while the flow grows from 0 to 12 g/s: no regular interval.
        let mut shown = vec![0.0];
        for i in 1..400 {
            let (t, before) = (0.1 * f64::from(i) - 5.0, shown[shown.len() - 1]);
            let g = 0.3 * t.clamp(0.0, 20.0).powi(2);
            shown.push(if f64::abs(g - before) > 1.5 { (10.0 * g).round() / 10.0 } else { before });
        }
        assert!(updates(&order(&stamps()), |row| shown[row]).is_none());
    }
}
