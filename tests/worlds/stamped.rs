//! What a logger makes of readings: rows that arrive together, late, twice, or not at all, and stamps that are not the
//! instants of the readings.
//!
//! In: a log whose stamps are the true instants of its readings. Out: the rows that were logged, each with its stamp,
//! its reading and its true instant.

use super::{Made, Random};

/// How rows are stamped.
#[derive(Debug, Clone, Copy, Default)]
pub struct Stamping {
    /// Fewest and most readings that arrive together; 1 and 1: each by itself.
    pub packet: (usize, usize),
    /// Between two stamps of one packet, s.
    pub apart_s: f64,
    /// A packet arrives late by 0 up to this, s.
    pub late_s: f64,
    /// It arrives late by an exponential time of this mean besides, s.
    pub tail_s: f64,
    /// Share of the packets that are held up for up to `HELD_UP_S`; those after them wait.
    pub stalls: f64,
    /// Share of the readings that are never logged, each by itself.
    pub dropped: f64,
    /// Share of the packets that are never logged.
    pub lost: f64,
    /// Share of the packets that are logged twice.
    pub doubled: f64,
    /// Stamps are rounded down to whole multiples of this, s; 0: they are not.
    pub rounded_s: f64,
    /// Only a reading that differs from the one before is logged.
    pub on_change: bool,
    /// The stamp is the number of the row over the rate.
    pub nominal: bool,
}

/// A log as it was stamped.
#[derive(Debug, Clone)]
pub struct Stamped {
    /// `time_s` are the stamps.
    pub made: Made,
    /// The instant of each row's reading, s.
    pub read_s: Vec<f64>,
    /// Rows that repeat an earlier row.
    pub repeats: Vec<bool>,
}

/// A latency cannot be negative, and the smallest is not zero.
const LEAST_LATENCY_S: f64 = 0.001;
const HELD_UP_S: f64 = 0.5;
/// Stamps are written in ms.
const WRITTEN_S: f64 = 0.001;

/// The log of these readings. `interval_s` is the time between two of them.
pub fn stamped(made: &Made, stamping: &Stamping, interval_s: f64, seed: u64) -> Stamped {
    let mut random = Random::new(seed ^ 0x57A9);
    let mut rows: Vec<(f64, usize, bool)> = Vec::new();
    let (n, mut at, mut latest_s) = (made.time_s.len(), 0, f64::NEG_INFINITY);
    while at < n {
        let to = (at + random.count(stamping.packet.0.max(1), stamping.packet.1.max(1))).min(n);
        let late_s = LEAST_LATENCY_S + random.within(0.0, stamping.late_s)
            - stamping.tail_s * (1.0 - random.unit()).ln()
            + if random.chance(stamping.stalls) { random.within(0.0, HELD_UP_S) } else { 0.0 };
        // Packets arrive in the order in which they are sent.
        let first_s = (made.time_s[to - 1] + late_s).max(latest_s);
        let kept: Vec<usize> = (at..to).filter(|_| !random.chance(stamping.dropped)).collect();
        let copies =
            if random.chance(stamping.lost) { 0 } else { 1 + usize::from(random.chance(stamping.doubled)) };
        for copy in 0..copies {
            for &row in &kept {
                latest_s = if latest_s < first_s { first_s } else { latest_s + stamping.apart_s };
                rows.push((latest_s, row, copy > 0));
            }
        }
        at = to;
    }
    if stamping.on_change {
        rows.dedup_by(|b, a| made.water_g[b.1] == made.water_g[a.1]);
    }
    let stamp = |(row, (stamp_s, _, _)): (usize, &(f64, usize, bool))| {
        if stamping.nominal {
            row as f64 * interval_s
        } else if stamping.rounded_s > 0.0 {
            (stamp_s / stamping.rounded_s).floor() * stamping.rounded_s
        } else {
            (stamp_s / WRITTEN_S).round() * WRITTEN_S
        }
    };
    Stamped {
        read_s: rows.iter().map(|r| made.time_s[r.1]).collect(),
        repeats: rows.iter().map(|r| r.2).collect(),
        made: Made {
            time_s: rows.iter().enumerate().map(stamp).collect(),
            water_g: rows.iter().map(|r| made.water_g[r.1]).collect(),
            ..made.clone()
        },
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Setting, kinds, log};
    use super::*;

    fn made() -> Made {
        log(&kinds()[0], &Setting::default(), 4)
    }

    #[test]
    fn readings_that_arrive_one_by_one_and_at_once_keep_their_instants() {
        let made = made();
        let found = stamped(&made, &Stamping::default(), 0.1, 1);
        assert_eq!(found.read_s, made.time_s);
        assert!(found.made.time_s.iter().zip(&made.time_s).all(|(s, t)| (s - t - 0.001).abs() < 0.0006));
    }

    #[test]
    fn a_packet_arrives_after_its_last_reading_and_nothing_is_lost() {
        let made = made();
        let stamping = Stamping { packet: (3, 5), apart_s: 0.002, ..Stamping::default() };
        let found = stamped(&made, &stamping, 0.1, 1);
        assert_eq!(found.made.water_g, made.water_g);
        let early = found.made.time_s.iter().zip(&found.read_s).filter(|(s, t)| s < t).count();
        let short = found.made.time_s.windows(2).filter(|w| w[1] - w[0] < 0.004).count();
        // Of packets of 4 in the mean, three of four intervals are short.
        assert!(early == 0 && (short as f64 / made.time_s.len() as f64 - 0.75).abs() < 0.04);
    }

    #[test]
    fn the_stated_share_is_dropped_and_doubled() {
        let made = made();
        let n = made.time_s.len() as f64;
        let rows = |stamping: Stamping| stamped(&made, &stamping, 0.1, 1).read_s.len() as f64 / n;
        let packet = (3, 5);
        // Binomial: 3 sd of n readings, or of n / 4 packets.
        let sd = |p: f64, n: f64| 3.0 * (p * (1.0 - p) / n).sqrt();
        assert!((rows(Stamping { packet, dropped: 0.05, ..Stamping::default() }) - 0.95).abs() < sd(0.05, n));
        assert!(
            (rows(Stamping { packet, lost: 0.05, ..Stamping::default() }) - 0.95).abs() < sd(0.05, n / 4.0)
        );
        assert!(
            (rows(Stamping { packet, doubled: 0.05, ..Stamping::default() }) - 1.05).abs()
                < sd(0.05, n / 4.0)
        );
        let on_change = stamped(&made, &Stamping { on_change: true, ..Stamping::default() }, 0.1, 1);
        assert!(on_change.made.water_g.windows(2).all(|w| w[0] != w[1]));
    }

    #[test]
    fn stamps_are_rounded_or_made_up() {
        let made = made();
        let rounded = stamped(&made, &Stamping { rounded_s: 1.0, ..Stamping::default() }, 0.1, 1);
        assert!(rounded.made.time_s.iter().all(|s| s.fract() == 0.0));
        let nominal = stamped(&made, &Stamping { nominal: true, ..Stamping::default() }, 0.1, 1);
        assert!(nominal.made.time_s.iter().enumerate().all(|(i, s)| *s == i as f64 * 0.1));
    }
}
