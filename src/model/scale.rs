//! How a scale shows a load: a first-order lag, and the force of the stream.

use serde::{Deserialize, Serialize};

/// The scale's response to a load.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Scale {
    /// Time constant of its lag, s.
    pub tau_s: f64,
    /// Speed of the stream at the bed over g, s; 0 if its force does not reach the scale.
    pub lead_s: f64,
}
