//! In: the stamps as logged. Out: the order of time, duplicate stamps, the usual rate, the pauses.

use crate::math::robust::median;

/// Samples in order of time.
pub(crate) struct Order {
    /// Stamps in s, never decreasing.
    pub time_s: Vec<f64>,
    /// For each sample its index in the log.
    pub log_index: Vec<usize>,
    /// Whether the sample repeats the stamp of the one before it.
    pub duplicate: Vec<bool>,
    /// Samples that were logged after a later stamp.
    pub moved: usize,
    /// Usual interval, s.
    pub interval_s: f64,
    /// What was done to stamps that are not the instants of the readings, and to how many.
    pub retimed: Option<(String, usize)>,
    /// Whether the duplicates are values that the log repeats.
    pub updates: bool,
}

/// Sorts stably by time. Of equal stamps the first logged is used, because a repeated record arrives late.
pub(crate) fn order(time_s: &[f64]) -> Order {
    let mut log_index: Vec<usize> = (0..time_s.len()).collect();
    let mut latest = f64::NEG_INFINITY;
    let mut moved = 0;
    for &t in time_s {
        moved += usize::from(t < latest);
        latest = latest.max(t);
    }
    if moved > 0 {
        log_index.sort_by(|&a, &b| time_s[a].total_cmp(&time_s[b]));
    }
    let time_s: Vec<f64> = log_index.iter().map(|&i| time_s[i]).collect();
    let duplicate = (0..time_s.len()).map(|i| i > 0 && time_s[i] == time_s[i - 1]).collect();
    let mut intervals: Vec<f64> = time_s.windows(2).map(|w| w[1] - w[0]).filter(|&d| d > 0.0).collect();
    let usual = median(&mut intervals);
    let interval_s = if usual.is_finite() { usual } else { 1.0 };
    Order { time_s, log_index, duplicate, moved, interval_s, retimed: None, updates: false }
}

/// Pairs of neighbours among `live` samples with more than `gap_s`, and at least 3 usual intervals, between them.
pub(crate) fn gaps(order: &Order, live: &[usize], gap_s: f64) -> Vec<(usize, usize)> {
    let limit_s = gap_s.max(3.0 * order.interval_s);
    live.windows(2)
        .filter(|w| order.time_s[w[1]] - order.time_s[w[0]] > limit_s)
        .map(|w| (w[0], w[1]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stamps_out_of_order_are_sorted_and_the_first_of_equals_is_used() {
        let o = order(&[0.0, 0.2, 0.1, 0.2, 0.3]);
        assert_eq!(o.time_s, [0.0, 0.1, 0.2, 0.2, 0.3]);
        assert_eq!(o.log_index, [0, 2, 1, 3, 4]);
        assert_eq!(o.duplicate, [false, false, false, true, false]);
        assert_eq!(o.moved, 1);
        assert!((o.interval_s - 0.1).abs() < 1e-12);
    }

    #[test]
    fn a_pause_is_a_gap_only_when_it_is_long_for_this_rate() {
        let slow = order(&[0.0, 1.0, 2.0, 3.0, 8.0]);
        assert_eq!(gaps(&slow, &[0, 1, 2, 3, 4], 0.5), [(3, 4)]);
    }
}
