//! In: stamps in order of time, and readings. Out: the instants of the readings, if the stamps are not those.
//!
//! A scale reads at regular instants. A link hands readings over in packets, a host stamps them when they arrive, a
//! logger rounds. Stamps are replaced if many of them are nearly equal, or if they are spread as by a one-sided delay
//! and the readings of the pours are smoother at regular instants. Other stamps stay as they are.

use crate::condition::absent::{self, Curve, kink2};
use crate::condition::made::Made;
use crate::condition::order::Order;
use crate::condition::regular::{Packet, Regular};
use crate::condition::resolution::readout_resolution;
use crate::condition::updates::{Updates, updates};
use crate::math::robust::{median, quantile};

/// Why stamps were replaced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cause {
    /// Readings arrived together.
    Packets,
    /// Stamps are late by times that differ.
    Late,
    /// Some readings were held up, and arrived together.
    HeldUp,
    /// Stamps were rounded to the seconds, or to another unit.
    Rounded,
    /// The scale makes fewer values than the log has rows.
    Repeats,
}

/// Instants of readings.
#[derive(Debug, Clone)]
pub(crate) struct ReadingTimes {
    pub cause: Cause,
    /// For each sample, s; never decreasing.
    pub time_s: Vec<f64>,
    /// Samples of packets that were logged twice.
    pub repeats: Vec<bool>,
    /// Usual interval between readings, s.
    pub interval_s: f64,
    /// Standard deviation of the times, a constant part not counted, s.
    pub sd_s: f64,
    /// Samples whose stamps were replaced by another time, and the largest change, s.
    pub moved: usize,
    pub moved_s: f64,
    /// Whether the times are regular.
    pub regular: bool,
}

impl ReadingTimes {
    /// Replaces the stamps by the instants of the readings.
    pub fn replace(&self, order: &mut Order) {
        order.time_s.clone_from(&self.time_s);
        let same = |i: usize| i > 0 && self.time_s[i] == self.time_s[i - 1];
        order.duplicate = (0..self.time_s.len()).map(|i| self.repeats[i] || same(i)).collect();
        order.interval_s = self.interval_s;
        order.retimed = Some((self.action(), self.moved));
        order.updates = self.cause == Cause::Repeats;
    }

    /// What was done, in a sentence.
    pub fn action(&self) -> String {
        let Self { interval_s, sd_s, moved_s, .. } = self;
        let why = match self.cause {
            Cause::Packets => "readings arrived in packets",
            Cause::Late => "stamps are late by times that differ",
            Cause::HeldUp => "some readings were held up",
            Cause::Rounded => "stamps are rounded",
            Cause::Repeats => {
                return format!(
                    "the scale makes a value every {interval_s:.3} s and the log repeats it: each counts once, at its own \
                     time"
                );
            }
        };
        let how = if self.regular { "regular times" } else { "times spread between packets" };
        format!(
            "{why}: {how}, {interval_s:.3} s apart, replace them; changed by up to {moved_s:.2} s, sd of a time \
             {sd_s:.3} s"
        )
    }
}

/// Fewest samples whose stamps are judged.
const FEWEST: usize = 30;
/// Rows over which the usual time per row is taken.
const SPAN: usize = 96;
/// A shorter interval, in usual ones, is within a packet; and packets there are, if this share of all is.
const SHORT: f64 = 0.2;
const SHORT_SHARE: f64 = 0.2;
/// More samples logged after a later stamp: the order of the readings is not known.
const DISORDER: f64 = 0.01;
/// Readings of a packet differ at least so often, compared with readings of two packets: rows written twice do not.
const DIFFER: f64 = 0.25;
/// Stamps whose intervals have a smaller sd, in usual intervals, are those of the readings.
const INTERVAL_SD: f64 = 0.2;
/// Or if so few intervals are nearly 0: readings that were held up arrive at once.
const STALLS: f64 = 0.01;
/// Such a reading is later than others by this, in usual intervals.
const HELD_UP: f64 = 0.35;
/// The same as the sd of intervals for the delays, in periods.
const DELAY_SD: f64 = 0.15;
/// The shortest delays are at most so many sd below the median: a delay has a lower bound, and a normal error has not.
const ONE_SIDED: f64 = 2.1;
/// Times are replaced if the readings favour them by this much, as a difference of log likelihoods.
const EVIDENCE: f64 = 8.0;
/// Readings are absent if their absence shortens the range of the delays to this fraction, and of a period.
const CLEARER: f64 = 0.5;
/// A longer pause, s and usual intervals, separates parts of a log with a phase each.
const PAUSE: (f64, f64) = (5.0, 40.0);
/// Within this flow, g/s, readings identify their times.
const FLOWS_G_PER_S: f64 = 1.5;
/// Readings on each side over which the flow is taken.
const BESIDE: usize = 6;
/// Besides each reading with its neighbours, one with those at this distance is compared, s: errors of a time may last.
const WIDE_S: f64 = 0.08;
/// The sd of times by the readings is at most this, in intervals: a knock is no error of a time.
const MOST_SD: f64 = 0.5;
/// Units of rounded stamps, s.
const UNITS_S: [f64; 5] = [60.0, 1.0, 0.1, 0.01, 0.001];

