//! In: packets of readings, each with the stamp of its arrival. Out: regular instants of the readings.
//!
//! Readings are regular, a packet arrives after its last reading, and readings may be absent. The period maximises the
//! coherence of the arrivals, or follows from the number of readings if none is absent. The number of each packet's
//! last reading is found by dynamic programming: a delay costs as under an exponential distribution, an absent reading
//! as its odds. The likelihood chooses between periods. Phase and period are fitted again to the numbers.

use crate::math::robust::{median, quantile};
use std::f64::consts::TAU;

/// Rows that arrived together.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Packet {
    /// First row and number of rows.
    pub first: usize,
    pub rows: usize,
    /// Arrival, s.
    pub at_s: f64,
    /// Whether it has the readings of the packet before it.
    pub may_repeat: bool,
    /// Whether it is the first half of a packet: more readings arrived with it.
    pub half: bool,
}

/// Where the last reading of a packet lies.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Placed {
    /// Its number.
    pub last: i64,
    /// Readings that are absent before or in this packet.
    pub absent: i64,
    /// Whether the packet repeats the one before it.
    pub repeats: bool,
}

/// Regular instants: the reading of number k was taken at `phase_s + k * period_s`.
#[derive(Debug, Clone)]
pub(crate) struct Regular {
    pub period_s: f64,
    pub phase_s: f64,
    /// Correction of the phase of each packet, s.
    pub drift_s: Vec<f64>,
    pub placed: Vec<Placed>,
    /// Negative logarithm of the likelihood per packet.
    pub cost: f64,
}

/// Fewest packets for a period.
const FEWEST: usize = 20;
/// Periods are sought in this range of the usual interval between rows: some are absent, some repeated.
const PERIODS: [f64; 2] = [0.78, 1.12];
/// Coherence is summed over stretches of so many packets.
const STRETCH: usize = 128;
/// Rounds of placing and fitting.
const ROUNDS: usize = 4;
/// Numbers of a last reading that are tried, the latest first.
const NUMBERS: i64 = 8;
/// A reading may be this much later than its arrival, in periods, and the scale of its cost.
const EARLY: f64 = 0.3;
const EARLY_SCALE: f64 = 0.04;
const MOST_EARLY: f64 = 25.0;
/// A fit changes the period by less than this fraction.
const MOST_CHANGE: f64 = 0.1;
/// If no reading is absent, the shortest delays of so many stretches of the log differ by less than this, in periods,
/// or by less than the range of the delays of a stretch.
const STRETCHES: usize = 12;
const EDGES: f64 = 0.4;
/// More absent readings in a row cost no more: they were lost together.
const TOGETHER: i64 = 3;
/// The cost of a packet that repeats the one before it.
const REPEAT_COST: f64 = 5.0;
/// Delays, in periods, and absent readings: the ranges of their mean and share.
const DELAYS: [f64; 2] = [0.02, 4.0];
const ABSENT: [f64; 2] = [0.0003, 0.1];
/// Packets of a window in which the phase is estimated, and the least drift that is taken for one, in periods.
const WINDOW: usize = 60;
const DRIFTS: f64 = 0.15;
/// The first delays: this share of them is shorter than the phase says.
const LOWER_EDGE: f64 = 0.02;
const STEPS_OF_PHASE: usize = 50;

impl Regular {
    /// Regular instants of which none is absent, if the delays from them have the same lower edge throughout.
    pub fn complete(packets: &[Packet]) -> Option<Self> {
        if packets.len() < FEWEST {
            return None;
        }
        let (phase_s, period_s) = complete(packets).filter(|(_, period_s)| *period_s > 0.0)?;
        let mut number = -1;
        let placed = packets.iter().map(|p| {
            number += p.rows as i64;
            Placed { last: number, absent: 0, repeats: false }
        });
        let placed = placed.collect();
        let mut found = Self { period_s, phase_s, drift_s: vec![0.0; packets.len()], placed, cost: 0.0 };
        let mut delays = found.delays_s(packets);
        let stretch = FEWEST.max(delays.len() / STRETCHES);
        let (mut edges, mut ranges): (Vec<f64>, Vec<f64>) = delays
            .chunks_mut(stretch)
            .filter(|c| c.len() == stretch)
            .map(|c| (quantile(c, 0.0), quantile(c, 0.9) - quantile(c, 0.1)))
            .unzip();
        let most_s = (EDGES * period_s).max(median(&mut ranges));
        edges.sort_by(f64::total_cmp);
        if edges[edges.len() - 1] - edges[0] > most_s {
            return None;
        }
        found.fit(packets);
        Some(found)
    }

