//! Whether much water was taken for a rinse.

use crate::brew::checks::found::Found;
use crate::condition::trace::{Channel, Event, EventKind};

/// More than a rinse takes, g (common practice, no source).
const RINSE_G: f64 = 150.0;

/// Much water in the preparation.
pub(super) fn prepared(found: &Found) -> Option<String> {
    let is_much = |e: &&Event| e.kind == EventKind::Preparation && e.channel == Channel::Water;
    let event = found.trace.events.iter().find(is_much).filter(|e| e.size_g > RINSE_G)?;
    Some(format!(
        "{:.0} g of water before the first pour are left out as preparation. If these are pours, set \
         zeroing_starts_brew to false, or split the log",
        event.size_g
    ))
}
