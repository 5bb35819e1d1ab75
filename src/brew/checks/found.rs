//! The input of the checks.

use crate::bed::result::Bed;
use crate::condition::trace::Trace;
use crate::log::record::Log;
use crate::segment::options::SegmentOptions;
use crate::segment::pour::Segments;

/// The input of the rules.
pub(crate) struct Found<'a> {
    pub log: &'a Log,
    pub trace: &'a Trace,
    pub segments: &'a Segments,
    pub bed: &'a Bed,
    pub options: &'a SegmentOptions,
    /// Whether the pours are of labels, which have their own warnings.
    pub by_hand: bool,
}

impl Found<'_> {
    /// An instant of the log as sentences have it: from the first start, s.
    pub(super) fn since_start(&self, t_s: f64) -> f64 {
        t_s - self.segments.time_zero_s()
    }
}
