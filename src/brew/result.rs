//! The result: one brew, all stages.

use crate::agitation::result::Agitation;
use crate::bed::result::Bed;
use crate::brew::labels::Labelled;
use crate::brew::options::Options;
use crate::condition::trace::Trace;
use crate::extraction::result::Extraction;
use crate::log::meta::Meta;
use crate::metrics::result::Metrics;
use crate::rows::rows;
use crate::segment::flow::Flow;
use crate::segment::pour::Segments;
use serde::{Deserialize, Serialize};

rows! { $
/// All results from one log.
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
    /// Pours, rests and the lag of the scale.
    pub segments: Segments,
    /// Flow of water on the log's own stamps; None if the water was not weighed.
    pub flow: Option<Flow>,
    /// What the pours show of the hand.
    pub metrics: Metrics,
    /// Ordinal proxies for the agitation by each pour; None if the water was not weighed.
    pub agitation: Option<Agitation>,
    /// What the bed held, kept and let through.
    pub bed: Bed,
    /// Water poured in all, g.
    pub water_g: Maybe,
    /// Beverage collected by the end, g.
    pub beverage_g: Maybe,
    /// Yield, strength, ratio and retention.
    pub extraction: Extraction,
    /// What is doubtful of the log as a whole, in sentences; bed and extraction have their own.
    #[serde(default)]
    pub warnings: Vec<String>,
    /// What labels changed; None if none were given.
    pub labelled: Option<Labelled>,
    /// SHA-256 of the samples of the log, as `Log.digest`; None if an earlier version made the brew.
    pub log_digest: Option<String>,
    /// The options that led here.
    pub options: Options,
    /// Version of the library that led here.
    pub version: String,
}
}
