//! Pours and rests.

use crate::estimate::{Estimate, Undefined};
use crate::model::burst::Burst;
use crate::model::response::ScaleResponse;
use crate::rows::rows;
use crate::segment::covariance::Covariance;
use crate::segment::fitted::Fit;
use crate::segment::options::SegmentOptions;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

const FITTED: &str = "from the fitted flow, corrected for the scale's delay";
const EDGES: &str = "both edges are in the log";
const REGIME: &str = "the readings support the change of flow: log Bayes factor above 5";
const HALF_EDGES: &str = "both edges are in the log and the mean flow is at least 1.2 g/s; their sd is several times \
                          smaller than that of start_s and end_s";

rows! { $
/// A stretch of a pour with one level of flow, between changes of that level.
///
/// ```
/// use pourline::{FlowRegime, Options, Recipe, analyze, simulate};
/// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// let pour = &brew.segments.pours[0];
/// let regimes: &[FlowRegime] = &pour.flow_regimes;
/// assert_eq!(regimes[0].start_s, pour.start_s);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FlowRegime {
    /// Start of the stretch, s: that of the pour, or the middle of a change of its flow.
    pub start_s: Estimate {
        name: "regime_start_s",
        formula: FITTED,
        valid: REGIME,
    },
    /// End of the stretch, s.
    pub end_s: Estimate {
        name: "regime_end_s",
        formula: FITTED,
        valid: REGIME,
    },
    /// Water that arrived in the stretch, g.
    pub mass_g: Estimate {
        name: "regime_mass_g",
        formula: "integral of Q from regime_start_s to regime_end_s",
        valid: REGIME,
    },
    /// Flow of the stretch away from its ends, g/s.
    ///
    /// The mean over time from 0.5 s after its start to 0.5 s before its end; of a stretch shorter than 2 s, the middle
    /// half.
    pub flow_g_per_s: Estimate {
        name: "regime_flow_g_per_s",
        formula: "mean of Q from 0.5 s after regime_start_s to 0.5 s before regime_end_s; under 2 s, of the middle half",
        valid: REGIME,
    },
}
}

rows! { $
/// One pour. Times are those at the bed, corrected for the scale's delay.
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
    /// First instant at half of the pour's mean flow, s.
    ///
    /// Undefined if half of that flow hardly passes `flow_g_per_s` of the options.
    pub half_rise_s: Maybe {
        formula: FITTED,
        valid: HALF_EDGES,
        rank: 3,
    },
    /// Last instant at half of the pour's mean flow, s.
    pub half_fall_s: Maybe {
        formula: FITTED,
        valid: HALF_EDGES,
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
    /// Stretches of different flow in a pour that goes on, in order; one if the level of the flow does not change.
    #[serde(default)]
    pub flow_regimes: Vec<FlowRegime>,
}
}

/// Half of a pour's mean flow is at least this many times the least flow of a pour: below, half-rise and start are one
/// instant within their sd.
const HALF_OVER_LEAST: f64 = 1.2;

/// Refuses half-edges of a pour with a small mean flow.
pub(crate) fn has_halves(mean_flow_g_per_s: f64, o: &SegmentOptions) -> std::result::Result<(), Undefined> {
    let least_g_per_s = HALF_OVER_LEAST * o.flow_g_per_s / o.half;
    if mean_flow_g_per_s >= least_g_per_s {
        return Ok(());
    }
    Err(Undefined::because(format!(
        "the mean flow of {mean_flow_g_per_s:.2} g/s is below {least_g_per_s:.1} g/s: half of it hardly passes the \
         {} g/s at which a pour starts",
        o.flow_g_per_s
    )))
}

impl Pour {
    /// Mass over duration, g/s.
    pub(crate) fn mean_flow(mass_g: Estimate, duration_s: Estimate) -> Estimate {
        mass_g.over(duration_s)
    }

    /// One regime, that of the whole pour.
    pub(crate) fn one_regime(&self) -> Vec<FlowRegime> {
        vec![FlowRegime {
            start_s: self.start_s,
            end_s: self.end_s,
            mass_g: self.mass_g,
            flow_g_per_s: self.mean_flow_g_per_s,
        }]
    }

    /// Whether a burst belongs to this pour: the middle of one lies in the other. A person may have split a
    /// pour.
    pub(crate) fn has(&self, burst: &Burst) -> bool {
        let own = f64::midpoint(self.start_s.value, self.end_s.value);
        (self.start_s.value < burst.middle_s() && burst.middle_s() < self.end_s.value)
            || (burst.rise.at_s < own && own < burst.fall.at_s)
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
/// The pours and rests of a brew, and the response of the scale.
///
/// ```
/// use pourline::{ConditionOptions, Pour, Recipe, ResponseSource, Rest, SegmentOptions, Segments};
/// use pourline::{condition, segment, simulate};
/// let (log, truth) = simulate(&Recipe::default(), 7)?;
/// let trace = condition(&log, &ConditionOptions::default())?;
/// let segments: Segments = segment(&trace, &SegmentOptions::default())?;
/// let (pour, rest): (&Pour, &Rest) = (&segments.pours[0], &segments.rests[0]);
/// assert_eq!(segments.pours.len(), truth.pours.len());
/// assert!((pour.mass_g.value - truth.pours[0].mass_g).abs() < 1.0);
/// assert_eq!(rest.start_s, pour.end_s);
/// assert_eq!(segments.response.source, ResponseSource::Estimated);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Segments {
    /// The pours, in order.
    pub pours: Vec<Pour>,
    /// The rests, one fewer than the pours.
    pub rests: Vec<Rest>,
    /// How the scale shows a load: given, or estimated jointly from all edges of the log.
    pub response: ScaleResponse,
    /// Lead of the reading due to the stream's force, s: its speed at the bed over g, given or estimated.
    pub stream_lead_s: Maybe,
    /// Joint covariance of the edges and masses of all pours.
    #[serde(default)]
    pub covariance: Covariance,
    /// The fitted bursts and their covariances, from which the pours are derived; the input of `flow`.
    pub(crate) fit: Option<Arc<Fit>>,
}
}

impl Segments {
    /// Instant of the log from which people count: the start of the first pour, or 0 without a pour, s.
    pub(crate) fn time_zero_s(&self) -> f64 {
        self.pours.first().map_or(0.0, |pour| pour.start_s.value)
    }
}
