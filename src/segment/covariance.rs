//! In: the numbers of each pour on each curve of the posterior. Out: the joint covariance of the numbers of all pours.
//!
//! A number is known for each draw of the parameters, and about it for a pair of drawn curves. Parameters are common to
//! the log; curves about them are independent between groups of pours. So only what the draws have in common enters the
//! covariance across groups, which leaves out the Monte-Carlo error of the product of independent curves.

use crate::rows::rows;
use serde::{Deserialize, Serialize};

/// Deviations are rounded to about this fraction of their sd, so that they are short in a stored brew.
const ROUNDED: f64 = 1e-3;
/// The numbers of a pour.
pub(super) const START_S: &str = "start_s";
pub(super) const END_S: &str = "end_s";
pub(super) const HALF_RISE_S: &str = "half_rise_s";
pub(super) const HALF_FALL_S: &str = "half_fall_s";
pub(super) const MASS_G: &str = "mass_g";

rows! { $
/// Joint covariance of the numbers of all pours: start, end, half-rise, half-fall and mass, as far as they are defined.
///
/// Pours share the scale's lag and the force of the stream, so that their errors are correlated. Numbers of pours set by
/// hand are left out. It is stored as the deviations in each draw from the posterior: the memory is proportional to the
/// number of pours, and a matrix is made on demand.
///
/// ```
/// use pourline::{Covariance, Options, Recipe, analyze, simulate};
/// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// let found: &Covariance = &brew.segments.covariance;
/// let matrix = found.matrix();
/// assert_eq!(matrix.dim(), (found.names.len(), found.names.len()));
/// let mass_g = found.names.iter().position(|name| name == "pour_1_mass_g").unwrap();
/// assert!((matrix[[mass_g, mass_g]].sqrt() / brew.segments.pours[0].mass_g.sd - 1.0).abs() < 1e-9);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Covariance {
    /// Names of the numbers, such as `pour_1_start_s`, in the order of the matrix; each ends in its unit.
    pub names: Vec<String>,
    /// Standard deviation of each number, as stated with the pour; its unit is that of the number.
    pub sd: Vec<f64>,
    /// Group of the pour of each number.
    pub(crate) groups: Vec<usize>,
    /// For each number its deviation in each draw of the parameters, mean of the pair of curves.
    pub(crate) common: Vec<Vec<f32>>,
    /// Half of the difference of that pair.
    pub(crate) own: Vec<Vec<f32>>,
}
}

/// Deviations of a number in each draw of the parameters.
pub(super) struct Deviations {
    pub common: Vec<f64>,
    pub own: Vec<f64>,
}

impl Covariance {
    /// Adds a number of a pour, given by its place from 0, with its stated sd and its deviations.
    pub(super) fn push(&mut self, (pour, number): (usize, &str), sd: f64, group: usize, from: &Deviations) {
        self.names.push(named(pour, number));
        self.sd.push(sd);
        self.groups.push(group);
        self.common.push(rounded(&from.common, sd));
        self.own.push(rounded(&from.own, sd));
    }

    /// Covariance of two numbers by their places in `names`; 0 for a place that does not exist.
    ///
    /// The variance of a number is the square of its stated sd. That contains what the model leaves out, such as rounding,
    /// which is taken as independent of all other numbers.
    #[must_use]
    pub fn entry(&self, i: usize, k: usize) -> f64 {
        if i == k {
            return self.sd.get(i).map_or(0.0, |sd| sd * sd);
        }
        let product = |of: &[Vec<f32>]| match (of.get(i), of.get(k)) {
            (Some(a), Some(b)) if !a.is_empty() => {
                let sum: f64 = a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum();
                sum / a.len() as f64
            }
            _ => 0.0,
        };
        let same = self.groups.get(i) == self.groups.get(k);
        product(&self.common) + if same { product(&self.own) } else { 0.0 }
    }

    /// The whole matrix, in the order of `names`; its units are the products of those of the numbers.
    #[must_use]
    pub fn matrix(&self) -> ndarray::Array2<f64> {
        let n = self.names.len();
        let mut out = ndarray::Array2::zeros((n, n));
        for i in 0..n {
            for k in 0..=i {
                let entry = self.entry(i, k);
                (out[[i, k]], out[[k, i]]) = (entry, entry);
            }
        }
        out
    }

