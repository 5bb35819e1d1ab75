//! In: the retentions of brews whose beverage was weighed, grouped by roast, coffee or another factor. Out: the
//! retention of the next brew of each group, with a prediction interval.
//!
//! Method: one-way layout, one variance for all groups (NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3): with n
//! brews of mean m in a group, N brews in k groups and the pooled sd s, the next retention lies within m +- t(N - k) s
//! sqrt(1 + 1/n).

use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::math::distribution::student_half_width;
use crate::rows::rows;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

rows! { $
/// The retention of one group of brews, with a prediction for its next brew.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LearntRetention {
    /// The group, such as a roast or a coffee.
    pub group: String,
    /// Number of brews of this group.
    pub brews: usize,
    /// Its mean retention, with the sd of that mean, g/g.
    pub mean_g_per_g: Estimate,
    /// Predicted retention of its next brew, with the sd of one brew, g/g.
    ///
    /// For `retention_g_per_g` and `retention_sd_g_per_g` of the options.
    pub next_g_per_g: Estimate,
    /// Prediction interval of the next brew, g/g.
    pub interval_g_per_g: [f64; 2],
    /// Coverage of such intervals.
    pub level: f64,
    /// Degrees of freedom of the pooled sd: brews less groups.
    pub degrees: usize,
}
}

/// Estimates the retention of each group from pairs of its name and a brew's retention, g/g. Groups are in the order of
/// their names.
///
/// Use only brews whose beverage was weighed, at the same moment in each: a stated retention has no information. All
/// groups are assumed to have one variance between brews, so that a group of one brew has an interval too.
///
/// ```
/// use pourline::extraction::learn_retention;
/// let brews = [("dark", 2.3), ("dark", 2.1), ("light", 1.9), ("light", 1.8), ("light", 2.0)];
/// let learnt = learn_retention(&brews, 0.95)?;
/// assert_eq!((learnt[0].group.as_str(), learnt[0].brews, learnt[0].degrees), ("dark", 2, 3));
/// assert!(learnt[0].interval_g_per_g[0] < 2.2 && 2.2 < learnt[0].interval_g_per_g[1]);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `too_short` without at least one brew more than there are groups; `out_of_range` for a level that is not between 0
/// and 1; `not_finite` for a retention.
pub fn learn_retention(brews: &[(&str, f64)], level: f64) -> Result<Vec<LearntRetention>> {
    if !(level > 0.0 && level < 1.0) {
        let rule = "it must be above 0 and below 1".into();
        return Err(Error::OutOfRange { name: "level".into(), value: level, rule, row: 0 });
    }
    let mut groups: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for (&(group, retention), row) in brews.iter().zip(1..) {
        if !retention.is_finite() {
            return Err(Error::NotFinite { column: "retention_g_per_g".into(), row, value: retention });
        }
        groups.entry(group).or_default().push(retention);
    }
    let degrees = brews.len() - groups.len();
    if degrees == 0 {
        return Err(Error::TooShort { samples: brews.len(), needed: groups.len() + 1 });
    }
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let squares: f64 = groups.values().flat_map(|of| of.iter().map(move |r| (r - mean(of)).powi(2))).sum();
    let pooled_sd = (squares / degrees as f64).sqrt();
    let width = student_half_width(level, degrees as f64);
    Ok(groups
        .into_iter()
        .map(|(group, of)| {
            let (middle, n) = (mean(&of), of.len() as f64);
            let next = Estimate::new(middle, pooled_sd * (1.0 + 1.0 / n).sqrt());
            LearntRetention {
                group: group.into(),
                brews: of.len(),
                mean_g_per_g: Estimate::new(middle, pooled_sd / n.sqrt()),
                next_g_per_g: next,
                interval_g_per_g: [middle - width * next.sd, middle + width * next.sd],
                level,
                degrees,
            }
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_prediction_agrees_with_a_one_way_layout_by_arithmetic() {
        let brews = [("dark", 2.3), ("dark", 2.1), ("light", 1.9), ("light", 1.8), ("light", 2.0)];
        let learnt = learn_retention(&brews, 0.95).unwrap();
        // Squares 0.02 + 0.02 on three degrees; t(0.975, 3) = 3.182446 (tables).
        let pooled_sd = (0.04_f64 / 3.0).sqrt();
        for (of, middle, n) in [(&learnt[0], 2.2, 2.0_f64), (&learnt[1], 1.9, 3.0)] {
            assert!((of.mean_g_per_g.value - middle).abs() < 1e-12);
            assert!((of.mean_g_per_g.sd - pooled_sd / n.sqrt()).abs() < 1e-12);
            let next = pooled_sd * (1.0 + 1.0 / n).sqrt();
            assert!((of.next_g_per_g.sd - next).abs() < 1e-12);
            assert!((of.interval_g_per_g[0] - (middle - 3.182_446 * next)).abs() < 1e-6);
            assert!((of.interval_g_per_g[1] - (middle + 3.182_446 * next)).abs() < 1e-6);
        }
        assert!(learn_retention(&brews[..1], 0.95).is_err() && learn_retention(&brews[..2], 0.95).is_ok());
        assert!([0.0, 1.0].iter().all(|level| learn_retention(&brews, *level).is_err()));
    }
}