    /// The most likely regular instants of these packets, if there are enough of them. `usual_s` is the usual time per
    /// row.
    pub fn of(packets: &[Packet], usual_s: f64) -> Option<Self> {
        if packets.len() < FEWEST || usual_s <= 0.0 {
            return None;
        }
        let mut starts = coherent(packets, usual_s);
        starts.extend(complete(packets));
        starts
            .into_iter()
            .filter(|(_, period_s)| period_s.is_finite() && *period_s > 0.5 * usual_s)
            .map(|(phase_s, period_s)| Self::fitted(packets, phase_s, period_s))
            .min_by(|a, b| a.cost.total_cmp(&b.cost))
    }

    fn fitted(packets: &[Packet], phase_s: f64, period_s: f64) -> Self {
        let mut found = Self {
            period_s,
            phase_s,
            drift_s: vec![0.0; packets.len()],
            placed: Vec::new(),
            cost: f64::INFINITY,
        };
        let mut odds = Odds { delay: 0.3, absent: 0.02 };
        for round in 0..ROUNDS {
            found.cost = found.place(packets, odds);
            if round + 1 < ROUNDS {
                odds = found.fit(packets);
            }
        }
        if found.follow(packets) {
            found.cost = found.place(packets, odds);
        }
        found
    }

    /// Instant of the reading of a number in or near a packet, s.
    pub fn at_s(&self, packet: usize, number: f64) -> f64 {
        self.phase_s + self.drift_s[packet] + number * self.period_s
    }

    /// Whether the arrival of a packet tells of its last reading.
    fn counts(&self, packets: &[Packet], b: usize) -> bool {
        !self.placed[b].repeats && !packets[b].half
    }

    /// Delays of the packets whose arrivals count, s.
    pub fn delays_s(&self, packets: &[Packet]) -> Vec<f64> {
        (0..packets.len())
            .filter(|&b| self.counts(packets, b))
            .map(|b| packets[b].at_s - self.at_s(b, self.placed[b].last as f64))
            .collect()
    }

    /// Moves the phase to the middle of those that are possible if delays lie between 0 and a period.
    pub fn centre(&mut self, packets: &[Packet]) {
        let mut delays = self.delays_s(packets);
        let (low, high) = (quantile(&mut delays, LOWER_EDGE), quantile(&mut delays, 1.0 - LOWER_EDGE));
        self.phase_s += 0.5 * (low + high - self.period_s);
    }

    /// Finds the numbers of the last readings. Returns the cost per packet.
    fn place(&mut self, packets: &[Packet], odds: Odds) -> f64 {
        let mut layers: Vec<Vec<State>> = Vec::with_capacity(packets.len());
        for (b, packet) in packets.iter().enumerate() {
            let x = (packet.at_s - self.at_s(b, 0.0)) / self.period_s;
            let latest = (x + EARLY).floor() as i64;
            let rows = packet.rows as i64;
            let before = layers.last();
            let mut layer: Vec<State> = Vec::with_capacity(2 * NUMBERS as usize + 1);
            let least = before.and_then(|l| l.iter().map(|s| s.last).min()).map(|k| k + rows);
            let numbers = (0..NUMBERS).map(|j| latest - j);
            let forced = least.filter(|k| *k > latest);
            for last in numbers.chain(forced) {
                let cost = odds.of_delay(x - last as f64) * f64::from(u8::from(!packet.half));
                let Some(before) = before else {
                    layer.push(State { last, cost, from: 0, absent: 0, repeats: false });
                    continue;
                };
                let come =
                    before.iter().enumerate().filter(|(_, s)| s.last + rows <= last).map(|(from, s)| {
                        let absent = last - s.last - rows;
                        let cost = s.cost + cost + odds.of_absent(absent);
                        State { last, cost, from, absent, repeats: false }
                    });
                layer.extend(come.min_by(|a, b| a.cost.total_cmp(&b.cost)));
            }
            if let Some(before) = before.filter(|_| packet.may_repeat) {
                let again = before.iter().enumerate().map(|(from, s)| State {
                    cost: s.cost + REPEAT_COST,
                    from,
                    absent: 0,
                    repeats: true,
                    ..*s
                });
                layer.extend(again);
            }
            layers.push(layer);
        }
        let best = |layer: &[State]| {
            (0..layer.len()).min_by(|&i, &j| layer[i].cost.total_cmp(&layer[j].cost)).unwrap_or(0)
        };
        let mut at = layers.last().map_or(0, |l| best(l));
        let cost = layers.last().and_then(|l| l.get(at)).map_or(f64::INFINITY, |s| s.cost);
        self.placed = vec![Placed { last: 0, absent: 0, repeats: false }; packets.len()];
        for (b, layer) in layers.iter().enumerate().rev() {
            let State { last, absent, repeats, from, .. } = layer[at];
            self.placed[b] = Placed { last, absent, repeats };
            at = from;
        }
        let n = packets.len() as f64;
        cost / n + (odds.delay * self.period_s).ln()
    }

