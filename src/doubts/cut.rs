//! Whether the log ends while water is running.

use super::Found;
use crate::Flag;
use crate::math::line::line;

/// Readings from which the flow at the end is taken, s, and how many there must be.
const END_S: f64 = 1.0;
const READINGS: usize = 5;

/// The last pour may not have ended, or the readings still rise.
pub(super) fn cut(found: &Found) -> Option<String> {
    let (trace, pours) = (found.trace, &found.segments.pours);
    let water = trace.water.as_ref().filter(|_| !found.by_hand)?;
    let used = (0..trace.time_s.len()).rev().filter(|&i| water.flag[i] == Flag::Used);
    let last_s = trace.time_s[used.clone().next()?];
    // A pour has ended once no water came for as long as a pause within it may last.
    let seen_s = last_s - found.segments.scale_lag_s.value;
    if pours.last().is_some_and(|pour| seen_s - pour.end_s.value < found.options.pause_s) {
        return Some(format!(
            "the log ends at {last_s:.1} s, in pour {} or too soon after it to know that it had ended: its end, mass and duration are those of what was logged",
            pours.len()
        ));
    }
    let end: Vec<usize> = used
        .enumerate()
        .take_while(|&(k, i)| k < READINGS || last_s - trace.time_s[i] < END_S)
        .map(|e| e.1)
        .collect();
    let of = |v: &[f64]| end.iter().map(|&i| v[i]).collect::<Vec<f64>>();
    let flow = line(&of(&trace.time_s), &of(&water.mass_g))?;
    (flow.slope - 5.0 * flow.slope_sd > found.options.flow_g_per_s).then(|| {
        format!(
            "the log ends at {last_s:.1} s while the water rises by {:.1} g/s, too soon to call it a pour",
            flow.slope
        )
    })
}
