//! In: readings of a log that has a row only where the reading changed. Out: the readings between the rows.

use crate::math::robust::quantile;

/// Fewest rows, and the least share of intervals that hold unchanged readings, of such a log.
const ROWS: usize = 30;
const SHARE: f64 = 0.1;
/// An interval that is longer, in the shortest, holds unchanged readings; at most so many are put in.
const LONGER: f64 = 1.5;
const MOST: f64 = 50.0;
/// Readings that differ by less than this, in steps, are the same: a drift was subtracted.
const SAME: f64 = 0.5;
/// After unchanged readings the next differs by at most this, in steps, and in g; otherwise rows were lost.
const NEXT: (f64, f64) = (15.0, 1.0);

/// Stamps and readings with the unchanged ones put in, and their interval, s; None if rows are not on change alone.
pub(crate) fn with_unchanged(t: &[f64], y: &[f64], step_g: f64) -> Option<(Vec<f64>, Vec<f64>, f64)> {
    if t.len() < ROWS || step_g <= 0.0 || y.windows(2).any(|w| (w[1] - w[0]).abs() < SAME * step_g) {
        return None;
    }
    let mut intervals: Vec<f64> = t.windows(2).map(|w| w[1] - w[0]).collect();
    let each_s = quantile(&mut intervals, 0.1);
    let long = intervals.iter().filter(|d| **d > LONGER * each_s).count();
    if each_s <= 0.0 || (long as f64) < SHARE * intervals.len() as f64 {
        return None;
    }
    let (mut time_s, mut mass_g) = (Vec::new(), Vec::new());
    for i in 0..t.len() {
        time_s.push(t[i]);
        mass_g.push(y[i]);
        let until_s = t.get(i + 1).copied().unwrap_or(t[i]);
        let unchanged = ((until_s - t[i]) / each_s).round().min(MOST) as usize;
        let next = y.get(i + 1).map_or(0.0, |next| (next - y[i]).abs());
        let goes_on = next <= (NEXT.0 * step_g).max(NEXT.1);
        for k in 1..if goes_on { unchanged } else { 0 } {
            time_s.push(t[i] + k as f64 * each_s);
            mass_g.push(y[i]);
        }
    }
    Some((time_s, mass_g, each_s))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unchanged_readings_are_put_in_and_only_if_all_rows_are_changes() {
        let all: Vec<f64> = (0..90).map(|i| f64::from(i / 3)).collect();
        let rows: Vec<usize> = (0..90).filter(|i| i % 3 == 0).chain([89]).collect();
        let at = |i: &usize| 0.1 * *i as f64;
        // Three intervals between changes, but for one of a single interval in ten.
        let t: Vec<f64> = (0..40)
            .scan(0.0, |t, i| {
                *t += if i % 5 == 0 { 0.1 } else { 0.3 };
                Some(*t)
            })
            .collect();
        let y: Vec<f64> = (0..40).map(f64::from).collect();
        let (time_s, mass_g, each_s) = with_unchanged(&t, &y, 1.0).unwrap();
        // By hand: 32 intervals of three and 7 of one.
        assert_eq!((time_s.len(), mass_g.len()), (32 * 3 + 7 + 1, 32 * 3 + 7 + 1));
        assert!((each_s - 0.1).abs() < 1e-9 && time_s.windows(2).all(|w| (w[1] - w[0] - 0.1).abs() < 1e-9));
        let time_s: Vec<f64> = rows.iter().map(at).collect();
        assert!(with_unchanged(&time_s, &rows.iter().map(|i| all[*i]).collect::<Vec<_>>(), 1.0).is_none());
        assert!(with_unchanged(&t, &y, 0.0).is_none());
        // After a rise of 20 steps rows were lost.
        let lost: Vec<f64> = y.iter().map(|y| 20.0 * y).collect();
        assert_eq!(with_unchanged(&t, &lost, 1.0).unwrap().1, lost);
        // Of readings at rest many are the same, also if a drift was subtracted.
        let drifts: Vec<f64> = (0..40).map(|i| f64::from(i / 2 % 2) - 1e-3 * f64::from(i)).collect();
        assert!(with_unchanged(&t, &drifts, 1.0).is_none());
    }
}
