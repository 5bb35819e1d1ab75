//! In: a [`Trace`] and its [`Segments`]. Out: a [`Flow`] on the log's own stamps, with sd, corrected for the
//! scale's delay.
//!
//! Flow and water are means of the curves drawn from each model of the scale, weighted by its probability, as the numbers
//! of the pours are; their sd is that of all curves about them.

use crate::condition::trace::Trace;
use crate::error::{Error, Result};
use crate::rows::rows;
use crate::segment::curve::Curve;
use crate::segment::observations::used;
use crate::segment::posterior::{Drawn, Posterior, mean_curve};
use crate::segment::pour::Segments;
use crate::segment::source::{LeftOut, PLATEAU_INSET_S, Source};
use serde::{Deserialize, Serialize};

/// Prior sd of the flow at rest, g/s: a guess, small compared with the 0.5 g/s that define a pour.
const REST_FLOW_G_PER_S: f64 = 0.05;

rows! { $
/// Flow at each stamp of the trace, corrected for the scale's delay; each array has the trace's length.
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
    /// What further curves are drawn from; not stored, because the brew has it.
    #[serde(skip)]
    pub(crate) source: Option<Source>,
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
    if trace.water.is_none() {
        return Err(Error::Column { message: "flow needs the water channel, and this log has none".into() });
    }
    let posterior = match (used(trace), &segments.fit) {
        (Some(x), Some(fit)) => Some(Posterior::new(&x, fit)),
        _ => None,
    };
    let mut flow = flow_of(trace, segments, posterior.as_ref());
    flow.source = Source::of(trace, segments, PLATEAU_INSET_S);
    Ok(flow)
}

/// The flow from the curves of the posterior, without its source.
pub(crate) fn flow_of(trace: &Trace, segments: &Segments, posterior: Option<&Posterior>) -> Flow {
    let n = trace.time_s.len();
    let first = trace.time_s.partition_point(|&t| t < trace.brew_start_s);
    let noise_sd_g = trace.water.as_ref().map_or(0.0, |w| w.noise_sd_g.value);
    let mut out = Flow {
        time_s: trace.time_s.clone(),
        flow_g_per_s: vec![0.0; n],
        flow_sd_g_per_s: vec![f64::NAN; n],
        water_g: vec![0.0; n],
        water_sd_g: vec![f64::NAN; n],
        source: None,
    };
    out.flow_sd_g_per_s[first..].fill(REST_FLOW_G_PER_S);
    out.water_sd_g[first..].fill(noise_sd_g);
    let (Some(posterior), Some(fit)) = (posterior, &segments.fit) else { return out };
    let zero_g2_per_s = fit.priors.zero_g2_per_s;
    let left_out = LeftOut::all(segments);
    let mut groups: Vec<GroupFlow> = posterior
        .groups
        .iter()
        .enumerate()
        .filter_map(|(k, drawn)| GroupFlow::new(k, drawn, &left_out))
        .collect();
    // Water of the groups that have ended, on each pair of curves, and the variance that these leave out.
    let mut before_g: Vec<[f64; 2]> = vec![[0.0; 2]; fit.draws.len()];
    let mut left_out_g2: f64 = 0.0;
    let mut still = moments(&before_g, &fit.weights);
    for i in first..n {
        let t = trace.time_s[i];
        for ended in groups.extract_if(.., |group| group.span_s.1 <= t) {
            for (before, d) in before_g.iter_mut().zip(ended.drawn) {
                (0..2).for_each(|k| before[k] += d.pair[k].water_g(ended.span_s.0, ended.span_s.1));
            }
            left_out_g2 += ended.beyond(f64::INFINITY).water_g2;
            still = moments(&before_g, &fit.weights);
            still.1 = still.1.hypot(left_out_g2.sqrt());
        }
        (out.water_g[i], out.water_sd_g[i]) = still;
        // Water of one group may still dribble while the next begins.
        let running: Vec<&GroupFlow> = groups.iter().filter(|group| group.span_s.0 <= t).collect();
        if running.is_empty() {
            continue;
        }
        let (mut flows, mut water) = (vec![[0.0; 2]; before_g.len()], before_g.clone());
        let (mut flow, mut water_now_g) = (0.0, still.0);
        let mut beyond = Beyond { flow_g_per_s: 0.0, water_g2: left_out_g2 };
        for group in running {
            let (own, own_g) = group.laid(t);
            (flow, water_now_g) = (flow + own, water_now_g + own_g);
            for ((flow, water), d) in flows.iter_mut().zip(&mut water).zip(group.drawn) {
                for k in [0, 1] {
                    flow[k] += d.pair[k].flow_at(t);
                    water[k] += d.pair[k].water_g(group.span_s.0, t);
                }
            }
            let own = group.beyond(t);
            beyond.flow_g_per_s = beyond.flow_g_per_s.hypot(own.flow_g_per_s);
            beyond.water_g2 += own.water_g2;
        }
        (out.flow_g_per_s[i], out.water_g[i]) = (flow, water_now_g);
        out.flow_sd_g_per_s[i] = sd_about(flow, &flows).hypot(beyond.flow_g_per_s);
        out.water_sd_g[i] = sd_about(water_now_g, &water).hypot(beyond.water_g2.sqrt());
    }
    let start_s = trace.time_s.get(first).copied().unwrap_or(0.0);
    for i in first..n {
        let walked_g2 = zero_g2_per_s * (trace.time_s[i] - start_s);
        out.water_sd_g[i] = out.water_sd_g[i].hypot(walked_g2.max(0.0).sqrt());
    }
    out
}

