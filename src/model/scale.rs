//! How a scale shows a load: a first-order lag, and the force of the stream.

use serde::{Deserialize, Serialize};

/// How the scale sees what happens on it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Scale {
    /// Time constant of its lag, s.
    pub tau_s: f64,
    /// Speed of the stream at the bed over g, s; 0 where its force is not seen.
    pub lead_s: f64,
}
