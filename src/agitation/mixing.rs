//! In: the flow of a pour and the known quantities of its fall. Out: its likely mixing time.

use crate::agitation::break_up::BAND;
use crate::agitation::known::Known;
use crate::agitation::pouring::Pouring;
use crate::agitation::stream::Stream;
use crate::agitation::time_above::time_above_s;
use crate::estimate::{Estimate, Maybe};

/// Bracket of the least flow that arrives unbroken, g/s.
const FLOWS_G_PER_S: [f64; 2] = [1e-3, 1e3];

/// Time for which the stream arrived likely unbroken, s.
///
/// - measures: the time for which a pour can mix, not how strongly; an ordinal proxy
/// - formula: time at a flow at which the break-up length is longer than the fall
/// - needs: bore, height and temperature; the height may come from the force on the scale
/// - valid when: as the break-up length; its factor of 1.5 enters the sd, which is as large as the time itself if the
///   fall is near the break-up length
/// - reference: Park, Young and Mathijssen 2025, Phys. Fluids 37, 043332 (abstract): a stream through the water onto
///   the bed mixes strongly, even a gentle one, as long as it arrives unbroken; slower and higher pours mix longer
pub(super) fn mixing_time_s(pouring: &Pouring, stream: &Stream, known: &Known) -> Maybe {
    let (length, height) = (stream.break_up_m.clone()?, stream.fall_height_m.clone()?);
    let relative = (length.sd / length.value).hypot(height.sd / height.value);
    let factor = BAND.ln().hypot(relative).exp();
    let reach = |factor: f64| Ok(time_above_s(pouring, flow_to_reach(height.value / factor, known)?.value));
    let time: Estimate = reach(1.0)?;
    let [short, long]: [Estimate; 2] = [reach(1.0 / factor)?, reach(factor)?];
    Ok(Estimate::new(time.value, time.sd.hypot(0.5 * (long.value - short.value))))
}

/// Flow whose stream has that break-up length, g/s; the length grows with the flow.
fn flow_to_reach(length_m: f64, known: &Known) -> Maybe {
    let [mut low, mut high] = FLOWS_G_PER_S;
    while high / low > 1.0 + 1e-6 {
        let middle = (low * high).sqrt();
        let lasts = Stream::new(Ok(Estimate::exact(middle)), known).break_up_m?;
        if lasts.value < length_m { low = middle } else { high = middle }
    }
    Ok(Estimate::exact((low * high).sqrt()))
}
