//! Pours and rests.

use crate::estimate::Estimate;
use crate::model::burst::Burst;
use crate::rows::{rows, words};
use crate::segment::fitted::Fit;
use serde::{Deserialize, Serialize};

const FITTED: &str = "from the fitted flow, corrected for the scale's lag";
const EDGES: &str = "both edges are in the log";

rows! { $
/// One pour. Times are those at the bed, corrected for the scale's lag.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pour {
    /// First instant at which the flow at the bed passes 0.5 g/s, s.
    ///
    /// That flow is `flow_g_per_s` of the options.
    pub start_s: Estimate {
        formula: FITTED,
        valid: "the log holds the rest before",
    },
    /// Last instant at which the flow at the bed passes 0.5 g/s, s.
    pub end_s: Estimate {
        formula: FITTED,
        valid: "the log holds the rest after",
    },
    /// First instant at half of the pour's median flow, s.
    pub half_rise_s: Estimate {
        formula: FITTED,
        valid: "the log holds the rest before; its sd is several times smaller than that of start_s",
        rank: 3,
    },
    /// Last instant at half of the pour's median flow, s.
    pub half_fall_s: Estimate {
        formula: FITTED,
        valid: "the log holds the rest after; its sd is several times smaller than that of end_s",
        rank: 3,
    },
    /// Water that arrived in the pour, g.
    pub mass_g: Estimate {
        formula: "level after less level before",
        valid: "nothing else touches the scale meanwhile",
        reference: "mass balance",
        rank: 2,
    },
    /// Mean flow of the pour, g/s.
    pub mean_flow_g_per_s: Estimate {
        formula: "mass_g / duration_s",
        valid: EDGES,
        rank: 2,
    },
    /// Time from start to end, s.
    pub duration_s: Estimate {
        formula: "end_s - start_s",
        valid: EDGES,
        rank: 1,
    },
}
}

impl Pour {
    /// Mass over duration, g/s.
    pub(crate) fn mean_flow(mass_g: Estimate, duration_s: Estimate) -> Estimate {
        mass_g.over(duration_s)
    }

    /// Whether a burst belongs to this pour: the middle of one lies in the other. A person may have split a
    /// pour.
    pub(crate) fn has(&self, burst: &Burst) -> bool {
        let middle = f64::midpoint(burst.rise_s, burst.fall_s);
        let own = f64::midpoint(self.start_s.value, self.end_s.value);
        (self.start_s.value < middle && middle < self.end_s.value)
            || (burst.rise_s < own && own < burst.fall_s)
    }
}

rows! { $
/// One rest: between the end of a pour and the start of the next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rest {
    /// End of the pour before, s.
    pub start_s: Estimate,
    /// Start of the pour after, s.
    pub end_s: Estimate,
    /// Duration, s.
    pub duration_s: Estimate,
}
}

rows! { $
/// The pours and rests of a brew, and the lag of the scale.
///
/// ```
/// use pourline::{ConditionOptions, LagSource, Pour, Recipe, Rest, SegmentOptions, Segments};
/// use pourline::{condition, segment, simulate};
/// let (log, truth) = simulate(&Recipe::default(), 7)?;
/// let trace = condition(&log, &ConditionOptions::default())?;
/// let segments: Segments = segment(&trace, &SegmentOptions::default())?;
/// let (pour, rest): (&Pour, &Rest) = (&segments.pours[0], &segments.rests[0]);
/// assert_eq!(segments.pours.len(), truth.pours.len());
/// assert!((pour.mass_g.value - truth.pours[0].mass_g).abs() < 1.0);
/// assert_eq!(rest.start_s, pour.end_s);
/// assert_eq!(segments.lag_source, LagSource::Estimated);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Segments {
    /// The pours, in order.
    pub pours: Vec<Pour>,
    /// The rests, one fewer than the pours.
    pub rests: Vec<Rest>,
    /// Time constant of the scale's lag, s: as given, or estimated jointly from all edges of the log.
    pub scale_lag_s: Estimate,
    /// Source of the lag: `given`, `estimated`, or `expected` if the log has no edge to estimate it from.
    pub lag_source: LagSource,
    /// Lead of the reading due to the stream's force, s: its speed at the bed over g, given or estimated.
    pub stream_lead_s: Maybe,
    /// The fitted bursts and their covariances, from which the pours are derived; the input of `flow`.
    pub(crate) fit: Option<Fit>,
}
}

words! {
/// Source of the lag.
pub enum LagSource {
    /// Given as an option.
    Given = "given",
    /// Estimated from the edges of this log.
    Estimated = "estimated",
    /// Prior for a kitchen scale: this log has no edge to estimate it from.
    Expected = "expected",
}
}