    /// Fits period and phase to the numbers: a line, and the lower edge of the delays from it.
    fn fit(&mut self, packets: &[Packet]) -> Odds {
        let used: Vec<usize> = (0..packets.len()).filter(|&b| self.counts(packets, b)).collect();
        let number = |b: usize| self.placed[b].last as f64;
        let mut delays = self.delays_s(packets);
        let (low, middle, high) =
            (quantile(&mut delays, 0.1), median(&mut delays), quantile(&mut delays, 0.9));
        let most_s = middle + 2.0 * (high - low).max(0.1 * self.period_s);
        let (mut n, mut x, mut y) = (0.0, 0.0, 0.0);
        let kept: Vec<(f64, f64)> = used
            .iter()
            .map(|&b| (number(b), packets[b].at_s - self.at_s(b, number(b))))
            .filter(|(_, delay_s)| *delay_s < most_s)
            .collect();
        for (k, d) in &kept {
            (n, x, y) = (n + 1.0, x + k, y + d);
        }
        let (x, y) = (x / n, y / n);
        let (mut xx, mut xy) = (0.0, 0.0);
        for (k, d) in &kept {
            xx += (k - x).powi(2);
            xy += (k - x) * (d - y);
        }
        let slope = xy / xx;
        if slope.abs() < MOST_CHANGE * self.period_s {
            self.period_s += slope;
            self.phase_s -= x * slope;
        }
        let mut delays = self.delays_s(packets);
        let edge_s = quantile(&mut delays, LOWER_EDGE);
        self.phase_s += edge_s;
        let rows: usize = used.iter().map(|&b| packets[b].rows).sum();
        let absent: i64 = self.placed.iter().map(|p| p.absent.min(TOGETHER)).sum();
        let mean_s = delays.iter().map(|d| (d - edge_s).max(0.0)).sum::<f64>() / delays.len() as f64;
        Odds {
            delay: (mean_s / self.period_s).clamp(DELAYS[0], DELAYS[1]),
            absent: (absent as f64 / rows as f64).clamp(ABSENT[0], ABSENT[1]),
        }
    }

    /// Follows a phase that drifts. Returns whether it does.
    fn follow(&mut self, packets: &[Packet]) -> bool {
        let windows = packets.len() / WINDOW;
        if windows < 3 {
            return false;
        }
        let delay = |b: usize| packets[b].at_s - self.at_s(b, self.placed[b].last as f64);
        let size = packets.len().div_ceil(windows);
        let edges: Vec<f64> = (0..windows)
            .map(|w| {
                let within = w * size..((w + 1) * size).min(packets.len());
                let mut delays: Vec<f64> = within.filter(|&b| self.counts(packets, b)).map(delay).collect();
                quantile(&mut delays, 0.1)
            })
            .map(|edge| if edge.is_finite() { edge } else { 0.0 })
            .collect();
        let usual = median(&mut edges.clone());
        if edges.iter().all(|edge| (edge - usual).abs() < DRIFTS * self.period_s) {
            return false;
        }
        for (b, drift_s) in self.drift_s.iter_mut().enumerate() {
            let x = (b as f64 / size as f64 - 0.5).clamp(0.0, windows as f64 - 1.0);
            let w = (x as usize).min(windows - 2);
            let part = x - w as f64;
            *drift_s = edges[w] + part * (edges[w + 1] - edges[w]) - usual;
        }
        true
    }
}

/// One number of a packet's last reading, and the best way to it.
#[derive(Debug, Clone, Copy)]
struct State {
    last: i64,
    cost: f64,
    from: usize,
    absent: i64,
    repeats: bool,
}

/// Mean delay, in periods, and share of absent readings.
#[derive(Debug, Clone, Copy)]
struct Odds {
    delay: f64,
    absent: f64,
}

impl Odds {
    fn of_delay(self, periods: f64) -> f64 {
        if periods >= 0.0 { periods / self.delay } else { (-periods / EARLY_SCALE).min(MOST_EARLY) }
    }

