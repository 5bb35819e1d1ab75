//! The stage: the stream of each pour at the bed, one row per pour.

use crate::agitation::known::Known;
use crate::agitation::options::AgitationOptions;
use crate::agitation::pouring::Pouring;
use crate::agitation::result::{Agitation, PourAgitation, SpeedSource};
use crate::agitation::stream::Stream;
use crate::agitation::{energy, events, height, impulse, mixing, peak, time_above};
use crate::condition::trace::{ChannelTrace, Trace};
use crate::error::{Error, Result};
use crate::estimate::Undefined;
use crate::segment::flow::Flow;
use crate::segment::pour::{Pour, Segments};

/// Ordinal proxies for the agitation by each pour.
///
/// ```
/// use pourline::{AgitationOptions, ConditionOptions, Recipe, SegmentOptions};
/// use pourline::{agitation, condition, flow, segment, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// let trace = condition(&log, &ConditionOptions::default())?;
/// let segments = segment(&trace, &SegmentOptions::default())?;
/// let flow = flow(&trace, &segments)?;
/// let found = agitation(&trace, &segments, &flow, &AgitationOptions::default())?;
/// let first = &found.pours[0];
/// assert!(first.flow_impulse_g2_per_s.is_ok());
/// assert!(first.energy_j.as_ref().unwrap_err().reason.starts_with("spout_bore_m was not given"));
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` for an option outside its range; `column` if the trace has no water channel; `unequal_length` for a
/// flow that is not that of the trace.
pub fn agitation(
    trace: &Trace,
    segments: &Segments,
    flow: &Flow,
    options: &AgitationOptions,
) -> Result<Agitation> {
    options.check()?;
    let Some(water) = &trace.water else {
        return Err(Error::Column {
            message: "agitation needs the water channel, which this log lacks".into(),
        });
    };
    let (found, expected) = (flow.time_s.len(), trace.time_s.len());
    if found != expected {
        return Err(Error::UnequalLength { column: "flow".into(), found, expected });
    }
    let known = Known::new(&trace.meta, height::lead(&segments.stream_lead_s), options);
    let row = |(k, pour)| row(trace, water, segments, flow, (k, pour), &known, options);
    Ok(Agitation { pours: segments.pours.iter().enumerate().map(row).collect() })
}

fn row(
    trace: &Trace,
    water: &ChannelTrace,
    segments: &Segments,
    flow: &Flow,
    (k, pour): (usize, &Pour),
    known: &Known,
    o: &AgitationOptions,
) -> PourAgitation {
    let pouring = Pouring::new(water, trace.rate_hz, flow, pour);
    let pouring = pouring.as_ref().map_err(Undefined::clone);
    let mass_weighted_flow_g_per_s = pouring.clone().map(impulse::mass_weighted_flow_g_per_s);
    let stream = Stream::new(mass_weighted_flow_g_per_s.clone(), known);
    let energy_j = pouring.clone().and_then(|p| energy::energy_j(p, known));
    let events::Disturbances { swirls, lifts, knocks, splashes } = events::disturbances(trace, segments, k);
    let source = if known.is_stated() { SpeedSource::Stated } else { SpeedSource::Scale };
    PourAgitation {
        flow_impulse_g2_per_s: pouring.clone().map(impulse::flow_impulse_g2_per_s),
        peak_to_mean_flow: pouring.clone().map(|p| peak::peak_to_mean_flow(p, pour)),
        time_above_s: pouring.clone().map(|p| time_above::time_above_s(p, o.above_g_per_s)),
        energy_j_per_g: energy::energy_j_per_g(&energy_j, known),
        mixing_time_s: pouring.and_then(|p| mixing::mixing_time_s(p, &stream, known)),
        speed_source: stream.speed_m_per_s.is_ok().then_some(source),
        energy_j,
        mass_weighted_flow_g_per_s,
        stream,
        swirls,
        lifts,
        knocks,
        splashes,
    }
}
