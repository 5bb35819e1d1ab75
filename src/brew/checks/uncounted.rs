//! Whether the pours account for the rise of the readings.

use crate::brew::checks::found::Found;
use crate::condition::trace::Flag;
use crate::estimate::Estimate;
use crate::math::robust::median;

/// Tolerance for drops and drift of the zero, g.
const LEAST_G: f64 = 4.0;
/// Readings at the end of the log.
const READINGS: usize = 5;
/// Time over which a flow too slow for a pour is taken, s.
const WINDOW_S: f64 = 1.0;
/// Tolerance for the pours, in their sd.
const SDS: f64 = 5.0;

/// Water in the readings but in no pour, or in a pour but not in the readings.
pub(super) fn uncounted(found: &Found) -> Option<String> {
    let rose_g = rise_g(found).filter(|_| !found.by_hand)?;
    let pours = &found.segments.pours;
    let sum = pours.iter().map(|p| p.mass_g).fold(Estimate::exact(0.0), Estimate::plus);
    let missing_g = rose_g - sum.value - slow_g(found)?.max(0.0).min((rose_g - sum.value).max(0.0));
    (missing_g.abs() > LEAST_G + SDS * sum.sd)
        .then(|| {
            format!(
                "the water rose by {rose_g:.1} g, but the pours hold {:.1} g: a pour is missing or false, so water, \
                 ratio and retention are wrong. Correct the pours by labels",
                sum.value
            )
        })
}

/// Water that arrived in the rests too slowly for a pour, g: drops, and streams that die down.
fn slow_g(found: &Found) -> Option<f64> {
    let water = found.trace.water.as_ref()?;
    let time_s = &found.trace.time_s;
    let after_s = WINDOW_S.max(3.0 * found.segments.response.delay_s.value);
    let in_pour =
        |t: f64| found.segments.pours.iter().any(|p| t > p.start_s.value && t < p.end_s.value + after_s);
    let mut slow_g = 0.0;
    let mut from: Option<usize> = None;
    for i in (0..time_s.len()).filter(|&i| water.flag[i] == Flag::Used) {
        if in_pour(time_s[i]) {
            from = None;
            continue;
        }
        let Some(first) = from else {
            from = Some(i);
            continue;
        };
        let passed_s = time_s[i] - time_s[first];
        if passed_s >= WINDOW_S {
            slow_g += (water.mass_g[i] - water.mass_g[first]).min(found.options.flow_g_per_s * passed_s);
            from = Some(i);
        }
    }
    Some(slow_g)
}

/// Rise of the water's readings from the start of the brew to the end of the log, g.
pub(super) fn rise_g(found: &Found) -> Option<f64> {
    let water = found.trace.water.as_ref()?;
    let used = (0..water.flag.len()).rev().filter(|&i| water.flag[i] == Flag::Used);
    let mut end: Vec<f64> = used.take(READINGS).map(|i| water.mass_g[i]).collect();
    (!end.is_empty()).then(|| median(&mut end))
}
