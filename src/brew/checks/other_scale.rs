//! Whether the scale that was given is that of the log.

use crate::brew::checks::found::Found;
use crate::condition::trace::Trace;
use crate::estimate::Estimate;
use crate::model::response::ResponseSource;
use crate::segment::stage::segment;

/// The delays differ by more than so many sd, and by more than this, s: what a response that no family has can be off.
const TIMES: f64 = 4.0;
const LEAST_S: f64 = 0.15;
const FLOW_G_PER_S: f64 = 6.0;

/// Edges that another delay fits than that of the given scale.
pub(super) fn other_scale(found: &Found) -> Option<String> {
    let given = found.trace.scale.as_ref().filter(|_| !found.segments.pours.is_empty())?;
    let alone = Trace { scale: None, ..found.trace.clone() };
    let seen = segment(&alone, found.options).ok()?.response;
    // Half a step of the readout is reached earlier or later, at a usual flow.
    let step_s = found.trace.water.as_ref().map_or(0.0, |water| 0.5 * water.step_g / FLOW_G_PER_S);
    let off = seen.delay_s.minus(given.delay_s).plus(Estimate::new(0.0, step_s));
    let differs = off.value.abs() > (TIMES * off.sd).max(LEAST_S);
    (seen.source == ResponseSource::Estimated && differs).then(|| {
        format!(
            "the given scale has a delay of {:.2} s, but the edges of the pours fit {:.2} ± {:.2} s: it may be \
             another scale. Times are off by up to {:.1} s; calibrate this scale, or give none",
            given.delay_s.value,
            seen.delay_s.value,
            seen.delay_s.sd,
            off.value.abs()
        )
    })
}
