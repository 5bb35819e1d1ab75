//! Whether the pours account for the rise of the readings.

use crate::brew::checks::found::Found;
use crate::condition::trace::Flag;
use crate::estimate::Estimate;
use crate::math::robust::median;

/// Tolerance for drops and drift of the zero, g.
const LEAST_G: f64 = 4.0;
/// Readings at the end of the log.
const READINGS: usize = 5;
/// Tolerance for the pours, in their sd.
const SDS: f64 = 5.0;

/// Water in the readings but in no pour, or in a pour but not in the readings.
pub(super) fn uncounted(found: &Found) -> Option<String> {
    let rose_g = rise_g(found).filter(|_| !found.by_hand)?;
    let pours = &found.segments.pours;
    let sum = pours.iter().map(|p| p.mass_g).fold(Estimate::exact(0.0), Estimate::plus);
    ((rose_g - sum.value).abs() > LEAST_G + SDS * sum.sd)
        .then(|| {
            format!(
                "the water rose by {rose_g:.1} g, but the pours hold {:.1} g: a pour is missing or false, so water, \
                 ratio and retention are wrong. Correct the pours by labels",
                sum.value
            )
        })
}

/// Rise of the water's readings from the start of the brew to the end of the log, g.
pub(super) fn rise_g(found: &Found) -> Option<f64> {
    let water = found.trace.water.as_ref()?;
    let used = (0..water.flag.len()).rev().filter(|&i| water.flag[i] == Flag::Used);
    let mut end: Vec<f64> = used.take(READINGS).map(|i| water.mass_g[i]).collect();
    (!end.is_empty()).then(|| median(&mut end))
}
