//! The fitted log: groups of bursts, and the parameters that they share.

use crate::estimate::Estimate;
use crate::model::burst::{Burst, PARAMETERS};
use crate::model::samples::Samples;
use crate::model::scale::Scale;
use crate::model::transitions::{Disturbance, Stretch};
use serde::{Deserialize, Serialize};

/// Bursts close to each other, fitted together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Group {
    pub bursts: Vec<Burst>,
    /// Reading before the first burst, g.
    pub base_g: f64,
    /// Its samples, from..to.
    pub from: usize,
    pub to: usize,
    /// Whether it enters the fit of the scale's response. A group with excluded readings near an edge does not,
    /// so that a disturbance cannot move the edges of other pours.
    #[serde(default)]
    pub in_scale_fit: bool,
    /// Covariance of (base, bursts' parameters, logarithm of the lag, lead), row by row.
    pub covariance: Vec<f64>,
    /// Mean square of the whitened residuals, at least 1; above it the samples contradict the shape.
    pub excess: f64,
}

impl Group {
    /// Number of its own parameters: the base and five per burst.
    pub(super) fn size(&self) -> usize {
        1 + PARAMETERS * self.bursts.len()
    }

    pub(super) fn start_s(&self) -> f64 {
        self.bursts.first().map_or(f64::INFINITY, |b| b.rise_s - b.rise_ramp_s / 2.0)
    }

    pub(super) fn end_s(&self) -> f64 {
        self.bursts.last().map_or(f64::NEG_INFINITY, |b| b.fall_s + b.fall_ramp_s / 2.0)
    }

    /// Covariances of one of (base, bursts' parameters, logarithm of the lag, lead) with all of them.
    pub(super) fn row(&self, index: usize) -> &[f64] {
        let n = self.size() + 2;
        &self.covariance[n * index..][..n]
    }

    /// Variance of a quantity from its gradient by (base, bursts' parameters, logarithm of the lag, lead).
    pub(crate) fn variance(&self, gradient: &[f64]) -> f64 {
        let n = gradient.len();
        let rows = self.covariance.chunks_exact(n).zip(gradient);
        rows.map(|(row, g)| g * row.iter().zip(gradient).map(|(c, h)| c * h).sum::<f64>())
            .sum::<f64>()
            .max(0.0)
    }

    /// Reading of the base and the bursts at an instant.
    pub(crate) fn reading(&self, t_s: f64, scale: Scale) -> f64 {
        self.base_g + self.bursts.iter().map(|b| b.reading(t_s, scale).value_g).sum::<f64>()
    }

    /// Residual of the readings from the bursts, at its stamps.
    pub(super) fn deviation(&self, x: &Samples, scale: Scale) -> Vec<f64> {
        (self.from..self.to).map(|i| x.mass_g[i] - self.reading(x.time_s[i], scale)).collect()
    }

    /// Whether it enters the estimate of the hyperparameters: not a knock taken for water, nor a pour with a
    /// disturbed edge. Models that are compared must estimate them from the same pours. Otherwise the one that
    /// explains a disturbance better would get worse hyperparameters everywhere.
    pub(super) fn informs_hyperparameters(&self) -> bool {
        self.in_scale_fit && self.excess < 5.0
    }

    pub(crate) fn stretches(&self) -> Vec<Stretch> {
        let stretch =
            |b: &Burst| Stretch { start_s: b.rise_s, end_s: b.fall_s, flow_g_per_s: b.flow_g_per_s };
        self.bursts.iter().map(stretch).collect()
    }
}

/// The fitted log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Fit {
    pub groups: Vec<Group>,
    pub disturbance: Disturbance,
    /// Time constant of the scale's lag, s.
    pub tau_s: Estimate,
    /// Lead of the reading due to the stream's force, s; None if the log gives no evidence for such a force.
    pub lead_s: Option<Estimate>,
}

impl Fit {
    /// Whether its groups are within so many samples, and their covariances have the size of their parameters.
    pub(crate) fn fits(&self, samples: usize) -> bool {
        let fits = |group: &Group| {
            group.from <= group.to
                && group.to <= samples
                && group.covariance.len() == (group.size() + 2).pow(2)
        };
        self.groups.iter().all(fits)
    }
}

/// Prior of the scale: the logarithm of its lag and its lead are normal.
#[derive(Clone, Copy)]
pub(super) struct ScalePrior {
    pub log_tau_s: Estimate,
    pub lead_s: Estimate,
}
