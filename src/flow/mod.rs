//! In: a [`Trace`] and its [`Segments`]. Out: a [`Flow`] on the log's own stamps, with sd, the scale's
//! lag taken out.
//!
//! The flow is that of the fitted bursts plus what a smoother finds of the hand's unsteadiness around them; at rest nearly none is
//! expected. Its sd joins the smoother's with what the uncertain edges add.

mod smooth;

use crate::rows::rows;
use crate::{Error, Result, Segments, Trace};
use serde::{Deserialize, Serialize};

rows! { $
/// Flow at each stamp of the trace, the scale's lag taken out; each array has the trace's length.
///
/// Before the brew starts the flow is 0 and its sd NaN: nothing is claimed there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Flow {
    /// Stamps in s.
    pub time_s: Vec<f64>,
    /// Flow of water at the bed, g/s; never below 0.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub flow_g_per_s: Vec<f64>,
    /// Its standard deviation, g/s.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub flow_sd_g_per_s: Vec<f64>,
    /// Water poured so far, g, noise and lag taken out.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub water_g: Vec<f64>,
    /// Its standard deviation, g.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub water_sd_g: Vec<f64>,
}
}

/// Flow of water over the brew.
///
/// ```
/// use pourline::{ConditionOptions, Flow, Recipe, SegmentOptions, condition, flow, segment, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// let trace = condition(&log, &ConditionOptions::default())?;
/// let segments = segment(&trace, &SegmentOptions::default())?;
/// let found: Flow = flow(&trace, &segments)?;
/// assert_eq!(found.flow_g_per_s.len(), trace.time_s.len());
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `column` where the trace has no water channel.
pub fn flow(trace: &Trace, segments: &Segments) -> Result<Flow> {
    let Some(water) = &trace.water else {
        return Err(Error::Column { message: "flow needs the water channel, and this log has none".into() });
    };
    Ok(smooth::smooth(trace, water, segments))
}
