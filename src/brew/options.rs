//! The options of all stages.

use crate::agitation::options::AgitationOptions;
use crate::bed::options::BedOptions;
use crate::condition::options::ConditionOptions;
use crate::extraction::options::ExtractionOptions;
use crate::metrics::options::MetricsOptions;
use crate::segment::options::SegmentOptions;
use serde::{Deserialize, Serialize};

/// Options of all stages.
///
/// ```
/// use pourline::Options;
/// let mut options = Options::default();
/// options.condition.scale_lag_s = Some(0.25);
/// options.extraction.retention_g_per_g = Some(2.0);
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Options {
    /// Of `condition`.
    pub condition: ConditionOptions,
    /// Of `segment`.
    pub segment: SegmentOptions,
    /// Of `metrics`.
    pub metrics: MetricsOptions,
    /// Of `agitation`.
    pub agitation: AgitationOptions,
    /// Of `bed`.
    pub bed: BedOptions,
    /// Of `extraction`.
    pub extraction: ExtractionOptions,
}
