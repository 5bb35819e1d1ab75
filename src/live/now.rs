//! The state of a brew at one sample.

use crate::estimate::Estimate;
use crate::rows::{rows, words};
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

words! {
/// What became of a sample, as far as is known when it comes.
pub enum LiveFlag {
    /// Used.
    Used = "used",
    /// Used, and the first after a pause longer than `gap_s`.
    AfterGap = "after_gap",
    /// No reading.
    Missing = "missing",
    /// Its stamp is not later than that of a sample before it.
    Late = "late",
    /// No stream could have brought the reading there: knock, lift, zero key, added load; or it still settles.
    Off = "off",
}
}

rows! { $
/// What is known at a sample of a brew that is being poured. All of it is provisional.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LiveState {
    /// Stamp of the sample, s.
    pub time_s: f64,
    /// What became of the sample.
    ///
    /// `used`, `after_gap`, `missing`, `late` (its stamp), or `off` (a knock, a lift, the zero key).
    pub flag: LiveFlag,
    /// Water on the scale now, g, from 0 at the first sample: noise, lag and jumps of level taken out.
    ///
    /// A slow drift of zero is in it.
    pub water_g: Estimate,
    /// Flow of water at the bed now, g/s.
    pub flow_g_per_s: Estimate,
    /// Whether water arrives: `pouring` or `rest`.
    pub state: LivePhase,
    /// Mass of all pours so far, the one that runs included, g.
    pub poured_g: f64,
    /// Start of a pour, s, at the sample at which it is called; else None.
    pub began: Option<f64>,
    /// End of a pour, s, at the sample at which it is called; else None.
    pub ended: Option<f64>,
    /// Start of a pour, s, that was called and is withdrawn, at the sample at which that is seen; else None.
    pub withdrawn: Option<f64>,
    /// Whether later samples may still change these values: true until the log is whole.
    pub provisional: bool,
}
}
