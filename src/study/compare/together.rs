//! In: units of any number of groups, in cells. Out: the least-squares fit of all groups at once, its residuals, and
//! one F for all groups.

use crate::math::distribution::fisher_above;
use crate::math::solve::{cholesky, inverse};
use crate::study::compare::blocks::Units;

/// The fit of all groups.
#[derive(Debug, Clone)]
pub(super) struct Together {
    /// Step of each group against the first of those that share cells with it, directly or through others.
    pub steps: Vec<f64>,
    /// Covariance of `steps` for a variance of one, in row order.
    pub inverse: Vec<f64>,
    /// Which set of connected groups each one is in.
    pub set: Vec<usize>,
    pub variance: f64,
    pub degrees: f64,
    /// Sum of squares of the groups, and its degrees of freedom.
    pub between: f64,
    pub between_degrees: f64,
}

impl Together {
    pub(super) fn new(units: &Units) -> Option<Self> {
        let (k, cells) = (units.groups.len(), units.cells);
        let mut counts = vec![0.0; cells * k];
        for (&g, &c) in units.group.iter().zip(&units.cell) {
            counts[c * k + g] += 1.0;
        }
        let set = sets(&counts, k);
        let size: Vec<f64> = counts.chunks(k).map(|row| row.iter().sum()).collect();
        let centred = centred(units, &size);
        let sums = sums(units, &centred, &units.group);
        // One group of each set is the reference: its row and column become those of the unit matrix.
        let reference: Vec<bool> = (0..k).map(|g| set[..g].iter().all(|s| *s != set[g])).collect();
        let mut matrix = vec![0.0; k * k];
        for g in 0..k {
            for h in 0..k {
                if reference[g] || reference[h] {
                    matrix[g * k + h] = f64::from(u8::from(g == h));
                    continue;
                }
                let shared = |c: usize| counts[c * k + g] * counts[c * k + h] / size[c];
                matrix[g * k + h] = -(0..cells).map(shared).sum::<f64>();
                if g == h {
                    matrix[g * k + h] += (0..cells).map(|c| counts[c * k + g]).sum::<f64>();
                }
            }
        }
        if !cholesky(&mut matrix, k) {
            return None;
        }
        let mut inverse = inverse(&matrix, k);
        for g in (0..k).filter(|&g| reference[g]) {
            inverse[g * k + g] = 0.0;
        }
        let steps: Vec<f64> =
            inverse.chunks(k).map(|row| row.iter().zip(&sums).map(|(a, b)| a * b).sum()).collect();
        let between: f64 = steps.iter().zip(&sums).map(|(a, b)| a * b).sum();
        let between_degrees = (k - reference.iter().filter(|r| **r).count()) as f64;
        let degrees = units.values.len() as f64 - cells as f64 - between_degrees;
        let left = centred.iter().map(|y| y * y).sum::<f64>() - between;
        let largest = units.values.iter().fold(0.0_f64, |m, y| m.max(y.abs()));
        let rounding = units.values.len() as f64 * (4.0 * f64::EPSILON * largest).powi(2);
        let variance = if left > rounding { left / degrees } else { 0.0 };
        Some(Self { steps, inverse, set, variance, degrees, between, between_degrees })
    }

    /// F of all groups and its p; None if the groups are not connected, or the variance is 0.
    pub(super) fn f(&self) -> Option<(f64, f64)> {
        if self.set.iter().any(|&s| s != 0) || self.degrees < 1.0 || self.variance <= 0.0 {
            return None;
        }
        let f = self.between / self.between_degrees / self.variance;
        Some((f, fisher_above(f, self.between_degrees, self.degrees)))
    }

    /// The values of the units, centred in their cells, less the fit.
    pub(super) fn residuals(&self, units: &Units, centred: &[f64]) -> Vec<f64> {
        let (mut mean, size) = (vec![0.0; units.cells], sizes(units));
        for (&g, &c) in units.group.iter().zip(&units.cell) {
            mean[c] += self.steps[g] / size[c];
        }
        let fitted = units.group.iter().zip(&units.cell).map(|(&g, &c)| self.steps[g] - mean[c]);
        centred.iter().zip(fitted).map(|(y, fitted)| y - fitted).collect()
    }

    /// The sum of squares of the groups for this permutation. Their counts in each cell must be those of the fit.
    pub(super) fn between(&self, units: &Units, centred: &[f64], group: &[usize]) -> f64 {
        let sums = sums(units, centred, group);
        let k = sums.len();
        let row = |g: usize| (0..k).map(|h| self.inverse[g * k + h] * sums[h]).sum::<f64>();
        (0..k).map(|g| sums[g] * row(g)).sum()
    }
}

