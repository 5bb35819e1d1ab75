//! Whether the log ends while water is running.

use crate::brew::checks::found::Found;
use crate::condition::trace::Flag;

/// Window at the end of the log in which a rise is water that still runs, s.
const END_S: f64 = 1.0;
/// Noise allowed, in sd of a reading.
const SDS: f64 = 6.0;

/// The last pour may not have ended, or the readings still rise.
pub(super) fn cut(found: &Found) -> Option<String> {
    let (trace, pours) = (found.trace, &found.segments.pours);
    let water = trace.water.as_ref().filter(|_| !found.by_hand)?;
    let used = (0..trace.time_s.len()).rev().filter(|&i| water.flag[i] == Flag::Used);
    let last = used.clone().next()?;
    let last_s = trace.time_s[last];
    let end_s = found.since_start(last_s);
    // A pour has ended after a rest longer than the longest pause within a pour.
    let observed_s = last_s - found.segments.response.delay_s.value;
    if pours.last().is_some_and(|pour| observed_s - pour.end_s.value < found.options.pause_s) {
        return Some(format!(
            "the log ends at {end_s:.1} s, during or just after pour {}: the end, mass and duration of that pour may \
             be too small; log until the drips stop",
            pours.len()
        ));
    }
    let end = used.take_while(|&i| last_s - trace.time_s[i] <= END_S).last()?;
    let rose_g = water.mass_g[last] - water.mass_g[end];
    let calm_g = found.options.flow_g_per_s * (last_s - trace.time_s[end]) + SDS * water.noise_sd_g.value;
    (rose_g > calm_g).then(|| {
        format!(
            "the log ends at {end_s:.1} s while the water rises: {rose_g:.1} g of the last second count in no pour; \
             log until the drips stop"
        )
    })
}
