//! Options of the stage, with their ranges.

use crate::error::{Error, Result};
use serde::{Deserialize, Serialize};

/// Options of [`metrics`](fn@crate::metrics).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MetricsOptions {
    /// The plateau lasts from the first to the last instant at which the flow is at least this fraction of the
    /// pour's median flow; 0.5 to 1.
    pub plateau: f64,
    /// Flow within this fraction of the plateau flow counts as near it; above 0, at most 1.
    pub near: f64,
    /// A pause in a pour is a stretch with less flow than this, g/s; above 0, at most 5.
    pub pause_flow_g_per_s: f64,
    /// Highest frequency of the flow model, Hz; 0.5 to 10, and never above half of the log's rate.
    pub fastest_hz: f64,
    /// Prior median of `flow_cv`; above 0, at most 1.
    pub usual_flow_cv: f64,
    /// An oscillation is reported if its false-alarm probability is at most this; above 0, at most 0.5.
    pub false_alarm: f64,
    /// Number of samples from the posterior; 16 to 10000. The relative error of the sd is 1/sqrt(2 draws).
    pub draws: usize,
}

impl Default for MetricsOptions {
    fn default() -> Self {
        Self {
            plateau: 0.9,
            near: 0.1,
            pause_flow_g_per_s: 0.5,
            fastest_hz: 2.5,
            usual_flow_cv: 0.06,
            false_alarm: 0.01,
            draws: 64,
        }
    }
}

impl MetricsOptions {
    /// Whether every option is in its range.
    ///
    /// # Errors
    /// `out_of_range`, naming the option.
    pub fn check(&self) -> Result<()> {
        let above_0 = f64::MIN_POSITIVE;
        let rules = [
            ("metrics.plateau", self.plateau, 0.5, 1.0, "it must be 0.5 to 1"),
            ("metrics.near", self.near, above_0, 1.0, "it must be above 0 and at most 1"),
            (
                "metrics.pause_flow_g_per_s",
                self.pause_flow_g_per_s,
                above_0,
                5.0,
                "it must be above 0 and at most 5 g/s",
            ),
            ("metrics.fastest_hz", self.fastest_hz, 0.5, 10.0, "it must be 0.5 to 10 Hz"),
            ("metrics.usual_flow_cv", self.usual_flow_cv, above_0, 1.0, "it must be above 0 and at most 1"),
            ("metrics.false_alarm", self.false_alarm, above_0, 0.5, "it must be above 0 and at most 0.5"),
            ("metrics.draws", self.draws as f64, 16.0, 1e4, "it must be 16 to 10000"),
        ];
        for (name, value, low, high, rule) in rules {
            if !(low..=high).contains(&value) {
                return Err(Error::OutOfRange { name: name.into(), value, rule: rule.into(), row: 0 });
            }
        }
        Ok(())
    }
}
