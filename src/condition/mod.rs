//! In: a [`Log`](crate::Log). Out: a [`Trace`]: what the scale did that the hand did not, found, flagged and listed.

mod trace;
pub use trace::{Channel, ChannelTrace, Event, EventKind, Flag, Trace};

use serde::{Deserialize, Serialize};

/// Options of [`condition`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ConditionOptions {
    /// Time constant of the scale's first-order lag, s; 0 to 5. Absent: estimated from the log by `segment`.
    pub scale_lag_s: Option<f64>,
    /// Standard uncertainty of a given lag, s; 0 or more.
    pub scale_lag_sd_s: f64,
    /// Standard deviation of the scale's noise, g, quantisation included; above 0. Absent: estimated from the log.
    pub noise_sd_g: Option<f64>,
    /// No pour is faster than this, g/s; a quicker rise is a knock or a thing put down. 1 to 1000.
    pub max_flow_g_per_s: f64,
    /// A pause between stamps longer than this is listed as a gap, s; above 0. It is also never shorter than 3 usual intervals.
    pub gap_s: f64,
    /// Whether all before the last zeroing ahead of the brew is preparation (rinse), not brew.
    pub zeroing_starts_brew: bool,
}

impl Default for ConditionOptions {
    fn default() -> Self {
        Self {
            scale_lag_s: None,
            scale_lag_sd_s: 0.0,
            noise_sd_g: None,
            max_flow_g_per_s: 30.0,
            gap_s: 0.5,
            zeroing_starts_brew: true,
        }
    }
}
