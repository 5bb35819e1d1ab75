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
/// assert_eq!((pour.time_near_plateau_pct, pour.pauses), (None, None));
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
    /// Steadiness: least share of the time near the pour's own plateau flow, percent; None for any.
    ///
    /// Above 0, at most 100.
    pub time_near_plateau_pct: Option<f64>,
    /// Tolerance of the steadiness, below, percentage points.
    ///
    /// Above 0.
    pub time_near_plateau_within_pct: f64,
    /// Most pauses; None for any number.
    ///
    /// A whole number from 0.
    pub pauses: Option<f64>,
}
}

impl PlannedPour {
    /// A pour of any flow and steadiness, with the tolerances 3 s, 3 g, 0.5 g/s and 10 percentage points.
    #[must_use]
    pub const fn new(start_s: f64, mass_g: f64) -> Self {
        Self {
            start_s,
            start_within_s: 3.0,
            mass_g,
            mass_within_g: 3.0,
            flow_g_per_s: None,
            flow_within_g_per_s: 0.5,
            time_near_plateau_pct: None,
            time_near_plateau_within_pct: 10.0,
            pauses: None,
        }
    }

    pub(super) fn numbers(&self) -> [(&'static str, Option<f64>); 9] {
        [
            ("start_s", Some(self.start_s)),
            ("start_within_s", Some(self.start_within_s)),
            ("mass_g", Some(self.mass_g)),
            ("mass_within_g", Some(self.mass_within_g)),
            ("flow_g_per_s", self.flow_g_per_s),
            ("flow_within_g_per_s", Some(self.flow_within_g_per_s)),
            ("time_near_plateau_pct", self.time_near_plateau_pct),
            ("time_near_plateau_within_pct", Some(self.time_near_plateau_within_pct)),
            ("pauses", self.pauses),
        ]
    }
}
