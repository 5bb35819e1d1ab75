//! Whether the zero of the water's scale holds still enough for pours to be told from it.

use super::Found;

/// A zero that walks by this much in a second hides the flow that makes a pour, g per root s.
const HIDES_G: f64 = 0.15;

/// The zero walks.
pub(super) fn walks(found: &Found) -> Option<String> {
    let around_pours_g = found.segments.fit.as_ref()?.wander.zero_g;
    let in_rests_g = found.trace.water.as_ref()?.walk_g2_per_s.sqrt();
    let walk_g = around_pours_g.max(in_rests_g);
    (walk_g >= HIDES_G).then(|| {
        format!(
            "the zero of the water's scale walks by some {walk_g:.2} g in a second: a few grams of water, and where a pour begins or ends by little, cannot be told from it"
        )
    })
}
