//! In: packets in which readings are absent, with regular instants. Out: which of the instants the others have.
//!
//! Stamps do not identify which reading of a packet is absent. The readings do while water runs: at wrong instants the
//! curve has a kink. Each choice of instants is weighted by the kinks that it leaves; times are means over the choices.
//! At rest all choices weigh the same.

use crate::condition::regular::{Packet, Regular};
use crate::math::robust::median;

/// Most choices that are compared.
const MOST: usize = 400;
/// Sweeps over the packets: a packet beside another with absent readings is placed again.
const SWEEPS: usize = 2;
/// Neighbouring kinks share readings: their squares count by this.
const SHARED: f64 = 0.6;
/// The median of the squares of normal deviates.
const MEDIAN_SQUARE: f64 = 0.455;
/// A whole packet before this one is absent as likely as any readings of both.
const WHOLE: f64 = 0.5;

/// Readings of one weight, in the order of time.
pub(super) struct Curve {
    pub mass_g: Vec<f64>,
    /// Variance of a reading, g2.
    pub var_g2: f64,
}

impl Curve {
    /// The variance follows from the kinks at these times.
    pub fn new(mass_g: Vec<f64>, time_s: &[f64], step_g: f64) -> Self {
        let mut squares: Vec<f64> =
            (1..mass_g.len().saturating_sub(1)).map(|i| kink2(&mass_g, time_s, i, 1)).collect();
        let var_g2 = (median(&mut squares) / MEDIAN_SQUARE).max(step_g * step_g / 12.0);
        Self { mass_g, var_g2 }
    }
}

/// How far a reading lies from the line between those `beside` rows before and after it, squared, in units in which its
/// variance is that of one reading; NaN at equal times and for missing readings.
pub(super) fn kink2(y: &[f64], t: &[f64], i: usize, beside: usize) -> f64 {
    let (from, to) = (i - beside, i + beside);
    let part = (t[i] - t[from]) / (t[to] - t[from]);
    let off = y[i] - y[from] - part * (y[to] - y[from]);
    off * off / (1.0 + part * part + (1.0 - part).powi(2))
}

/// Places the readings of packets with absent ones. `time_s` has the times of all rows, and gets the means; the
/// variances of the places are added, s2. `least` is the size of a small packet.
pub(super) fn place(
    packets: &[Packet],
    regular: &Regular,
    curves: &[Curve],
    least: usize,
    time_s: &mut [f64],
    variances: &mut [f64],
) {
    let incomplete: Vec<usize> =
        (1..packets.len()).filter(|&b| regular.placed[b].absent > 0 && !regular.placed[b].repeats).collect();
    for sweep in 0..SWEEPS {
        for &b in &incomplete {
            let (packet, placed) = (packets[b], regular.placed[b]);
            let Some(choices) = choices(packet.rows, placed.absent as usize) else { continue };
            let rows = packet.first..packet.first + packet.rows;
            let whole = placed.absent as usize >= least;
            let mut weights: Vec<f64> = Vec::with_capacity(choices.len());
            for choice in &choices {
                set(choice, regular, b, &mut time_s[rows.clone()]);
                weights.push(-0.5 * SHARED * kinks(curves, time_s, &rows));
            }
            if whole {
                // The last of the choices has the readings at the end.
                let prior = (WHOLE / (1.0 - WHOLE) * (choices.len() - 1).max(1) as f64).ln();
                weights.last_mut().into_iter().for_each(|w| *w += prior);
            }
            let best = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            weights.iter_mut().for_each(|w| *w = (*w - best).exp());
            let sum: f64 = weights.iter().sum();
            for (j, row) in rows.enumerate() {
                let mean = |power: i32, about: f64| {
                    let each = choices.iter().zip(&weights);
                    each.map(|(c, w)| w * (c[j] as f64 - about).powi(power)).sum::<f64>() / sum
                };
                let from_end = mean(1, 0.0);
                time_s[row] = regular.at_s(b, placed.last as f64 - from_end);
                if sweep + 1 == SWEEPS {
                    variances[row] += mean(2, from_end) * regular.period_s.powi(2);
                }
            }
        }
    }
}

fn set(choice: &[usize], regular: &Regular, b: usize, time_s: &mut [f64]) {
    for (t, from_end) in time_s.iter_mut().zip(choice) {
        *t = regular.at_s(b, regular.placed[b].last as f64 - *from_end as f64);
    }
}

/// Sum of the squared kinks in and beside these rows, in variances.
fn kinks(curves: &[Curve], time_s: &[f64], rows: &std::ops::Range<usize>) -> f64 {
    let last = time_s.len().saturating_sub(2);
    let near = rows.start.saturating_sub(1).max(1)..=rows.end.min(last);
    let of = |curve: &Curve| {
        let squares = near.clone().map(|i| kink2(&curve.mass_g, time_s, i, 1)).filter(|k| k.is_finite());
        squares.sum::<f64>() / curve.var_g2
    };
    curves.iter().filter(|c| c.var_g2 > 0.0).map(of).sum()
}

/// All ways to place `rows` readings among `rows + absent` instants, as numbers from the last one back; the last choice
/// has them at the end. None if there are too many.
fn choices(rows: usize, absent: usize) -> Option<Vec<Vec<usize>>> {
    let places = rows + absent;
    let mut n = 1.0;
    for k in 1..=absent.min(rows) {
        n *= (places + 1 - k) as f64 / k as f64;
    }
    if n > MOST as f64 {
        return None;
    }
    let mut choice: Vec<usize> = (0..rows).map(|j| places - 1 - j).collect();
    let mut all = vec![choice.clone()];
    // The next choice: the last reading that can move does, and those after it follow.
    while let Some(j) = (0..rows).rev().find(|&j| choice[j] > rows - 1 - j) {
        let at = choice[j] - 1;
        (j..rows).for_each(|k| choice[k] = at - (k - j));
        all.push(choice.clone());
    }
    Some(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_choices_are_tried_once_and_the_last_has_the_readings_at_the_end() {
        // 4 over 2 and 7 over 2, by hand.
        for (rows, absent, n) in [(2, 2, 6), (5, 2, 21), (3, 1, 4)] {
            let found = choices(rows, absent).unwrap();
            let different: std::collections::BTreeSet<_> = found.iter().collect();
            assert_eq!((found.len(), different.len()), (n, n));
            assert!(found.iter().all(|c| c.windows(2).all(|w| w[0] > w[1]) && c[0] < rows + absent));
            assert_eq!(*found.last().unwrap(), (0..rows).rev().collect::<Vec<_>>());
        }
        assert!(choices(40, 20).is_none());
    }

    #[test]
    fn a_reading_on_the_line_between_its_neighbours_has_no_kink() {
        let t = [0.0, 0.1, 0.4];
        assert!(kink2(&[1.0, 2.0, 5.0], &t, 1, 1) < 1e-24);
        // Off by 1 g, a quarter of the way: 1 / (1 + 1/16 + 9/16).
        assert!((kink2(&[1.0, 3.0, 5.0], &t, 1, 1) - 1.0 / 1.625).abs() < 1e-12);
    }
}
