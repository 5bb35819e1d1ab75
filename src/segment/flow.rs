//! In: a [`Trace`] and its [`Segments`]. Out: a [`Flow`] on the log's own stamps, with sd, corrected for the
//! scale's lag.
//!
//! The flow is that of the fitted bursts plus the smoothed deviation from them; at rest its prior is nearly 0.
//! Its sd combines the smoother's with that of the edges.

use crate::condition::trace::{ChannelTrace, Flag, Trace};
use crate::error::{Error, Result};
use crate::model::burst::Burst;
use crate::rows::rows;
use crate::segment::fitted::{Fit, Group};
use crate::segment::pour::Segments;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// Prior sd of the flow at rest, g/s: a guess, small compared with the 0.5 g/s that define a pour.
const REST_FLOW_G_PER_S: f64 = 0.05;

rows! { $
/// Flow at each stamp of the trace, corrected for the scale's lag; each array has the trace's length.
///
/// Before the brew starts the flow is 0 and its sd is NaN.
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
    /// Water poured so far, g, smoothed and corrected for the lag.
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
/// let water: Flow = flow(&trace, &segments)?;
/// assert_eq!(water.flow_g_per_s.len(), trace.time_s.len());
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `column` if the trace has no water channel.
pub fn flow(trace: &Trace, segments: &Segments) -> Result<Flow> {
    let Some(water) = &trace.water else {
        return Err(Error::Column { message: "flow needs the water channel, and this log has none".into() });
    };
    Ok(smooth(trace, water, segments))
}

fn smooth(trace: &Trace, water: &ChannelTrace, segments: &Segments) -> Flow {
    let n = trace.time_s.len();
    let first = trace.time_s.partition_point(|&t| t < trace.brew_start_s);
    let mut out = Flow {
        time_s: trace.time_s.clone(),
        flow_g_per_s: vec![0.0; n],
        flow_sd_g_per_s: vec![f64::NAN; n],
        water_g: vec![0.0; n],
        water_sd_g: vec![f64::NAN; n],
    };
    let Some(fit) = &segments.fit else {
        out.flow_sd_g_per_s[first..].fill(REST_FLOW_G_PER_S);
        out.water_sd_g[first..].fill(water.noise_sd_g.value);
        return out;
    };
    let time = &trace.time_s[first..];
    let base = fit.groups.first().map_or(0.0, |g| g.base_g);
    let explained = explained(fit, time);
    let deviation: Vec<f64> = (first..n)
        .map(|i| match water.flag[i] {
            Flag::Used => water.mass_g[i] - base - explained[i - first],
            _ => f64::NAN,
        })
        .collect();
    let mut disturbance = fit.disturbance;
    disturbance.rest_flow_g_per_s = REST_FLOW_G_PER_S;
    let stretches: Vec<_> = fit.groups.iter().flat_map(Group::stretches).collect();
    for (k, s) in disturbance.smooth(time, &stretches, &deviation).iter().enumerate() {
        out.flow_g_per_s[first + k] = s.flow_g_per_s;
        // A variance until those of the groups are added.
        out.flow_sd_g_per_s[first + k] = s.flow_var;
        out.water_g[first + k] = s.water_g;
        out.water_sd_g[first + k] = s.water_var.sqrt();
    }
    let mut poured = Poured::new(time.len());
    for group in &fit.groups {
        let bursts = blur(group);
        for k in poured.transient(&bursts, 0.0, time) {
            let (i, t) = (first + k, time[k]);
            out.flow_g_per_s[i] += bursts.iter().map(|b| b.flow_at(t)).sum::<f64>();
            poured.transient_g[k] += bursts.iter().map(|b| b.water_at(t)).sum::<f64>();
            if !group.covariance.is_empty() {
                out.flow_sd_g_per_s[i] += group.variance(&gradient(&bursts, t));
            }
        }
    }
    out.water_g[first..].iter_mut().zip(poured.all()).for_each(|(w, poured)| *w += poured);
    out.flow_g_per_s[first..].iter_mut().for_each(|q| *q = q.max(0.0));
    out.flow_sd_g_per_s[first..].iter_mut().for_each(|q| *q = q.sqrt());
    out
}

/// Water of bursts at each stamp: the transient of each burst, and its mass from its end on.
struct Poured {
    transient_g: Vec<f64>,
    settled_g: Vec<f64>,
}

impl Poured {
    fn new(stamps: usize) -> Self {
        Self { transient_g: vec![0.0; stamps], settled_g: vec![0.0; stamps + 1] }
    }

    /// The stamps from the start of a group's bursts to `after_s` after their end; later stamps get their whole
    /// mass.
    fn transient(&mut self, bursts: &[Burst], after_s: f64, time_s: &[f64]) -> Range<usize> {
        let start = bursts.iter().map(Burst::start_s).fold(f64::INFINITY, f64::min);
        let end = bursts.iter().map(Burst::end_s).fold(f64::NEG_INFINITY, f64::max) + after_s;
        let from = time_s.partition_point(|&t| t < start);
        let to = time_s.partition_point(|&t| t < end).max(from);
        self.settled_g[to] += bursts.iter().map(Burst::mass_g).sum::<f64>();
        from..to
    }

    fn all(self) -> Vec<f64> {
        let mut settled_g = 0.0;
        let sum = |(now, done): (f64, f64)| {
            settled_g += done;
            now + settled_g
        };
        self.transient_g.into_iter().zip(self.settled_g).map(sum).collect()
    }
}

/// Reading of all bursts at each stamp.
fn explained(fit: &Fit, time_s: &[f64]) -> Vec<f64> {
    /// After so many time constants the rest of the lag is below the last digit.
    const SETTLED: f64 = 40.0;
    let scale = fit.disturbance.scale;
    let mut read = Poured::new(time_s.len());
    for group in &fit.groups {
        for k in read.transient(&group.bursts, SETTLED * scale.tau_s, time_s) {
            read.transient_g[k] +=
                group.bursts.iter().map(|b| b.reading(time_s[k], scale).value_g).sum::<f64>();
        }
    }
    read.all()
}

/// The bursts of a group with ramps widened by the sd of their instants: the mean flow, not the mode.
fn blur(group: &Group) -> Vec<Burst> {
    let unit = |k: usize| {
        let mut g = vec![0.0; 5 * group.bursts.len() + 3];
        g[k] = 1.0;
        if group.covariance.is_empty() { 0.0 } else { group.variance(&g) }
    };
    let widen = |(k, b): (usize, &Burst)| {
        let wide = |ramp: f64, at: usize| (ramp * ramp + 12.0 * unit(at)).sqrt();
        Burst {
            rise_ramp_s: wide(b.rise_ramp_s, 1 + 5 * k),
            fall_ramp_s: wide(b.fall_ramp_s, 3 + 5 * k),
            ..*b
        }
    };
    group.bursts.iter().enumerate().map(widen).collect()
}

fn gradient(bursts: &[Burst], t_s: f64) -> Vec<f64> {
    let own = bursts.iter().flat_map(|b| b.flow_gradient(t_s));
    std::iter::once(0.0).chain(own).chain([0.0, 0.0]).collect()
}
