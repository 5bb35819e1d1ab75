//! What the checks look at.

use crate::bed::result::Bed;
use crate::condition::trace::Trace;
use crate::log::record::Log;
use crate::segment::options::SegmentOptions;
use crate::segment::pour::Segments;

/// What the rules look at.
pub(crate) struct Found<'a> {
    pub log: &'a Log,
    pub trace: &'a Trace,
    pub segments: &'a Segments,
    pub bed: &'a Bed,
    pub options: &'a SegmentOptions,
    /// Whether the pours are those of labels, which have warnings of their own.
    pub by_hand: bool,
}
