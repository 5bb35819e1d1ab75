//! One planned pour.

use crate::rows::rows;
use serde::{Deserialize, Serialize};

rows! { $
/// One pour as it is planned: targets, each with its tolerance to either side.
///
/// ```
/// use pourline::PlannedPour;
/// let pour = PlannedPour { flow_g_per_s: Some(5.0), ..PlannedPour::new(45.0, 60.0) };
/// assert_eq!((pour.start_within_s, pour.mass_within_g, pour.flow_within_g_per_s), (3.0, 3.0, 0.5));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedPour {
    /// Start relative to that of the plan's first pour, s; 0 for that one.
    pub start_s: f64,
    /// Tolerance of the start, to either side, s.
    ///
    /// Above 0.
    pub start_within_s: f64,
    /// Mass of this pour alone, g.
    ///
    /// Above 0.
    pub mass_g: f64,
    /// Tolerance of the mass, to either side, g.
    ///
    /// Above 0.
    pub mass_within_g: f64,
    /// Flow on the plateau, g/s; None for any.
    ///
    /// Above 0.
    pub flow_g_per_s: Option<f64>,
    /// Tolerance of the flow, to either side, g/s.
    ///
    /// Above 0.
    pub flow_within_g_per_s: f64,
}
}

impl PlannedPour {
    /// A pour of any flow, with the tolerances 3 s, 3 g and 0.5 g/s.
    #[must_use]
    pub const fn new(start_s: f64, mass_g: f64) -> Self {
        Self {
            start_s,
            start_within_s: 3.0,
            mass_g,
            mass_within_g: 3.0,
            flow_g_per_s: None,
            flow_within_g_per_s: 0.5,
        }
    }

    pub(super) fn numbers(&self) -> [(&'static str, Option<f64>); 6] {
        [
            ("start_s", Some(self.start_s)),
            ("start_within_s", Some(self.start_within_s)),
            ("mass_g", Some(self.mass_g)),
            ("mass_within_g", Some(self.mass_within_g)),
            ("flow_g_per_s", self.flow_g_per_s),
            ("flow_within_g_per_s", Some(self.flow_within_g_per_s)),
        ]
    }
}