/// The instants of the readings; None if the stamps are those.
pub(crate) fn reading_times(order: &Order, channels: &[&[f64]]) -> Option<ReadingTimes> {
    let stamp_s = &order.time_s;
    let n = stamp_s.len();
    if n < FEWEST || order.moved as f64 > DISORDER * n as f64 {
        return None;
    }
    let usual_s = usual_interval_s(stamp_s);
    if usual_s.is_nan() || usual_s <= 0.0 || (stamp_s[n - 1] - stamp_s[0]) / usual_s > 1e9 {
        return None;
    }
    let log = Rows { order, channels, usual_s };
    if log.comes_in_packets() {
        return log.packets_restored();
    }
    log.delays_removed().or_else(|| log.repeats_dated())
}

/// Usual time per row: the median over spans of rows, so that neither packets nor pauses matter.
fn usual_interval_s(stamp_s: &[f64]) -> f64 {
    let span = SPAN.min((stamp_s.len() - 1) / 2);
    let mut each: Vec<f64> = stamp_s.windows(span + 1).map(|w| (w[span] - w[0]) / span as f64).collect();
    median(&mut each)
}

struct Rows<'a> {
    order: &'a Order,
    /// Readings as logged.
    channels: &'a [&'a [f64]],
    usual_s: f64,
}

