//! The result: one brew, all stages.

use crate::agitation::result::Agitation;
use crate::bed::result::Bed;
use crate::brew::labels::Labelled;
use crate::brew::options::Options;
use crate::condition::trace::Trace;
use crate::estimate::Maybe;
use crate::extraction::result::Extraction;
use crate::log::meta::Meta;
use crate::metrics::result::Metrics;
use crate::segment::flow::Flow;
use crate::segment::pour::Segments;
use serde::{Deserialize, Serialize};

/// All that one log tells.
///
/// ```
/// use pourline::{Brew, Options, Recipe, analyze, simulate};
/// let brew: Brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// assert_eq!(brew.table().rows(), brew.segments.pours.len());
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Brew {
    /// What is known of the brew beside its weights.
    pub meta: Meta,
    /// The conditioned log.
    pub trace: Trace,
    /// Pours and rests.
    pub segments: Segments,
    /// Flow of water, where water was weighed.
    pub flow: Option<Flow>,
    /// What each pour tells of the hand.
    pub metrics: Metrics,
    /// Ordinal proxies for the agitation by each pour, where water was weighed.
    pub agitation: Option<Agitation>,
    /// What the bed held, kept and let through.
    pub bed: Bed,
    /// Water poured in all, g.
    #[serde(with = "crate::estimate::maybe")]
    pub water_g: Maybe,
    /// Beverage collected by the end, g.
    #[serde(with = "crate::estimate::maybe")]
    pub beverage_g: Maybe,
    /// Yield, strength, ratio, retention.
    pub extraction: Extraction,
    /// What is doubtful of the log as a whole, in sentences; bed and extraction have their own.
    #[serde(default)]
    pub warnings: Vec<String>,
    /// What labels changed, where any were given.
    pub labelled: Option<Labelled>,
    /// Digest of the samples of the log, by [`Log::digest`]; none where an earlier version made the brew.
    pub log_digest: Option<String>,
    /// The options that led here.
    pub options: Options,
    /// Version of the library that led here.
    pub version: String,
}
