//! The state of a brew at one sample.

use crate::estimate::Estimate;
use serde::{Deserialize, Serialize};

/// Whether water arrives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LivePhase {
    /// No pour runs.
    Rest,
    /// A pour runs.
    Pouring {
        /// Which one, from 1.
        pour: usize,
        /// When it began, s.
        start_s: f64,
        /// What it has brought so far, g.
        mass_g: f64,
    },
}

/// Use of a sample, as far as it is known when the sample arrives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LiveFlag {
    /// Used.
    Used,
    /// Used, and the first after a pause longer than `gap_s`.
    AfterGap,
    /// No reading.
    Missing,
    /// Its stamp is not later than that of a sample before it.
    Late,
    /// No stream could have brought the reading there: a knock, a lift, the zero key, something put on; or it still settles after that.
    Off,
}

/// What is known at a sample.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LiveState {
    /// Stamp of the sample, s.
    pub time_s: f64,
    /// What became of it.
    pub flag: LiveFlag,
    /// Water on the scale now, g, from 0 at the first sample: noise, lag, jumps of level taken out. A slow drift of zero is in it.
    pub water_g: Estimate,
    /// Flow of water at the bed now, g/s.
    pub flow_g_per_s: Estimate,
    /// Whether water arrives.
    pub state: LivePhase,
    /// Mass of all pours so far, the one that runs included, g.
    pub poured_g: f64,
    /// Start of a pour, s, at the sample at which it is called.
    pub began: Option<f64>,
    /// End of a pour, s, at the sample at which it is called.
    pub ended: Option<f64>,
    /// Start of a pour, s, that had been called and was none, at the sample at which this is seen.
    pub withdrawn: Option<f64>,
    /// Whether later samples may still change what is said here: true until the log is whole.
    pub provisional: bool,
}
