//! Whether the readings rose by as much as the pours hold.

use super::Found;
use crate::math::robust::median;
use crate::{Estimate, Flag};

/// Drops and a zero that wanders make no pour, g.
const LEAST_G: f64 = 4.0;
/// Readings at the end of the log.
const READINGS: usize = 5;

/// Water is in the readings and in no pour, or in a pour and not in the readings.
pub(super) fn uncounted(found: &Found) -> Option<String> {
    let water = found.trace.water.as_ref().filter(|_| !found.by_hand)?;
    let used = |i: &usize| water.flag[*i] == Flag::Used && found.trace.time_s[*i] >= found.trace.brew_start_s;
    let mut end: Vec<f64> =
        (0..water.flag.len()).rev().filter(used).take(READINGS).map(|i| water.mass_g[i]).collect();
    if end.is_empty() {
        return None;
    }
    let pours = &found.segments.pours;
    let sum = pours.iter().map(|p| p.mass_g).fold(Estimate::exact(0.0), Estimate::plus);
    let rose_g = median(&mut end);
    ((rose_g - sum.value).abs() > LEAST_G + 5.0 * sum.sd)
        .then(|| format!("the water rose by {rose_g:.1} g in the log, and the pours hold {:.1} g", sum.value))
}