    fn of_absent(self, readings: i64) -> f64 {
        -self.absent.ln() * readings.min(TOGETHER) as f64
    }
}

/// Phases and periods at which the arrivals are most coherent: the two best.
fn coherent(packets: &[Packet], usual_s: f64) -> Vec<(f64, f64)> {
    let stretches: Vec<&[Packet]> =
        packets.chunks(STRETCH).filter(|s| s.len() >= FEWEST.min(packets.len())).collect();
    let longest_s = stretches.iter().map(|s| s[s.len() - 1].at_s - s[0].at_s).fold(0.0, f64::max);
    let (from_hz, to_hz) = (1.0 / (PERIODS[1] * usual_s), 1.0 / (PERIODS[0] * usual_s));
    if longest_s <= 0.0 {
        return Vec::new();
    }
    let step_hz = 0.25 / longest_s;
    let n = (((to_hz - from_hz) / step_hz) as usize).clamp(2, 20_000);
    let power = |hz: f64| stretches.iter().map(|s| sum(s, hz).2).sum::<f64>();
    let powers: Vec<f64> = (0..=n).map(|i| power(from_hz + i as f64 * step_hz)).collect();
    let mut peaks: Vec<usize> = (0..=n)
        .filter(|&i| (i == 0 || powers[i] >= powers[i - 1]) && (i == n || powers[i] > powers[i + 1]))
        .collect();
    peaks.sort_by(|&i, &j| powers[j].total_cmp(&powers[i]));
    peaks.truncate(2);
    let whole_s = packets[packets.len() - 1].at_s - packets[0].at_s;
    let fine = 0.25 / whole_s;
    peaks
        .into_iter()
        .map(|i| {
            let hz = from_hz + i as f64 * step_hz;
            let steps = ((step_hz / fine).ceil() as i64).min(2000);
            let best = (-steps..=steps)
                .map(|k| hz + k as f64 * fine)
                .max_by(|a, b| sum(packets, *a).2.total_cmp(&sum(packets, *b).2))
                .unwrap_or(hz);
            (lower_edge(packets, 1.0 / best), 1.0 / best)
        })
        .collect()
}

/// Sum of unit vectors at the arrivals, and its squared length.
fn sum(packets: &[Packet], hz: f64) -> (f64, f64, f64) {
    let first_s = packets[0].at_s;
    let (mut re, mut im) = (0.0, 0.0);
    for packet in packets {
        let (s, c) = (TAU * hz * (packet.at_s - first_s)).sin_cos();
        (re, im) = (re + c, im + s);
    }
    (re, im, re * re + im * im)
}

/// The phase before which hardly any arrival lies.
fn lower_edge(packets: &[Packet], period_s: f64) -> f64 {
    let first_s = packets[0].at_s;
    let parts: Vec<f64> = packets.iter().map(|p| ((p.at_s - first_s) / period_s).rem_euclid(1.0)).collect();
    let cost = |phase: f64| {
        parts.iter().map(|x| (x - phase).rem_euclid(1.0)).map(|d| d.min(6.0 * (1.0 - d))).sum::<f64>()
    };
    let best = (0..STEPS_OF_PHASE)
        .map(|i| i as f64 / STEPS_OF_PHASE as f64)
        .min_by(|a, b| cost(*a).total_cmp(&cost(*b)))
        .unwrap_or(0.0);
    first_s + best * period_s
}

/// Phase and period if no reading is absent: the line below all arrivals that is nearest to them.
fn complete(packets: &[Packet]) -> Option<(f64, f64)> {
    let mut number = -1.0;
    let points: Vec<(f64, f64)> = packets
        .iter()
        .map(|p| {
            number += p.rows as f64;
            (number, p.at_s)
        })
        .collect();
    let mean = points.iter().map(|p| p.0).sum::<f64>() / points.len() as f64;
    let mut hull: Vec<(f64, f64)> = Vec::new();
    for &p in &points {
        while let [.., a, b] = hull[..] {
            if (b.1 - a.1) * (p.0 - a.0) < (p.1 - a.1) * (b.0 - a.0) {
                break;
            }
            hull.pop();
        }
        hull.push(p);
    }
    let edge = hull.windows(2).find(|w| w[0].0 <= mean && mean <= w[1].0)?;
    let period_s = (edge[1].1 - edge[0].1) / (edge[1].0 - edge[0].0);
    Some((edge[0].1 - edge[0].0 * period_s, period_s))
}
