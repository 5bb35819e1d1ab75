//! Whether the zero of the water's scale holds still enough for pours to be told from it.

use crate::brew::checks::found::Found;

/// A zero that walks by this much in a second hides the flow that makes a pour, g per root s.
const HIDES_G: f64 = 0.15;
/// A zero that walks by this much in its rests moves a pour of ten seconds by 0.1 g, the last digit of a usual scale (common practice, no source).
const MOVES_G: f64 = 0.03;
const POUR_S: f64 = 10.0;

/// The zero walks.
pub(super) fn walks(found: &Found) -> Option<String> {
    let around_pours_g = found.segments.fit.as_ref()?.disturbance.zero_g;
    let in_rests_g = found.trace.water.as_ref()?.walk_g2_per_s.sqrt();
    let hides_g = around_pours_g.max(in_rests_g);
    let (walk_g, so) = if hides_g >= HIDES_G {
        let so = "a few grams of water, and where a pour begins or ends by little, cannot be told from it";
        (hides_g, so.into())
    } else if in_rests_g >= MOVES_G {
        let off_g = in_rests_g * POUR_S.sqrt();
        let so = format!(
            "a pour of ten seconds is off by some {off_g:.1} g for it, and water that runs slowly cannot be told from it"
        );
        (in_rests_g, so)
    } else {
        return None;
    };
    Some(format!("the zero of the water's scale walks by some {walk_g:.2} g in a second: {so}"))
}
