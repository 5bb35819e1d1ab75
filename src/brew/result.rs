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

/// The complete analysis of one log.
///
/// ```
/// use pourline::{Brew, Options, Recipe, analyze, simulate};
/// let brew: Brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// assert_eq!(brew.table().rows(), brew.segments.pours.len());
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Brew {
    /// Metadata of the brew.
    pub meta: Meta,
    /// The conditioned log.
    pub trace: Trace,
    /// Pours and rests.
    pub segments: Segments,
    /// Flow of water, if water was weighed.
    pub flow: Option<Flow>,
    /// Metrics of each pour.
    pub metrics: Metrics,
    /// Ordinal proxies for the agitation by each pour, if water was weighed.
    pub agitation: Option<Agitation>,
    /// Holdup, retained water and drainage of the bed.
    pub bed: Bed,
    /// Water poured in all, g.
    #[serde(with = "crate::estimate::maybe")]
    pub water_g: Maybe,
    /// Beverage collected by the end, g.
    #[serde(with = "crate::estimate::maybe")]
    pub beverage_g: Maybe,
    /// Yield, strength, ratio, retention.
    pub extraction: Extraction,
    /// Warnings on the whole log, each a sentence without its full stop; bed and extraction have their own.
    #[serde(default)]
    pub warnings: Vec<String>,
    /// Changes by labels, if labels were given.
    pub labelled: Option<Labelled>,
    /// Digest of the samples of the log, by [`Log::digest`]; none if an earlier version made the brew.
    pub log_digest: Option<String>,
    /// The options of the analysis.
    pub options: Options,
    /// Version of the library that made the brew.
    pub version: String,
}
