//! In: units of two groups, in cells. Out: their difference within cells, with its standard error and degrees of
//! freedom.
//!
//! One cell: Welch. Several: least squares with one level for each cell and one step between the groups; the variance
//! is pooled over both. Only cells that hold both groups are informative about the difference (Montgomery, Design and
//! Analysis of Experiments, chapter 4).

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::distribution::fisher_above;
use crate::study::compare::blocks::Units;
use crate::study::compare::welch::welch_error;
use std::collections::BTreeMap;

/// The units of two groups that share cells.
#[derive(Debug, Clone, Default)]
pub(super) struct Pair {
    /// Index of each unit.
    pub unit: Vec<usize>,
    pub y: Vec<f64>,
    pub is_b: Vec<bool>,
    /// Cell of each unit, from 0 without holes.
    pub cell: Vec<usize>,
    /// For each cell the number of units of the first and the second group.
    pub counts: Vec<[usize; 2]>,
    /// Units of both groups in cells without the other group.
    pub left_out: usize,
}

/// Least-squares fit of two groups.
#[derive(Debug, Clone, Copy)]
pub(super) struct PairFit {
    /// Second group minus first.
    pub difference: f64,
    pub standard_error: f64,
    pub degrees: f64,
    /// Pooled sd within groups and cells, its degrees of freedom, and what it is divided by the root of to give a
    /// standard error.
    pub sd: f64,
    pub pooled_degrees: f64,
    pub weight: f64,
    /// Mean of the first group, its variance, and its covariance with the difference.
    pub base: f64,
    pub base_variance: f64,
    pub base_covariance: f64,
}

impl Pair {
    pub(super) fn new(units: &Units, a: usize, b: usize) -> Self {
        let mut counts = vec![[0_usize; 2]; units.cells];
        let side = |g: usize| if g == a { Some(0) } else { (g == b).then_some(1) };
        for (&g, &c) in units.group.iter().zip(&units.cell) {
            if let Some(k) = side(g) {
                counts[c][k] += 1;
            }
        }
        let mut place = vec![None; units.cells];
        let mut pair = Self::default();
        for (c, &n) in counts.iter().enumerate() {
            if n[0] > 0 && n[1] > 0 {
                place[c] = Some(pair.counts.len());
                pair.counts.push(n);
            }
        }
        for i in 0..units.values.len() {
            match (side(units.group[i]), place[units.cell[i]]) {
                (Some(k), Some(c)) => {
                    pair.unit.push(i);
                    pair.y.push(units.values[i]);
                    pair.is_b.push(k == 1);
                    pair.cell.push(c);
                }
                (Some(_), None) => pair.left_out += 1,
                _ => {}
            }
        }
        pair
    }

    /// Units of the first and of the second group.
    pub(super) fn sizes(&self) -> [usize; 2] {
        self.counts.iter().fold([0, 0], |n, c| [n[0] + c[0], n[1] + c[1]])
    }

    /// The values less the mean of their cell.
    pub(super) fn centred(&self) -> Vec<f64> {
        let mut means = vec![0.0; self.counts.len()];
        for (y, &c) in self.y.iter().zip(&self.cell) {
            means[c] += y / (self.counts[c][0] + self.counts[c][1]) as f64;
        }
        self.y.iter().zip(&self.cell).map(|(y, &c)| y - means[c]).collect()
    }

    /// Indicator of the second group, centred in each cell, and the sum of its squares. The difference is the sum of
    /// indicator times value over that sum.
    pub(super) fn lean(&self) -> (Vec<f64>, f64) {
        let share = |c: usize| self.counts[c][1] as f64 / (self.counts[c][0] + self.counts[c][1]) as f64;
        let lean: Vec<f64> =
            self.is_b.iter().zip(&self.cell).map(|(&b, &c)| f64::from(u8::from(b)) - share(c)).collect();
        let weight = lean.iter().map(|z| z * z).sum();
        (lean, weight)
    }

    /// p for the difference being the same at every level of the first blocking factor, by the F test of their
    /// interaction.
    pub(super) fn alike(&self, units: &Units, fit: &PairFit) -> Maybe {
        if units.blocks.is_empty() {
            return Err(Undefined::because("there are no blocking factors"));
        }
        let (centred, (lean, weight)) = (self.centred(), self.lean());
        let mut levels: BTreeMap<usize, [f64; 2]> = BTreeMap::new();
        for (i, &unit) in self.unit.iter().enumerate() {
            let sums = levels.entry(units.first[unit]).or_insert([0.0; 2]);
            *sums = [sums[0] + lean[i] * centred[i], sums[1] + lean[i] * lean[i]];
        }
        let above = levels.len() as f64 - 1.0;
        let below = fit.pooled_degrees - above;
        if above < 1.0 || below < 1.0 {
            return Err(Undefined::because(
                "no residual degrees of freedom to test the interaction with blocks",
            ));
        }
        let each: f64 = levels.values().map(|[sum, weight]| sum * sum / weight).sum();
        let more = (each - fit.difference.powi(2) * weight).max(0.0);
        let left = fit.sd * fit.sd * fit.pooled_degrees - more;
        if left <= 0.0 {
            return Err(Undefined::because("the variance within blocks is 0"));
        }
        Ok(Estimate::exact(fisher_above(more / above / (left / below), above, below)))
    }

