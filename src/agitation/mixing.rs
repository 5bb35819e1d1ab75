//! In: the flow of a pour and what is known of its fall. Out: for how long it likely mixed.

use crate::agitation::break_up::BAND;
use crate::agitation::known::Known;
use crate::agitation::pouring::Pouring;
use crate::agitation::stream::Stream;
use crate::agitation::time_above::time_above_s;
use crate::estimate::{Estimate, Maybe};

/// Flows between which the one is looked for at which a stream just arrives unbroken, g/s.
const FLOWS_G_PER_S: [f64; 2] = [1e-3, 1e3];

/// Time for which the stream arrived likely unbroken, s.
///
/// - measures: for how long a pour can mix; an ordinal proxy, and not how strongly
/// - formula: time at a flow at which the break-up length is longer than the fall
/// - needs: bore, height and temperature; height from the force on the scale will do
/// - valid when: as the break-up length; its factor of 1.5 goes into the sd, which is as large as the time itself where the fall is about
///   as long as the stream lasts
/// - reference: Park, Young and Mathijssen 2025, Phys. Fluids 37, 043332 (abstract): a stream through the water onto the bed mixes strongly,
///   even a gentle one, as long as it arrives unbroken; slower and higher pours mix longer
pub(super) fn mixing_time_s(pouring: &Pouring, stream: &Stream, known: &Known) -> Maybe {
    let (length, height) = (stream.break_up_m.clone()?, stream.fall_height_m.clone()?);
    let relative = (length.sd / length.value).hypot(height.sd / height.value);
    let factor = BAND.ln().hypot(relative).exp();
    let reach = |factor: f64| Ok(time_above_s(pouring, flow_to_reach(height.value / factor, known)?.value));
    let time: Estimate = reach(1.0)?;
    let [short, long]: [Estimate; 2] = [reach(1.0 / factor)?, reach(factor)?];
    Ok(Estimate::new(time.value, time.sd.hypot(0.5 * (long.value - short.value))))
}

/// Flow whose stream breaks up after that length, g/s: the larger the flow, the longer it lasts.
fn flow_to_reach(length_m: f64, known: &Known) -> Maybe {
    let [mut low, mut high] = FLOWS_G_PER_S;
    while high / low > 1.0 + 1e-6 {
        let middle = (low * high).sqrt();
        let lasts = Stream::new(Ok(Estimate::exact(middle)), known).break_up_m?;
        if lasts.value < length_m { low = middle } else { high = middle }
    }
    Ok(Estimate::exact((low * high).sqrt()))
}
