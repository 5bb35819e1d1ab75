//! All checks of a whole brew, in order.

use crate::brew::checks::found::Found;
use crate::brew::checks::{
    clock, cut, exchanged, no_pours, other_scale, prepared, two_brews, uncounted, unit, unlike, zero,
};

/// Warnings on a log, each a sentence without its full stop.
pub(crate) fn warnings(found: &Found) -> Vec<String> {
    let rules = [
        no_pours::no_pours,
        prepared::prepared,
        clock::set_back,
        clock::set_on,
        unit::switched,
        unit::too_little,
        exchanged::exchanged,
        two_brews::two_brews,
        cut::cut,
        uncounted::uncounted,
        zero::walks,
        unlike::unlike,
        other_scale::other_scale,
    ];
    rules.iter().filter_map(|rule| rule(found)).collect()
}
