//! Options of the stage, with their ranges.

use crate::error::{Error, Result};
use crate::segment::options::SegmentOptions;
use serde::{Deserialize, Serialize};

/// Options of [`metrics`](fn@crate::metrics).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MetricsOptions {
    /// The plateau lasts from this long after half-rise to as long before half-fall, s; 0.1 to 10.
    pub plateau_inset_s: f64,
    /// Flow within this fraction of the plateau flow counts as near it; above 0, at most 1.
    pub near: f64,
    /// A pause in a pour is a stretch with less flow than this, g/s; above 0, at most 5.
    pub pause_flow_g_per_s: f64,
    /// Highest frequency of the flow model, Hz; 0.5 to 10, and never above half of the log's rate.
    pub fastest_hz: f64,
    /// An oscillation is reported if its false-alarm probability is at most this; above 0, at most 0.5.
    pub false_alarm: f64,
}

impl Default for MetricsOptions {
    fn default() -> Self {
        Self { plateau_inset_s: 0.5, near: 0.1, pause_flow_g_per_s: 0.5, fastest_hz: 2.5, false_alarm: 0.01 }
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
            ("metrics.plateau_inset_s", self.plateau_inset_s, 0.1, 10.0, "it must be 0.1 to 10 s"),
            ("metrics.near", self.near, above_0, 1.0, "it must be above 0 and at most 1"),
            (
                "metrics.pause_flow_g_per_s",
                self.pause_flow_g_per_s,
                above_0,
                5.0,
                "it must be above 0 and at most 5 g/s",
            ),
            ("metrics.fastest_hz", self.fastest_hz, 0.5, 10.0, "it must be 0.5 to 10 Hz"),
            ("metrics.false_alarm", self.false_alarm, above_0, 0.5, "it must be above 0 and at most 0.5"),
        ];
        for (name, value, low, high, rule) in rules {
            if !(low..=high).contains(&value) {
                return Err(Error::OutOfRange { name: name.into(), value, rule: rule.into(), row: 0 });
            }
        }
        Ok(())
    }

    /// Whether they agree with the options that define a pour.
    ///
    /// # Errors
    /// `out_of_range` for a pause that has more flow than a pour.
    pub(crate) fn agree(&self, segment: &SegmentOptions) -> Result<()> {
        let (value, most) = (self.pause_flow_g_per_s, segment.flow_g_per_s);
        if value <= most {
            return Ok(());
        }
        let rule =
            format!("it must be at most segment.flow_g_per_s, {most} g/s: a pause has less flow than a pour");
        Err(Error::OutOfRange { name: "metrics.pause_flow_g_per_s".into(), value, rule, row: 0 })
    }
}
