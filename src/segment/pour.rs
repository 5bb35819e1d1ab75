//! Pours and rests.

use crate::estimate::Estimate;
use crate::model::burst::Burst;
use crate::rows::{rows, words};
use crate::segment::fitted::Fit;
use serde::{Deserialize, Serialize};

const FITTED: &str = "from the fitted flow, the scale's lag taken out";
const EDGES: &str = "both edges are in the log";

rows! { $
/// One pour. Times are true times at the bed: the scale's lag is taken out.
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
        valid: "the log holds the rest before; known several times better than start_s",
        rank: 3,
    },
    /// Last instant at half of the pour's median flow, s.
    pub half_fall_s: Estimate {
        formula: FITTED,
        valid: "the log holds the rest after; known several times better than end_s",
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

    /// Whether a burst is of this pour: the middle of one lies in the other. Somebody may have cut a pour into parts.
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
/// use pourline::{ConditionOptions, LagSource, Pour, Recipe, Rest, SegmentOptions, Segments, condition, segment, simulate};
/// let (log, truth) = simulate(&Recipe::default(), 7)?;
/// let trace = condition(&log, &ConditionOptions::default())?;
/// let found: Segments = segment(&trace, &SegmentOptions::default())?;
/// let (pour, rest): (&Pour, &Rest) = (&found.pours[0], &found.rests[0]);
/// assert_eq!(found.pours.len(), truth.pours.len());
/// assert!((pour.mass_g.value - truth.pours[0].mass_g).abs() < 1.0);
/// assert_eq!(rest.start_s, pour.end_s);
/// assert_eq!(found.lag_source, LagSource::Estimated);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Segments {
    /// The pours, in order.
    pub pours: Vec<Pour>,
    /// The rests, one fewer than the pours.
    pub rests: Vec<Rest>,
    /// Time constant of the scale's lag, s: as given, or estimated from all edges of the log together.
    pub scale_lag_s: Estimate,
    /// Where the lag comes from: `given`, `estimated`, or `expected` where the log has no edge to tell.
    pub lag_source: LagSource,
    /// Lead of the reading by the force of the stream, s: its speed at the bed over g, as given or seen in this log.
    pub stream_lead_s: Maybe,
    /// The shapes and the covariances that the pours were read from; `flow` goes on from them.
    pub(crate) fit: Option<Fit>,
}
}

words! {
/// Where the lag comes from.
pub enum LagSource {
    /// Given as an option.
    Given = "given",
    /// Estimated from the edges of this log.
    Estimated = "estimated",
    /// What kitchen scales usually show: this log has no edge to tell.
    Expected = "expected",
}
}
