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
use crate::segment::source::Source;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

rows! { $
/// All results from one log.
///
/// ```
/// use pourline::{Brew, Options, Recipe, analyze, simulate};
/// let brew: Brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// assert_eq!(brew.table(false).rows(), brew.segments.pours.len());
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(remote = "Self")]
pub struct Brew {
    /// Metadata of the brew.
    pub meta: Meta,
    /// The conditioned log.
    pub trace: Trace,
    /// Pours, rests and the response of the scale.
    pub segments: Segments,
    /// Flow of water on the log's own stamps; None if the water was not weighed.
    pub flow: Option<Flow>,
    /// What the pours show of the hand.
    pub metrics: Metrics,
    /// Ordinal proxies for the agitation by each pour; None if the water was not weighed.
    pub agitation: Option<Agitation>,
    /// Holdup, retained water and drainage of the bed.
    pub bed: Bed,
    /// Water poured in all, g.
    pub water_g: Maybe,
    /// Beverage collected by the end, g.
    pub beverage_g: Maybe,
    /// Yield, strength, ratio and retention.
    pub extraction: Extraction,
    /// Warnings on the whole log, each a sentence without its full stop; bed and extraction have their own.
    #[serde(default)]
    pub warnings: Vec<String>,
    /// How the file was read, each a sentence without its full stop: as `Log.notes`.
    #[serde(default)]
    pub notes: Vec<String>,
    /// What labels changed; None if none were given.
    pub labelled: Option<Labelled>,
    /// SHA-256 of the samples of the log, as `Log.digest`; None if an earlier version made the brew.
    pub log_digest: Option<String>,
    /// The options of the analysis.
    pub options: Options,
    /// Version of the library that made the brew.
    pub version: String,
}
}

impl Serialize for Brew {
    fn serialize<S: Serializer>(&self, to: S) -> std::result::Result<S::Ok, S::Error> {
        Self::serialize(self, to)
    }
}

impl<'de> Deserialize<'de> for Brew {
    /// The flow gets its source back, so that it can be sampled.
    fn deserialize<D: Deserializer<'de>>(from: D) -> std::result::Result<Self, D::Error> {
        let mut brew = Self::deserialize(from)?;
        // A brew whose parts do not fit together is refused by `from_json`, and has no source.
        if brew.check().is_ok()
            && let Some(flow) = &mut brew.flow
        {
            flow.source = Source::of(&brew.trace, &brew.segments, brew.options.metrics.plateau_inset_s);
        }
        Ok(brew)
    }
}