impl Rows<'_> {
    fn stamps(&self) -> &[f64] {
        &self.order.time_s
    }

    fn reading(&self, channel: usize, row: usize) -> f64 {
        self.channels[channel][self.order.log_index[row]]
    }

    /// Whether two rows have the same readings.
    fn same(&self, a: usize, b: usize) -> bool {
        (0..self.channels.len()).all(|c| {
            let (a, b) = (self.reading(c, a), self.reading(c, b));
            a == b || (a.is_nan() && b.is_nan())
        })
    }

    fn is_short(&self, interval_s: f64) -> bool {
        interval_s < SHORT * self.usual_s
    }

    fn comes_in_packets(&self) -> bool {
        let n = self.stamps().len();
        // Within packets, and between them: pairs of rows, and those with other readings.
        let mut pairs = [[0.0; 2]; 2];
        for i in 1..n {
            let short = usize::from(self.is_short(self.stamps()[i] - self.stamps()[i - 1]));
            pairs[short][0] += 1.0;
            pairs[short][1] += f64::from(u8::from(!self.same(i - 1, i)));
        }
        let [long, short] = pairs;
        short[0] > SHORT_SHARE * (n - 1) as f64 && short[1] * long[0] > DIFFER * long[1] * short[0]
    }

    /// Rows that arrived together. A packet whose second half has the readings of the first is two,
    /// unless each is known to be logged `once`. Then the last stamp counts, otherwise the first.
    fn packets(&self, rows: std::ops::Range<usize>, once: bool) -> Vec<Packet> {
        let stamps = self.stamps();
        let mut packets: Vec<Packet> = Vec::new();
        let mut first = rows.start;
        for end in rows.start + 1..=rows.end {
            if end < rows.end && self.is_short(stamps[end] - stamps[end - 1]) {
                continue;
            }
            let half = (end - first) / 2;
            let at_s = stamps[if once { end - 1 } else { first }];
            let twice = !once
                && (end - first).is_multiple_of(2)
                && half >= 2
                && (first..first + half).all(|i| self.same(i, i + half));
            let cuts = if twice { vec![first, first + half, end] } else { vec![first, end] };
            for cut in cuts.windows(2) {
                let rows = cut[1] - cut[0];
                let may_repeat = !once
                    && packets.last().is_some_and(|p| {
                        p.rows == rows && rows >= 2 && (0..rows).all(|i| self.same(p.first + i, cut[0] + i))
                    });
                packets.push(Packet { first: cut[0], rows, at_s, may_repeat, half: cut[1] < end });
            }
            first = end;
        }
        packets
    }

    /// Parts of the log between long pauses.
    fn parts(&self) -> Vec<std::ops::Range<usize>> {
        let limit_s = PAUSE.0 + PAUSE.1 * self.usual_s;
        let stamps = self.stamps();
        let mut starts = vec![0];
        starts.extend((1..stamps.len()).filter(|&i| stamps[i] - stamps[i - 1] > limit_s));
        starts.push(stamps.len());
        starts.windows(2).map(|w| w[0]..w[1]).collect()
    }

    fn packets_restored(&self) -> Option<ReadingTimes> {
        let unit_s = self.rounded_to_s();
        let cause = if unit_s.is_some() { Cause::Rounded } else { Cause::Packets };
        let mut parts: Vec<Vec<Packet>> =
            self.parts().into_iter().map(|part| self.packets(part, unit_s.is_some())).collect();
        if let Some(unit_s) = unit_s {
            let later_s = self.until_s(&parts[0], unit_s);
            for packet in parts.iter_mut().flatten() {
                packet.at_s += later_s;
            }
        }
        let (spread, _) = self.made(&parts, |_| None, false);
        let regular = self.regular(&parts, unit_s.is_some());
        let favoured = regular.filter(|(made, _)| self.evidence(&made.time_s, &spread.time_s) <= EVIDENCE);
        Some(self.finish(favoured.map_or(spread, |(made, _)| made), cause))
    }

    /// The times of all readings, by the regular instants of each part, or spread where there are none; and the delays,
    /// in periods.
    fn made(
        &self,
        parts: &[Vec<Packet>],
        regular: impl Fn(&[Packet]) -> Option<Regular>,
        rounded: bool,
    ) -> (Made, Vec<f64>) {
        let (mut made, mut delays) = (Made::default(), Vec::new());
        let mut incomplete = Vec::new();
        for packets in parts {
            let Some(mut found) = regular(packets) else {
                made.spread(packets, self.usual_s);
                continue;
            };
            if rounded {
                found.centre(packets);
            }
            made.place(packets, &found);
            delays.extend(found.delays_s(packets).iter().map(|d| d / found.period_s));
            if found.placed.iter().any(|p| p.absent > 0) {
                incomplete.push((packets, found));
            }
        }
        if !incomplete.is_empty() {
            let curves = self.curves(&made.time_s);
            for (packets, found) in &incomplete {
                let mut sizes: Vec<f64> = packets.iter().map(|p| p.rows as f64).collect();
                let least = quantile(&mut sizes, 0.05).max(2.0) as usize;
                let Made { time_s, variances, .. } = &mut made;
                absent::place(packets, found, &curves, least, time_s, variances);
            }
        }
        (made, delays)
    }

    fn curves(&self, time_s: &[f64]) -> Vec<Curve> {
        let of = |c: usize| {
            let mass_g: Vec<f64> = (0..time_s.len()).map(|i| self.reading(c, i)).collect();
            let step_g = readout_resolution(&mass_g);
            Curve::new(mass_g, time_s, step_g)
        };
        (0..self.channels.len()).map(of).collect()
    }

    /// The unit to which the stamps are rounded, if several readings lie within one, s.
    fn rounded_to_s(&self) -> Option<f64> {
        let stamps = self.stamps();
        let intervals = || stamps.windows(2).map(|w| w[1] - w[0]);
        if intervals().any(|d| d > 0.0 && self.is_short(d)) {
            return None;
        }
        let is_multiple = |d: f64, unit: f64| (d / unit - (d / unit).round()).abs() * unit < 1e-5;
        UNITS_S
            .into_iter()
            .find(|&unit| unit > 1.5 * self.usual_s && intervals().all(|d| is_multiple(d, unit)))
    }

    /// Time from a stamp until its last reading can have been taken, s. A clock that starts with the log and has a
    /// whole unit of readings at first rounds down; others are taken to round to the nearest.
    fn until_s(&self, packets: &[Packet], unit_s: f64) -> f64 {
        let rows = packets.first().map_or(0, |p| p.rows) as f64;
        let mut sizes: Vec<f64> = packets.iter().map(|p| p.rows as f64).collect();
        let whole = median(&mut sizes);
        let down =
            packets.first().is_some_and(|p| p.at_s == 0.0) && rows > whole - 1.5 && rows > 0.75 * whole;
        if down { unit_s } else { 0.5 * unit_s }
    }

    fn delays_removed(&self) -> Option<ReadingTimes> {
        let mut intervals: Vec<f64> = self.stamps().windows(2).map(|w| w[1] - w[0]).collect();
        let short = intervals.iter().filter(|d| self.is_short(**d)).count();
        let stalls = short as f64 > STALLS * intervals.len() as f64;
        let sd = 0.5 * (quantile(&mut intervals, 0.84) - quantile(&mut intervals, 0.16));
        if sd < INTERVAL_SD * self.usual_s && !stalls {
            return None;
        }
        let parts: Vec<Vec<Packet>> = self.parts().into_iter().map(|part| self.packets(part, true)).collect();
        let (made, mut delays) = self.regular(&parts, false)?;
        let sd = 0.5 * (quantile(&mut delays, 0.84) - quantile(&mut delays, 0.16));
        let below = (median(&mut delays) - quantile(&mut delays, 0.005)) / sd;
        let late = sd >= DELAY_SD && below < ONE_SIDED;
        let (made, cause) = match (late, stalls) {
            (true, _) => (made, Cause::Late),
            (false, true) => (self.but_for_stalls(made), Cause::HeldUp),
            (false, false) => return None,
        };
        (self.evidence(self.stamps(), &made.time_s) > EVIDENCE).then(|| self.finish(made, cause))
    }

    /// The instants of values that the log repeats.
    fn repeats_dated(&self) -> Option<ReadingTimes> {
        let Updates { every_s, time_s, sd_s } = updates(self.order, |row| self.reading(0, row))?;
        let changes = time_s.iter().zip(self.stamps()).map(|(t, s)| (t - s).abs());
        Some(ReadingTimes {
            cause: Cause::Repeats,
            moved: time_s.len(),
            moved_s: changes.fold(0.0, f64::max),
            interval_s: every_s,
            sd_s,
            repeats: vec![false; time_s.len()],
            regular: true,
            time_s,
        })
    }

    /// Regular times of the readings that were held up; the others keep their stamps.
    fn but_for_stalls(&self, regular: Made) -> Made {
        let delays = || self.stamps().iter().zip(&regular.time_s).map(|(stamp, t)| stamp - t);
        let usual_s = median(&mut delays().collect::<Vec<_>>());
        let mut made = Made { absent: regular.absent, ..Made::default() };
        for (i, delay_s) in delays().enumerate() {
            let kept = delay_s - usual_s < HELD_UP * self.usual_s;
            made.push(
                if kept { self.stamps()[i] } else { regular.time_s[i] + usual_s },
                regular.variances[i],
                false,
            );
        }
        made
    }

    /// Regular times, and the delays in periods, if any part of the log is long enough. Other parts keep their stamps.
    fn regular(&self, parts: &[Vec<Packet>], rounded: bool) -> Option<(Made, Vec<f64>)> {
        let regular = |packets: &[Packet]| Regular::of(packets, self.usual_s);
        let complete = |packets: &[Packet]| Regular::complete(packets).or_else(|| regular(packets));
        let mut best = self.made(parts, complete, rounded);
        let mut other = self.made(parts, regular, rounded);
        let [range, of_other] = [&mut best.1, &mut other.1].map(|d| quantile(d, 0.9) - quantile(d, 0.1));
        // The place of each absent reading is chosen by the readings.
        let limit = EVIDENCE + other.0.absent as f64;
        let is_clearer = range > SHORT && of_other < CLEARER * range.min(1.0);
        if is_clearer || self.evidence(&best.0.time_s, &other.0.time_s) > limit {
            best = other;
        }
        (!best.1.is_empty()).then_some(best)
    }

    /// Rows within the time for which errors may last.
    fn wide(&self) -> usize {
        ((WIDE_S / self.usual_s) as usize).clamp(1, BESIDE)
    }

    /// Variance of the times by the readings, s2: what the kinks of the pours have over those of the rests.
    fn time_var_s2(&self, time_s: &[f64], beside: usize) -> f64 {
        let (mut excess_g2, mut flow2) = (0.0, 0.0);
        for curve in self.curves(time_s) {
            let y = &curve.mass_g;
            for i in BESIDE..time_s.len().saturating_sub(BESIDE) {
                let (from, to) = (i - BESIDE, i + BESIDE);
                let flow = (y[to] - y[from]) / (time_s[to] - time_s[from]);
                let kink_g2 = kink2(y, time_s, i, beside);
                if flow > FLOWS_G_PER_S && flow.is_finite() && kink_g2.is_finite() {
                    excess_g2 += kink_g2 - curve.var_g2;
                    flow2 += flow * flow;
                }
            }
        }
        if excess_g2 > 0.0 { excess_g2 / flow2 } else { 0.0 }
    }

    fn finish(&self, made: Made, cause: Cause) -> ReadingTimes {
        let Made { time_s, repeats, variances, spread, .. } = made;
        let mut intervals: Vec<f64> = time_s.windows(2).map(|w| w[1] - w[0]).filter(|d| *d > 0.0).collect();
        let interval_s = median(&mut intervals);
        let n = variances.len() as f64;
        let of_places = variances.iter().sum::<f64>() / n;
        let most = (MOST_SD * interval_s).powi(2);
        let by_readings = self.time_var_s2(&time_s, 1).max(self.time_var_s2(&time_s, self.wide()));
        let sd_s = by_readings.min(most).max(of_places).sqrt();
        let changes = || time_s.iter().zip(self.stamps()).map(|(t, s)| (t - s).abs());
        ReadingTimes {
            cause,
            moved: changes().filter(|d| *d > 0.0).count(),
            moved_s: changes().fold(0.0, f64::max),
            interval_s,
            sd_s,
            regular: !spread,
            repeats,
            time_s,
        }
    }

    /// By how much the readings favour the second times over the first, as a difference of log likelihoods. In a pour,
    /// a reading lies between its neighbours in proportion to the times.
    fn evidence(&self, first_s: &[f64], second_s: &[f64]) -> f64 {
        let n = second_s.len();
        let wide = self.wide();
        let mut squares = [[Vec::new(), Vec::new()], [Vec::new(), Vec::new()]];
        for c in 0..self.channels.len() {
            let y: Vec<f64> = (0..n).map(|i| self.reading(c, i)).collect();
            for i in BESIDE..n.saturating_sub(BESIDE) {
                let (from, to) = (i - BESIDE, i + BESIDE);
                let flow = (y[to] - y[from]) / (second_s[to] - second_s[from]);
                if !(flow > FLOWS_G_PER_S && flow.is_finite()) {
                    continue;
                }
                for (beside, all) in [1, wide].into_iter().zip(&mut squares) {
                    let two = [kink2(&y, first_s, i, beside), kink2(&y, second_s, i, beside)];
                    if two.iter().all(|x| x.is_finite()) {
                        all.iter_mut().zip(two).for_each(|(all, x)| all.push(x));
                    }
                }
            }
        }
        // Neighbouring differences share readings: half of them count, or fewer if they are wide.
        let widths = if wide > 1 { 2 } else { 1 };
        let each = squares.into_iter().zip([1, wide]).take(widths).map(|(two, beside)| {
            let n = two[0].len() as f64;
            let [first, second] = two.map(|mut all| lower_mean(&mut all));
            let ratio = if first > 0.0 && second > 0.0 { first / second } else { 1.0 };
            0.25 * n / beside as f64 * ratio.ln()
        });
        each.sum()
    }
}

/// The mean without the largest tenth.
fn lower_mean(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let kept = values.len() * 9 / 10;
    values[..kept].iter().sum::<f64>() / kept.max(1) as f64
}
