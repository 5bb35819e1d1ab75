//! Whether the random walk of the water's zero is small compared with pours.

use crate::brew::checks::found::Found;

/// A random walk that hides the least flow of a pour, g per root s.
const HIDES_G: f64 = 0.15;
/// A random walk in the rests that changes a pour of ten seconds by 0.1 g, the last digit of a usual scale (common
/// practice, no source), g per root s.
const MOVES_G: f64 = 0.03;
const POUR_S: f64 = 10.0;

/// Warns of a random walk of the zero.
pub(super) fn walks(found: &Found) -> Option<String> {
    let around_pours_g = found.segments.fit.as_ref()?.priors.zero_g2_per_s.sqrt();
    let in_rests_g = found.trace.water.as_ref()?.walk_g2_per_s.sqrt();
    let hides_g = around_pours_g.max(in_rests_g);
    let (walk_g, so) = if hides_g >= HIDES_G {
        let so = "pours of a few grams and gentle edges are lost in it; check the scale's footing";
        (hides_g, so.into())
    } else if in_rests_g >= MOVES_G {
        let off_g = in_rests_g * POUR_S.sqrt();
        let so = format!("a 10 s pour is off by {off_g:.1} g, and slow flows are lost; check its footing");
        (in_rests_g, so)
    } else {
        return None;
    };
    Some(format!("the zero of the water's scale walks by {walk_g:.2} g in 1 s: {so}"))
}
