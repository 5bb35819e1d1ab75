//! In: a [`Log`]. Out: a [`Brew`]: one log the whole way, or many logs side by side.

mod many;
mod rows;

pub use many::analyze_many;
pub(crate) use rows::{factors, of_brew, of_pours, sd_name};

use crate::{
    Bed, BedOptions, BeverageSource, ConditionOptions, Extraction, ExtractionOptions, Flow, Log, Maybe,
    Measures, MeasuresOptions, Meta, Result, SegmentOptions, Segments, Table, Trace, bed, condition,
    extraction, flow, measures, segment,
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
    /// The options that led here.
    pub options: Options,
    /// Version of the library that led here.
    pub version: String,
}

/// Analyses one log: `condition`, `segment`, `flow`, `measures`, `bed` and `extraction` in one call.
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
    options.measures.check()?;
    options.bed.check()?;
    options.extraction.check()?;
    let trace = condition(log, &options.condition)?;
    let segments = segment(&trace, &options.segment)?;
    let flow = if trace.water.is_some() { Some(flow(&trace, &segments)?) } else { None };
    let measures = measures(&trace, &segments, &options.measures)?;
    let mut bed = bed(&trace, &segments, flow.as_ref(), &options.bed);
    let (water_g, beverage_g) = (bed.water_g.clone(), bed.beverage_g.clone());
    let extraction = extraction(&log.meta, water_g.clone(), beverage_g.clone(), &options.extraction);
    if extraction.beverage_source == Some(BeverageSource::Weighed) {
        // One brew, one number: extraction knows the options of dose and strength, bypass and vapour.
        bed.retention_g_per_g.clone_from(&extraction.retention_g_per_g);
        bed.retained_water_g_per_g.clone_from(&extraction.retained_water_g_per_g);
    }
    Ok(Brew {
        meta: log.meta.clone(),
        trace,
        segments,
        flow,
        measures,
        bed,
        water_g,
        beverage_g,
        extraction,
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
