//! All checks of a whole brew, in order.

use crate::bed::result::Bed;
use crate::brew::checks::clock;
use crate::brew::checks::cut;
use crate::brew::checks::exchanged;
use crate::brew::checks::two_brews;
use crate::brew::checks::uncounted;
use crate::brew::checks::unit;
use crate::brew::checks::unlike;
use crate::brew::checks::zero;
use crate::condition::trace::Trace;
use crate::log::record::Log;
use crate::segment::pour::Segments;
use crate::segment::stage::SegmentOptions;

/// What the rules look at.
pub(crate) struct Found<'a> {
    pub log: &'a Log,
    pub trace: &'a Trace,
    pub segments: &'a Segments,
    pub bed: &'a Bed,
    pub options: &'a SegmentOptions,
    /// Whether the pours are those of labels, which have cautions of their own.
    pub by_hand: bool,
}

/// Sentences on a log, each without its full stop.
pub(crate) fn doubts(found: &Found) -> Vec<String> {
    let rules = [
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
    ];
    rules.iter().filter_map(|rule| rule(found)).collect()
}
