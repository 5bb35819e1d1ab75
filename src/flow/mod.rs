//! In: a Trace and its Segments. Out: a [`Flow`] on the log's own stamps, with sd, the scale's lag taken out.

use serde::{Deserialize, Serialize};

/// Flow at each stamp of the trace. All vectors have the trace's length.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Flow {
    /// Stamps in s.
    pub time_s: Vec<f64>,
    /// Flow of water at the bed, g/s.
    pub flow_g_per_s: Vec<f64>,
    /// Its standard deviation, g/s.
    pub flow_sd_g_per_s: Vec<f64>,
    /// Water poured so far, g, noise and lag taken out.
    pub water_g: Vec<f64>,
    /// Its standard deviation, g.
    pub water_sd_g: Vec<f64>,
}
