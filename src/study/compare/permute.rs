//! In: which group each unit belongs to, in cells, and a statistic. Out: the permutation p: the share of permutations
//! within cells whose statistic is at least as large.
//!
//! The test is exact if the permutations are few; otherwise they are sampled, with p = (b + 1)/(m + 1) (Phipson and
//! Smyth 2010, Stat. Appl. Genet. Mol. Biol. 9, 39). The statistic is studentised, so that unequal variances are not
//! taken for unequal means (Janssen 1997, Stat. Probab. Lett. 36, 9).

use crate::math::random::Random;

/// Result of a permutation test.
#[derive(Debug, Clone, Copy)]
pub(super) struct Permutation {
    pub p: f64,
    /// Monte Carlo standard error of p; 0 for an exact test.
    pub sd: f64,
}

/// Limits of the exact test, number of samples and seed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Dealing<'a> {
    pub exact_up_to: usize,
    pub draws: usize,
    pub seed: u64,
    /// Tests of different names use independent random streams.
    pub name: &'a str,
}

/// Share of the permutations of `labels` within cells whose statistic is at least the observed one.
pub(super) fn permutation(
    labels: &[usize],
    cell: &[usize],
    statistic: impl Fn(&[usize]) -> f64,
    dealing: Dealing<'_>,
) -> Permutation {
    let observed = statistic(labels);
    // Ties with the observed statistic may differ from it by rounding.
    let reaches = |found: f64| found >= observed || found >= observed - 1e-10 * observed.abs();
    let (mut as_large, mut all) = (0_usize, 0_usize);
    let found = deals(labels, cell, dealing, |dealt| {
        as_large += usize::from(reaches(statistic(dealt)));
        all += 1;
    });
    if !found.sampled {
        return Permutation { p: as_large as f64 / all as f64, sd: 0.0 };
    }
    let m = dealing.draws as f64;
    let p = (as_large as f64 + 1.0) / (m + 1.0);
    Permutation { p, sd: (p * (1.0 - p) / m).sqrt() }
}

/// The permutations of a design.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Deals {
    /// Number of distinct permutations.
    pub arrangements: f64,
    /// Whether they were sampled; otherwise each occurred once.
    pub sampled: bool,
}

/// Calls `with` for every permutation of `labels` within cells, or for a sample of them.
pub(crate) fn deals(
    labels: &[usize],
    cell: &[usize],
    dealing: Dealing<'_>,
    mut with: impl FnMut(&[usize]),
) -> Deals {
    let cells = cells_of(cell);
    let arrangements: f64 = cells.iter().map(|rows| ways(rows.iter().map(|&i| labels[i]))).product();
    if arrangements <= dealing.exact_up_to as f64 {
        each(labels, &cells, with);
        return Deals { arrangements, sampled: false };
    }
    let mut random = Random::stream(dealing.seed, dealing.name);
    let mut dealt = labels.to_vec();
    for _ in 0..dealing.draws {
        for rows in &cells {
            for k in (1..rows.len()).rev() {
                let other = random.count([0, u32::try_from(k).unwrap_or(u32::MAX)]) as usize;
                dealt.swap(rows[k], rows[other]);
            }
        }
        with(&dealt);
    }
    Deals { arrangements, sampled: true }
}

/// The units of each cell.
pub(crate) fn cells_of(cell: &[usize]) -> Vec<Vec<usize>> {
    let mut cells: Vec<Vec<usize>> = vec![Vec::new(); cell.iter().max().map_or(0, |c| c + 1)];
    for (i, &c) in cell.iter().enumerate() {
        cells[c].push(i);
    }
    cells
}

/// Number of distinct permutations of these labels.
fn ways(labels: impl Iterator<Item = usize>) -> f64 {
    let mut counts = std::collections::BTreeMap::new();
    let (mut ways, mut n) = (1.0_f64, 0.0);
    for label in labels {
        n += 1.0;
        let count = counts.entry(label).or_insert(0.0);
        *count += 1.0;
        ways *= n / *count;
    }
    ways.round()
}

/// Calls `with` once for every permutation.
fn each(labels: &[usize], cells: &[Vec<usize>], mut with: impl FnMut(&[usize])) {
    let mut dealt = labels.to_vec();
    let mut orders: Vec<Vec<usize>> =
        cells.iter().map(|rows| rows.iter().map(|&i| labels[i]).collect()).collect();
    for (rows, order) in cells.iter().zip(&mut orders) {
        order.sort_unstable();
        rows.iter().zip(order.iter()).for_each(|(&i, &label)| dealt[i] = label);
    }
    loop {
        with(&dealt);
        // As an odometer: the first cell that still has a next order takes it, those before it restart.
        let Some(turned) = orders.iter_mut().position(|order| next(order)) else { return };
        for (rows, order) in cells.iter().zip(&orders).take(turned + 1) {
            rows.iter().zip(order).for_each(|(&i, &label)| dealt[i] = label);
        }
    }
}

/// The next order of the labels; false, and the first one, after the last.
fn next(order: &mut [usize]) -> bool {
    let Some(i) = (1..order.len()).rev().find(|&i| order[i - 1] < order[i]) else {
        order.reverse();
        return false;
    };
    if let Some(j) = (i..order.len()).rev().find(|&j| order[j] > order[i - 1]) {
        order.swap(i - 1, j);
    }
    order[i..].reverse();
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_permutation_occurs_once() {
        // Worked example: 4!/(2! 2!) orders in the first cell, 3!/(2! 1!) in the second, 3! in the third.
        let labels = [0, 1, 0, 1, 2, 0, 0, 0, 1, 2];
        let cells = [vec![0, 1, 2, 3], vec![4, 5, 6], vec![7, 8, 9]];
        let (mut seen, mut calls) = (BTreeSet::new(), 0);
        each(&labels, &cells, |dealt| {
            calls += 1;
            seen.insert(dealt.to_vec());
        });
        assert_eq!((calls, seen.len()), (6 * 3 * 6, 6 * 3 * 6));
        assert!(seen.contains(labels.as_slice()));
        let ways: f64 = cells.iter().map(|rows| ways(rows.iter().map(|&i| labels[i]))).product();
        assert_eq!(ways, 108.0);
    }

    #[test]
    fn a_sampled_p_includes_the_observed_permutation() {
        let labels = [0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1];
        let dealing = Dealing { exact_up_to: 0, draws: 999, seed: 1, name: "test" };
        // A statistic that is always the same: every deal reaches it.
        let always = permutation(&labels, &[0; 12], |_| 1.0, dealing);
        assert_eq!((always.p, always.sd), (1.0, 0.0));
        let found = deals(&labels, &[0; 12], dealing, |_| {});
        assert_eq!((found.arrangements, found.sampled), (924.0, true));
        // The sum of the places of the second group, largest as it is: one deal in 924 reaches it. (b + 1)/(m + 1)
        // by Phipson and Smyth.
        let sum = |dealt: &[usize]| dealt.iter().enumerate().map(|(i, l)| (i * l) as f64).sum::<f64>();
        let found = permutation(&labels, &[0; 12], sum, dealing);
        let reached = found.p * 1000.0 - 1.0;
        assert!((reached - reached.round()).abs() < 1e-9 && (0.0..7.0).contains(&reached), "{}", found.p);
        assert!((found.sd - (found.p * (1.0 - found.p) / 999.0).sqrt()).abs() < 1e-15);
        let exact = permutation(&labels, &[0; 12], sum, Dealing { exact_up_to: 924, ..dealing });
        assert!((exact.p - 1.0 / 924.0).abs() < 1e-15 && exact.sd == 0.0);
    }
}