    /// None if the two groups share no cell.
    pub(super) fn fit(&self) -> Option<PairFit> {
        if self.counts.is_empty() {
            return None;
        }
        let (centred, (lean, weight)) = (self.centred(), self.lean());
        let n = self.y.len() as f64;
        let difference = lean.iter().zip(&centred).map(|(z, y)| z * y).sum::<f64>() / weight;
        let left: f64 = lean.iter().zip(&centred).map(|(z, y)| (y - z * difference).powi(2)).sum();
        let pooled_degrees = n - self.counts.len() as f64 - 1.0;
        // Otherwise rounding would be taken for variance if all units of a group agree.
        let largest = self.y.iter().fold(0.0_f64, |m, y| m.max(y.abs()));
        let left = if left <= n * (4.0 * f64::EPSILON * largest).powi(2) { 0.0 } else { left };
        let variance = left / pooled_degrees;
        let b_share = self.sizes()[1] as f64 / n;
        let base = self.y.iter().sum::<f64>() / n - b_share * difference;
        let mut fit = PairFit {
            difference,
            standard_error: (variance / weight).sqrt(),
            degrees: pooled_degrees,
            sd: variance.sqrt(),
            pooled_degrees,
            weight,
            base,
            base_variance: variance * (1.0 / n + b_share * b_share / weight),
            base_covariance: -variance * b_share / weight,
        };
        if self.counts.len() == 1 {
            let of = |b: bool| -> Vec<f64> {
                self.y.iter().zip(&self.is_b).filter(|(_, is)| **is == b).map(|(y, _)| *y).collect()
            };
            let error = welch_error(&of(false), &of(true));
            (fit.standard_error, fit.degrees) = (error.standard_error, error.degrees);
            (fit.base_variance, fit.base_covariance) = (error.first_variance, -error.first_variance);
        }
        Some(fit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::study::compare::blocks::Block;

    fn units(blocked: bool) -> Units {
        let values = [1.0, 3.0, 5.0, 7.0, 2.0, 4.0, 10.0, 12.0].map(Estimate::exact);
        let group = ["a", "a", "b", "b", "a", "a", "b", "b"];
        let person = ["Ada", "Ada", "Ada", "Ada", "Bo", "Bo", "Bo", "Bo"];
        let block = [Block { name: "person", labels: &person[..] }];
        Units::new(&values, &group, if blocked { &block } else { &[] }, &[]).unwrap()
    }

    fn near(found: f64, by_hand: f64) {
        assert!((found - by_hand).abs() < 1e-9, "{found}, not {by_hand}");
    }

    #[test]
    fn differences_within_blocks_are_those_of_arithmetic() {
        let units = units(true);
        let pair = Pair::new(&units, 0, 1);
        let fit = pair.fit().unwrap();
        // Differences of 4 and 8: 6. Residual squares: 8 x 1 within groups and 8 x 1 of the differences, on 8 - 2 - 1
        // degrees: 3.2. The centred indicators are plus and minus a half, 8/4 = 2 in all; the mean of all is 5.5.
        near(fit.difference, 6.0);
        near(fit.pooled_degrees, 5.0);
        near(fit.degrees, 5.0);
        near(fit.sd, 3.2_f64.sqrt());
        near(fit.weight, 2.0);
        near(fit.standard_error, 1.6_f64.sqrt());
        near(fit.base, 2.5);
        near(fit.base_variance, 3.2 * (1.0 / 8.0 + 0.25 / 2.0));
        near(fit.base_covariance, -3.2 * 0.5 / 2.0);
        // The interaction takes 8 of 16 on one degree; 8/(8/4) = 4, the square of a t of 2 on four degrees: 0.1161
        // (tables).
        let p = pair.alike(&units, &fit).unwrap();
        assert!((p.value - 0.116_117).abs() < 1e-5, "{p}");
    }

    #[test]
    fn without_blocks_the_error_is_welchs() {
        let units = units(false);
        let pair = Pair::new(&units, 0, 1);
        let fit = pair.fit().unwrap();
        // Means 2.5 and 8.5; squares 5 and 29 on three degrees each, over four.
        let (p, q) = (5.0 / 12.0, 29.0 / 12.0_f64);
        near(fit.difference, 6.0);
        near(fit.base, 2.5);
        near(fit.standard_error, (p + q).sqrt());
        near(fit.degrees, (p + q).powi(2) / ((p * p + q * q) / 3.0));
        near(fit.base_variance, p);
        near(fit.base_covariance, -p);
        near(fit.sd, (34.0 / 6.0_f64).sqrt());
        assert!(pair.alike(&units, &fit).is_err());
    }
}