    /// What the stated sd of a number contains beyond the spread of the curves, and the group of its pour. It stands for
    /// what the model leaves out: rounding, drift, readings that contradict it.
    pub(super) fn beyond(&self, pour: usize, number: &str) -> Option<(f64, usize)> {
        let i = self.names.iter().position(|name| parted(name) == Some((pour, number)))?;
        let square =
            |row: &[f32]| row.iter().map(|d| f64::from(*d).powi(2)).sum::<f64>() / row.len().max(1) as f64;
        let var = self.sd[i] * self.sd[i] - square(&self.common[i]) - square(&self.own[i]);
        Some((var.max(0.0).sqrt(), self.groups[i]))
    }

    /// Without the numbers of pours that are not kept; `kept` has the new place of each pour, from 0.
    pub(crate) fn kept(&self, kept: &[Option<usize>]) -> Self {
        let mut out = Self::default();
        for (i, name) in self.names.iter().enumerate() {
            let Some((pour, number)) = parted(name) else { continue };
            let Some(place) = kept.get(pour).copied().flatten() else { continue };
            out.names.push(named(place, number));
            out.sd.push(self.sd[i]);
            out.groups.push(self.groups[i]);
            out.common.push(self.common[i].clone());
            out.own.push(self.own[i].clone());
        }
        out
    }

    /// Whether it has numbers of a pour; those that were set by hand have none.
    pub(crate) fn has(&self, pour: usize) -> bool {
        self.names.iter().any(|name| parted(name).is_some_and(|(own, _)| own == pour))
    }

    /// Whether every number has all its parts.
    pub(crate) fn is_whole(&self) -> bool {
        let n = self.names.len();
        let same =
            |rows: &[Vec<f32>]| rows.len() == n && rows.windows(2).all(|two| two[0].len() == two[1].len());
        self.sd.len() == n && self.groups.len() == n && same(&self.common) && same(&self.own)
    }
}

/// Name of a number of a pour, given by its place from 0.
fn named(pour: usize, number: &str) -> String {
    format!("pour_{}_{number}", pour + 1)
}

fn parted(name: &str) -> Option<(usize, &str)> {
    let (pour, number) = name.strip_prefix("pour_")?.split_once('_')?;
    Some((pour.parse::<usize>().ok()?.checked_sub(1)?, number))
}

fn rounded(deviations: &[f64], sd: f64) -> Vec<f32> {
    let step = if sd > 0.0 { 10_f64.powi((sd * ROUNDED).log10().floor() as i32) } else { 0.0 };
    deviations
        .iter()
        .map(|d| if step > 0.0 { ((d / step).round() * step) as f32 } else { *d as f32 })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two numbers in one group and one in another, two draws.
    fn three() -> Covariance {
        let of = |common: [f64; 2], own: [f64; 2]| Deviations { common: common.into(), own: own.into() };
        let mut out = Covariance::default();
        out.push((0, START_S), 1.5, 0, &of([1.0, -1.0], [0.5, 0.5]));
        out.push((0, MASS_G), 3.0, 0, &of([2.0, -2.0], [1.0, -1.0]));
        out.push((1, START_S), 1.5, 1, &of([-1.0, 1.0], [0.5, 0.5]));
        out
    }

    #[test]
    fn entries_are_those_of_arithmetic() {
        let found = three();
        // (1 * 2 + 1 * 2) / 2 + (0.5 - 0.5) / 2; across groups only what the draws have in common.
        assert!((found.entry(0, 1) - 2.0).abs() < 1e-6);
        assert!((found.entry(0, 2) + 1.0).abs() < 1e-6);
        assert_eq!(found.entry(1, 1), 9.0);
        assert_eq!(found.entry(0, 9), 0.0);
        assert_eq!(found.matrix()[[2, 1]], found.matrix()[[1, 2]]);
    }

    #[test]
    fn pours_that_are_not_kept_leave_the_others_as_they_are() {
        let found = three().kept(&[None, Some(0)]);
        assert_eq!(found.names, ["pour_1_start_s"]);
        assert!(found.is_whole() && found.entry(0, 0) == 2.25);
    }
}