/// The curves of one group, when they run, and what they leave out.
struct GroupFlow<'a> {
    drawn: &'a [Drawn],
    span_s: (f64, f64),
    middle: Curve,
    left_out: Vec<&'a LeftOut>,
    /// By how much each curve is later than the mean of all, and its weight.
    later_s: Vec<(f64, f64)>,
}

impl<'a> GroupFlow<'a> {
    fn new(k: usize, drawn: &'a [Drawn], left_out: &'a [LeftOut]) -> Option<Self> {
        let (span_s, middle) = (drawn.first()?.mean.span_s(), mean_curve(drawn)?);
        let whole: f64 = drawn.iter().map(|d| d.weight).sum();
        let middle_s = drawn.iter().map(|d| d.weight * d.mean.middle_s()).sum::<f64>() / whole;
        let later_s = drawn.iter().map(|d| (d.mean.middle_s() - middle_s, d.weight / whole)).collect();
        let left_out = left_out.iter().filter(|one| one.is_of(k)).collect();
        Some(Self { drawn, span_s, middle, left_out, later_s })
    }

    /// Flow and water of the group at an instant. Curves with different delays of the scale are laid over each other
    /// first: their mean as they are would smear the edges over the instants that are stated.
    fn laid(&self, t_s: f64) -> (f64, f64) {
        self.drawn.iter().zip(&self.later_s).fold((0.0, 0.0), |(flow, water), (d, (later_s, share))| {
            let at_s = t_s + later_s;
            (flow + share * d.mean.flow_at(at_s), water + share * d.mean.water_g(self.span_s.0, at_s))
        })
    }

    fn beyond(&self, t_s: f64) -> Beyond {
        Beyond::new(&self.left_out, &self.middle, t_s)
    }
}

/// Sd of flow and variance of water at an instant that the curves of a group leave out.
struct Beyond {
    flow_g_per_s: f64,
    water_g2: f64,
}

impl Beyond {
    fn new(left_out: &[&LeftOut], middle: &Curve, t_s: f64) -> Self {
        let mut out = Self { flow_g_per_s: 0.0, water_g2: 0.0 };
        for (k, one) in left_out.iter().enumerate() {
            let (start_s, end_s) = one.edges_s();
            let water_g = one.of_mass() * middle.water_g(start_s, end_s.min(t_s));
            out.water_g2 += water_g * water_g;
            // The pour of an instant: up to the middle of the rest after it.
            let from_s = k
                .checked_sub(1)
                .map_or(f64::NEG_INFINITY, |b| f64::midpoint(left_out[b].edges_s().1, start_s));
            let to_s = left_out.get(k + 1).map_or(f64::MAX, |a| f64::midpoint(end_s, a.edges_s().0));
            if (from_s..to_s).contains(&t_s) {
                let (by_s, flow) = (one.moves_s(t_s), middle.flow_at(t_s));
                let moved = 0.5 * (middle.flow_at(t_s + by_s) - middle.flow_at(t_s - by_s));
                out.flow_g_per_s = moved.hypot(one.of_mass() * flow);
                out.water_g2 += (by_s * flow).powi(2);
            }
        }
        out
    }
}

/// Weighted mean of pairs, and sd of all about it.
fn moments(pairs: &[[f64; 2]], weights: &[f64]) -> (f64, f64) {
    let sum: f64 = weights.iter().sum();
    let pair = |(pair, w): (&[f64; 2], &f64)| 0.5 * (pair[0] + pair[1]) * w;
    let mean = pairs.iter().zip(weights).map(pair).sum::<f64>() / sum.max(f64::MIN_POSITIVE);
    (mean, sd_about(mean, pairs))
}

fn sd_about(value: f64, pairs: &[[f64; 2]]) -> f64 {
    let squares: f64 = pairs.iter().flatten().map(|v| (v - value).powi(2)).sum();
    (squares / (2.0 * pairs.len().max(1) as f64)).sqrt()
}
