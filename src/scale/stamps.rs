//! In: the stamps of a log as they were written, and the instants of its readings if they were restored. Out: interval,
//! jitter, packets, lateness.

use crate::condition::order::Order;
use crate::condition::reading_times::ReadingTimes;
use crate::math::robust::{median, quantile};
use crate::rows::rows;
use serde::{Deserialize, Serialize};

rows! { $
/// How the readings of a scale are stamped.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Stamps {
    /// Usual interval between two readings, s.
    pub interval_s: f64,
    /// Sd of the stamps about regular instants, s; half the width of the middle 68 %.
    pub jitter_s: f64,
    /// Readings that arrive together: the mean number of rows of a packet, 1 without packets.
    pub rows_per_packet: f64,
    /// Mean time by which a stamp is later than the promptest, s; 0 if stamps are the instants of the readings.
    ///
    /// A latency that is constant cannot be told from one clock.
    pub late_s: f64,
}
}

/// A shorter interval, in usual ones, is within a packet.
const SHORT: f64 = 0.2;
/// Bins of a histogram of intervals, and the longest, in usual intervals.
const BINS: usize = 40;
const LONGEST: f64 = 4.0;

impl Stamps {
    pub(super) fn new(stamped: &Order, restored: Option<&ReadingTimes>) -> Self {
        let t = &stamped.time_s;
        let interval_s = restored.map_or(stamped.interval_s, |restored| restored.interval_s);
        let mut late: Vec<f64> = match restored {
            Some(restored) => t.iter().zip(&restored.time_s).map(|(stamp, t)| stamp - t).collect(),
            None => Vec::new(),
        };
        let jitter_s = if late.is_empty() {
            // An interval has the errors of two stamps.
            let mut intervals: Vec<f64> = t.windows(2).map(|w| w[1] - w[0]).filter(|d| *d > 0.0).collect();
            spread(&mut intervals) / 2f64.sqrt()
        } else {
            spread(&mut late.clone())
        };
        let short = t.windows(2).filter(|w| w[1] - w[0] < SHORT * interval_s).count();
        let promptest_s = quantile(&mut late, 0.01);
        let late_s = late.iter().sum::<f64>() / late.len() as f64 - promptest_s;
        Self {
            interval_s,
            jitter_s,
            rows_per_packet: t.len() as f64 / (t.len() - short).max(1) as f64,
            late_s: if late_s.is_finite() { late_s.max(0.0) } else { 0.0 },
        }
    }
}

/// Half the width of the middle 68 %.
fn spread(values: &mut [f64]) -> f64 {
    if values.is_empty() { 0.0 } else { 0.5 * (quantile(values, 0.84) - quantile(values, 0.16)) }
}

/// Intervals of the stamps as a histogram: middle of each bin, s, and number of intervals. Longer ones are in the last.
pub(super) fn intervals(stamped: &Order) -> (Vec<f64>, Vec<f64>) {
    let mut all: Vec<f64> = stamped.time_s.windows(2).map(|w| w[1] - w[0]).collect();
    let usual_s = median(&mut all);
    let usual_s = if usual_s > 0.0 { usual_s } else { stamped.interval_s };
    let width_s = LONGEST * usual_s / BINS as f64;
    let mut n = vec![0.0; BINS];
    all.iter().for_each(|d| n[((d / width_s) as usize).min(BINS - 1)] += 1.0);
    ((0..BINS).map(|k| (k as f64 + 0.5) * width_s).collect(), n)
}
