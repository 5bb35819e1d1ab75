//! In: three or more groups. Out: for every pair a p and an interval that hold for all pairs together.
//!
//! By dealing: residuals of the fit of all groups are dealt within cells, and the largest of all pairs' t is kept
//! (Westfall and Young 1993, Resampling-Based Multiple Testing, section 2.6; residuals: ter Braak 1992). p is the share
//! of deals whose largest t reaches the pair's own, the interval ends where t is the one that the level allows: both
//! are the same comparison.

use crate::estimate::Estimate;
use crate::math::random::Random;
use crate::study::compare::blocks::Units;
use crate::study::compare::pair::Pair;
use crate::study::compare::permute::cells_of;
use crate::study::compare::together::{Together, centred, sizes};

/// The largest t of each deal, the largest first.
#[derive(Debug, Clone)]
pub(super) struct Family {
    largest: Vec<f64>,
    sd: f64,
}

impl Family {
    /// None without scatter.
    pub(super) fn new(
        units: &Units,
        together: &Together,
        pairs: &[Pair],
        draws: usize,
        seed: u64,
    ) -> Option<Self> {
        if together.degrees < 1.0 || together.variance <= 0.0 {
            return None;
        }
        let size = sizes(units);
        let mut residuals = together.residuals(units, &centred(units, &size));
        let total = |y: &[f64]| y.iter().map(|y| y * y).sum::<f64>();
        let leans: Vec<(Vec<f64>, f64)> = pairs.iter().map(Pair::lean).collect();
        let cells = cells_of(&units.cell);
        let mut random = Random::stream(seed, "permute residuals");
        let mut largest = vec![f64::INFINITY];
        for _ in 0..draws {
            for rows in &cells {
                for k in (1..rows.len()).rev() {
                    let other = random.count([0, u32::try_from(k).unwrap_or(u32::MAX)]) as usize;
                    residuals.swap(rows[k], rows[other]);
                }
            }
            let left = total(&residuals) - together.between(units, &residuals, &units.group);
            let variance = (left / together.degrees).max(0.0);
            let t = pairs.iter().zip(&leans).filter(|(_, (_, weight))| *weight > 0.0).map(
                |(pair, (lean, weight))| {
                    let sum: f64 = lean.iter().zip(&pair.unit).map(|(z, &i)| z * residuals[i]).sum();
                    (sum * sum / (weight * variance)).sqrt()
                },
            );
            largest.push(t.fold(0.0, f64::max));
        }
        largest.sort_by(|x, y| y.total_cmp(x));
        Some(Self { largest, sd: together.variance.sqrt() })
    }

    /// Standard error of a pair's difference.
    pub(super) fn error(&self, weight: f64) -> f64 {
        self.sd / weight.sqrt()
    }

    /// p of no difference, for that t of a pair.
    pub(super) fn p(&self, t: f64) -> Estimate {
        let n = self.largest.len() as f64;
        let p = self.largest.partition_point(|largest| *largest >= t.abs()) as f64 / n;
        Estimate::new(p, (p * (1.0 - p) / (n - 1.0)).sqrt())
    }

    /// The largest t with a p above `outside`.
    pub(super) fn reach(&self, outside: f64) -> f64 {
        let k = (outside * (1.0 + 1e-9) * self.largest.len() as f64) as usize;
        self.largest.get(k).copied().unwrap_or(0.0)
    }
}
