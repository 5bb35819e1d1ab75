//! All checks of a whole brew, in order.

use crate::bed::result::Bed;
use crate::condition::trace::Trace;
use crate::doubts::clock;
use crate::doubts::cut;
use crate::doubts::exchanged;
use crate::doubts::two_brews;
use crate::doubts::uncounted;
use crate::doubts::unit;
use crate::doubts::unlike;
use crate::doubts::zero;
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