/// The values less the mean of their cell.
pub(super) fn centred(units: &Units, size: &[f64]) -> Vec<f64> {
    let mut means = vec![0.0; units.cells];
    for (y, &c) in units.values.iter().zip(&units.cell) {
        means[c] += y / size[c];
    }
    units.values.iter().zip(&units.cell).map(|(y, &c)| y - means[c]).collect()
}

pub(super) fn sizes(units: &Units) -> Vec<f64> {
    let mut size = vec![0.0; units.cells];
    units.cell.iter().for_each(|&c| size[c] += 1.0);
    size
}

fn sums(units: &Units, centred: &[f64], group: &[usize]) -> Vec<f64> {
    let mut sums = vec![0.0; units.groups.len()];
    centred.iter().zip(group).for_each(|(y, &g)| sums[g] += y);
    sums
}

/// Which groups are linked by cells.
fn sets(counts: &[f64], k: usize) -> Vec<usize> {
    let mut set: Vec<usize> = (0..k).collect();
    for row in counts.chunks(k) {
        let here: Vec<usize> = (0..k).filter(|&g| row[g] > 0.0).collect();
        for pair in here.windows(2) {
            let (keep, lose) = (set[pair[0]].min(set[pair[1]]), set[pair[0]].max(set[pair[1]]));
            set.iter_mut().filter(|s| **s == lose).for_each(|s| *s = keep);
        }
    }
    set
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::Estimate;

    #[test]
    fn the_f_of_a_certified_set_is_found() {
        // NIST StRD, one-way analysis of variance, SiRstv: five instruments, five readings each.
        let resistance = [
            196.3052, 196.1240, 196.1890, 196.2569, 196.3403, 196.3042, 196.3825, 196.1669, 196.3257,
            196.0422, 196.1303, 196.2005, 196.2889, 196.0343, 196.1811, 196.2795, 196.1748, 196.1494,
            196.1485, 195.9885, 196.2119, 196.1051, 196.1850, 196.0052, 196.2090,
        ];
        let group: Vec<&str> = (0..25).map(|i| ["1", "2", "3", "4", "5"][i / 5]).collect();
        let units = Units::new(&resistance.map(Estimate::exact), &group, &[], &[]).unwrap();
        let found = Together::new(&units).unwrap();
        // The values have seven digits and differ in the last four: subtracting the mean leaves nine digits of F.
        assert!((found.f().unwrap().0 / 1.18046237440255 - 1.0).abs() < 1e-9);
        assert!((found.variance.sqrt() / 1.04076068334656e-01 - 1.0).abs() < 1e-9);
        assert_eq!((found.between_degrees, found.degrees), (4.0, 20.0));
    }

    fn together(groups: &[(&str, &[f64])]) -> Together {
        let values: Vec<Estimate> =
            groups.iter().flat_map(|(_, y)| y.iter().copied().map(Estimate::exact)).collect();
        let labels: Vec<&str> = groups.iter().flat_map(|(name, y)| vec![*name; y.len()]).collect();
        Together::new(&Units::new(&values, &labels, &[], &[]).unwrap()).unwrap()
    }

    #[test]
    fn steps_residuals_and_f_are_those_of_arithmetic() {
        let found = together(&[("a", &[1.0, 2.0, 3.0]), ("b", &[5.0, 7.0]), ("c", &[4.0, 8.0, 9.0])]);
        // Means 2, 6 and 7; squares within 2 + 2 + 14 on five degrees.
        assert!((found.variance - 3.6).abs() < 1e-12 && found.degrees == 5.0);
        assert!(
            (found.steps[1] - 4.0).abs() < 1e-12 && (found.steps[2] - 5.0).abs() < 1e-12,
            "{:?}",
            found.steps
        );
        // Squares between: 3 x 2.875^2 + 2 x 1.125^2 + 3 x 2.125^2 about the mean of 4.875, on two degrees.
        let between = 3.0 * 2.875_f64.powi(2) + 2.0 * 1.125_f64.powi(2) + 3.0 * 2.125_f64.powi(2);
        assert!((found.f().unwrap().0 - between / 2.0 / 3.6).abs() < 1e-9);
        let values = [1.0, 2.0, 3.0, 5.0, 7.0].map(Estimate::exact);
        let units = Units::new(&values, &["a", "a", "a", "b", "b"], &[], &[]).unwrap();
        let left = Together::new(&units).unwrap().residuals(&units, &centred(&units, &sizes(&units)));
        let by_hand = [-1.0, 0.0, 1.0, -1.0, 1.0];
        assert!(left.iter().zip(by_hand).all(|(x, y)| (x - y).abs() < 1e-12), "{left:?}");
    }
}
