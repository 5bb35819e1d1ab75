//! In: a [`Trace`](crate::Trace). Out: [`Segments`]: the pours and the rests, each number with its sd.

mod pour;
pub use pour::{LagSource, Pour, Rest, Segments};

use serde::{Deserialize, Serialize};

/// Options of [`segment`]: the four numbers that define a pour, and what is expected of a hand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SegmentOptions {
    /// Water arrives when the flow is above this, g/s; above 0, at most 5.
    pub flow_g_per_s: f64,
    /// Pauses shorter than this belong to the pour, s; 0 to 10.
    pub pause_s: f64,
    /// A pour has at least this mass, g; above 0.
    pub mass_g: f64,
    /// Share of the pour's median flow at which half-rise and half-fall are taken; 0.2 to 0.8.
    pub half: f64,
    /// What is expected of the time that a hand takes from no flow to full flow, s; above 0.
    pub ramp_s: f64,
    /// How much that time varies, sd in s; above 0.
    pub ramp_sd_s: f64,
}

impl Default for SegmentOptions {
    fn default() -> Self {
        Self { flow_g_per_s: 0.5, pause_s: 1.0, mass_g: 2.0, half: 0.5, ramp_s: 0.4, ramp_sd_s: 0.2 }
    }
}
