//! The stage: the stream of each pour at the bed, one row per pour.

use crate::agitation::known::Known;
use crate::agitation::options::AgitationOptions;
use crate::agitation::pouring::Pouring;
use crate::agitation::result::{Agitation, PourAgitation, SpeedSource};
use crate::agitation::stream::Stream;
use crate::agitation::{energy, events, height, impulse, mixing, peak, time_above};
use crate::condition::trace::Trace;
use crate::error::{Error, Result};
use crate::estimate::Undefined;
use crate::segment::observations::used;
use crate::segment::posterior::Posterior;
use crate::segment::pour::Segments;

/// Ordinal proxies for the agitation by each pour.
///
/// ```
/// use pourline::{AgitationOptions, ConditionOptions, Recipe, SegmentOptions};
/// use pourline::{agitation, condition, segment, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// let trace = condition(&log, &ConditionOptions::default())?;
/// let segments = segment(&trace, &SegmentOptions::default())?;
/// let found = agitation(&trace, &segments, &AgitationOptions::default())?;
/// let first = &found.pours[0];
/// assert!(first.flow_impulse_g2_per_s.is_ok());
/// assert!(first.energy_j.as_ref().unwrap_err().reason.starts_with("spout_bore_m was not given"));
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` for an option outside its range; `column` if the trace has no water channel.
pub fn agitation(trace: &Trace, segments: &Segments, options: &AgitationOptions) -> Result<Agitation> {
    let posterior = match (used(trace), &segments.fit) {
        (Some(x), Some(fit)) => Some(Posterior::new(&x, fit)),
        _ => None,
    };
    agitation_of(trace, segments, posterior.as_ref(), options)
}

/// The same from the curves of the posterior.
pub(crate) fn agitation_of(
    trace: &Trace,
    segments: &Segments,
    posterior: Option<&Posterior>,
    options: &AgitationOptions,
) -> Result<Agitation> {
    options.check()?;
    if trace.water.is_none() {
        return Err(Error::Column {
            message: "agitation needs the water channel, which this log lacks".into(),
        });
    }
    let known = Known::new(&trace.meta, height::lead(&segments.stream_lead_s), options);
    let row = |k| row(trace, segments, posterior, k, &known, options);
    Ok(Agitation { pours: (0..segments.pours.len()).map(row).collect() })
}

fn row(
    trace: &Trace,
    segments: &Segments,
    posterior: Option<&Posterior>,
    k: usize,
    known: &Known,
    o: &AgitationOptions,
) -> PourAgitation {
    let pouring = Pouring::new(trace, segments, posterior, k);
    let pouring = pouring.as_ref().map_err(Undefined::clone);
    let mass_weighted_flow_g_per_s = pouring.clone().and_then(impulse::mass_weighted_flow_g_per_s);
    let stream = Stream::new(mass_weighted_flow_g_per_s.clone(), known);
    let energy_j = pouring.clone().and_then(|p| energy::energy_j(p, known));
    let events::Disturbances { swirls, lifts, knocks, splashes } = events::disturbances(trace, segments, k);
    let source = if known.is_stated() { SpeedSource::Stated } else { SpeedSource::Scale };
    PourAgitation {
        flow_impulse_g2_per_s: pouring.clone().and_then(impulse::flow_impulse_g2_per_s),
        peak_to_mean_flow: pouring.clone().and_then(peak::peak_to_mean_flow),
        time_above_s: pouring.clone().and_then(|p| time_above::time_above_s(p, o.above_g_per_s)),
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
