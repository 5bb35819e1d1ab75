//! Definition of a pour, and priors of its ramps.

use crate::error::{Error, Result};
use serde::{Deserialize, Serialize};

/// Options of `segment`: the four numbers that define a pour, and the priors of its ramps.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SegmentOptions {
    /// Water arrives if the flow is above this, g/s; above 0, at most 5.
    pub flow_g_per_s: f64,
    /// Pauses shorter than this belong to the pour, s; 0 to 10.
    pub pause_s: f64,
    /// A pour has at least this mass, g; above 0.
    pub mass_g: f64,
    /// Fraction of the pour's mean flow at which half-rise and half-fall are taken; 0.2 to 0.8.
    pub half: f64,
    /// Speed of the stream at the bed over g, s, if it is known: its force reads as the flow times this. 0 to
    /// 1; 0 for none. Absent: estimated from the log.
    pub stream_lead_s: Option<f64>,
    /// Prior mean of the time from no flow to full flow, s; above 0.
    pub ramp_s: f64,
    /// Prior sd of that time, s; above 0.
    pub ramp_sd_s: f64,
}

impl Default for SegmentOptions {
    fn default() -> Self {
        Self {
            flow_g_per_s: 0.5,
            pause_s: 1.0,
            mass_g: 2.0,
            half: 0.5,
            stream_lead_s: None,
            ramp_s: 0.3,
            ramp_sd_s: 0.21,
        }
    }
}

impl SegmentOptions {
    /// Whether every option is in its range.
    ///
    /// # Errors
    /// `out_of_range`, naming the option.
    pub fn check(&self) -> Result<()> {
        let rules = [
            ("segment.flow_g_per_s", self.flow_g_per_s, 0.0, 5.0),
            ("segment.pause_s", self.pause_s, 0.0, 10.0),
            ("segment.mass_g", self.mass_g, 0.0, 1e4),
            ("segment.half", self.half, 0.2, 0.8),
            ("segment.stream_lead_s", self.stream_lead_s.unwrap_or(0.0), 0.0, 1.0),
            ("segment.ramp_s", self.ramp_s, 0.0, 10.0),
            ("segment.ramp_sd_s", self.ramp_sd_s, 0.0, 10.0),
        ];
        for (name, value, low, high) in rules {
            let zero_allowed = name.ends_with("pause_s") || name.ends_with("lead_s");
            if !(value <= high && (value > low || (zero_allowed && value == low))) {
                let rule = format!("it must be above {low} and at most {high}");
                return Err(Error::OutOfRange { name: name.into(), value, rule, row: 0 });
            }
        }
        Ok(())
    }
}
