//! In: a [`Log`]. Out: a [`Brew`]: one log the whole way, or many logs side by side.

mod by_hand;
mod cautions;
mod kept;
mod labels;
mod many;
mod rows;

pub use labels::{EdgesByHand, Labelled, LabelledPour, Labels};
pub use many::analyze_many;
pub use rows::columns;
pub(crate) use rows::{factors, of_brew, of_pours};

use crate::doubts::{Found, doubts};
use crate::{
    Agitation, AgitationOptions, Bed, BedOptions, BeverageSource, ConditionOptions, Extraction,
    ExtractionOptions, Flow, Log, Maybe, Measures, MeasuresOptions, Meta, Result, SegmentOptions, Segments,
    Table, Trace, agitation, bed, condition, extraction, flow, measures, segment,
};
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
    /// Of `measures`.
    pub measures: MeasuresOptions,
    /// Of `agitation`.
    pub agitation: AgitationOptions,
    /// Of `bed`.
    pub bed: BedOptions,
    /// Of `extraction`.
    pub extraction: ExtractionOptions,
}

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
    pub measures: Measures,
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
    pub cautions: Vec<String>,
    /// What labels changed, where any were given.
    pub labelled: Option<Labelled>,
    /// Digest of the samples of the log, by [`Log::digest`]; none where an earlier version made the brew.
    pub log_digest: Option<String>,
    /// The options that led here.
    pub options: Options,
    /// Version of the library that led here.
    pub version: String,
}

/// Analyses one log: `condition`, `segment`, `flow`, `measures`, `agitation`, `bed` and `extraction` in one call.
///
/// ```
/// use pourline::{Options, Recipe, analyze, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// let brew = analyze(&log, &Options::default())?;
/// assert!(!brew.segments.pours.is_empty());
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` for an option outside its range, and whatever `condition` cannot work with.
pub fn analyze(log: &Log, options: &Options) -> Result<Brew> {
    let trace = conditioned(log, options)?;
    let segments = segment(&trace, &options.segment)?;
    let flow = if trace.water.is_some() { Some(flow(&trace, &segments)?) } else { None };
    brew(log, options, trace, segments, flow, None)
}

/// Analyses one log with pours that somebody set by hand. Their instants are taken as they are, with the sd that the labels state; the fit of the
/// flow stays as it was found, and masses, measures and bed follow the labels. A brew whose labels are its own pours is the same brew.
///
/// ```
/// use pourline::{Labels, Options, Recipe, analyze, analyze_labelled, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// let found = analyze(&log, &Options::default())?;
/// let same = analyze_labelled(&log, &Labels::of(&found), &Options::default())?;
/// assert_eq!(same.segments, found.segments);
/// assert_eq!(same.labelled.unwrap().removed, 0);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// As [`analyze`], `column` where the log has no water channel, `argument` where the labels say that they are of another log, and as
/// [`Labels::check`]; `out_of_range` for an edge outside the brew.
pub fn analyze_labelled(log: &Log, labels: &Labels, options: &Options) -> Result<Brew> {
    labels.check()?;
    labels.are_of(log)?;
    let trace = conditioned(log, options)?;
    by_hand::needs_water(&trace)?;
    let found = segment(&trace, &options.segment)?;
    let flow = flow(&trace, &found)?;
    let (segments, labelled) = by_hand::relabel(&trace, &found, &flow, labels, &options.segment)?;
    brew(log, options, trace, segments, Some(flow), Some(labelled))
}

fn conditioned(log: &Log, options: &Options) -> Result<Trace> {
    options.measures.check()?;
    options.agitation.check()?;
    options.bed.check()?;
    options.extraction.check()?;
    condition(log, &options.condition)
}

/// What follows once the pours are known.
fn brew(
    log: &Log,
    options: &Options,
    trace: Trace,
    segments: Segments,
    flow: Option<Flow>,
    labelled: Option<Labelled>,
) -> Result<Brew> {
    let measures = measures(&trace, &segments, &options.measures)?;
    let agitation = match &flow {
        Some(flow) => Some(agitation(&trace, &segments, flow, &options.agitation)?),
        None => None,
    };
    let mut bed = bed(&trace, &segments, flow.as_ref(), &options.bed);
    let (water_g, beverage_g) = (bed.water_g.clone(), bed.beverage_g.clone());
    let extraction = extraction(&log.meta, water_g.clone(), beverage_g.clone(), &options.extraction);
    if extraction.beverage_source == Some(BeverageSource::Weighed) {
        // One brew, one number: extraction knows the options of dose and strength, bypass and vapour.
        bed.retention_g_per_g.clone_from(&extraction.retention_g_per_g);
        bed.retained_water_g_per_g.clone_from(&extraction.retained_water_g_per_g);
    }
    let by_hand = labelled.is_some();
    let found =
        Found { log, trace: &trace, segments: &segments, bed: &bed, options: &options.segment, by_hand };
    let cautions = doubts(&found);
    Ok(Brew {
        meta: log.meta.clone(),
        trace,
        segments,
        flow,
        measures,
        agitation,
        bed,
        water_g,
        beverage_g,
        extraction,
        cautions,
        labelled,
        log_digest: Some(log.digest()),
        options: options.clone(),
        version: env!("CARGO_PKG_VERSION").into(),
    })
}

impl Brew {
    /// A row a pour: its place, its numbers with their sd, and the brew's factors.
    #[must_use]
    pub fn table(&self) -> Table {
        rows::table(self)
    }
}
