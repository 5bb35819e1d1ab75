//! In: a log and what was found in it. Out: what is doubtful of the log as a whole, in sentences.
//!
//! Each rule has its file and rests on what cannot be: beverage before its water, a clock that runs backwards, a weight that divides itself by the grams of an
//! ounce. What is told here is not repaired: a unit, a column or a second brew is for the one who logged to say.

mod clock;
mod cut;
mod exchanged;
mod two_brews;
mod uncounted;
mod unit;
mod unlike;
mod zero;

use crate::{Bed, Log, SegmentOptions, Segments, Trace};

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
