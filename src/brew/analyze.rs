//! One log, all stages.

use crate::agitation::stage::agitation;
use crate::bed::stage::bed;
use crate::brew::by_hand;
use crate::brew::checks::all::warnings;
use crate::brew::checks::found::Found;
use crate::brew::labels::{Labelled, Labels};
use crate::brew::options::Options;
use crate::brew::result::Brew;
use crate::condition::stage::condition;
use crate::condition::trace::Trace;
use crate::error::Result;
use crate::extraction::stage::extraction;
use crate::log::record::Log;
use crate::metrics::stage::metrics_of;
use crate::segment::flow::{Flow, flow_of};
use crate::segment::posterior::Posterior;
use crate::segment::pour::Segments;
use crate::segment::source::Source;
use crate::segment::stage::segmented;

/// Analyses one log: `condition`, `segment`, `flow`, `metrics`, `agitation`, `bed` and `extraction` in one call.
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
/// `out_of_range` for an option outside its range, and the errors of `condition`.
pub fn analyze(log: &Log, options: &Options) -> Result<Brew> {
    observed(log, None, options, &mut |_| ())
}

/// Analyses one log with pours that somebody set by hand. Their instants have the sd of the labels. The fit of the flow
/// does not change; masses, metrics and bed follow the labels. If the labels are the brew's own pours, the result is
/// unchanged.
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
/// As [`analyze`], `column` if the log has no water channel, `argument` if the labels are of another log, and as
/// [`Labels::check`]; `out_of_range` for an edge outside the brew.
pub fn analyze_labelled(log: &Log, labels: &Labels, options: &Options) -> Result<Brew> {
    observed(log, Some(labels), options, &mut |_| ())
}

/// [`analyze`], or [`analyze_labelled`] if there are labels; `done` takes the name of each stage after it.
pub(crate) fn observed(
    log: &Log,
    labels: Option<&Labels>,
    options: &Options,
    done: &mut dyn FnMut(&'static str),
) -> Result<Brew> {
    if let Some(labels) = labels {
        labels.check()?;
        labels.are_of(log)?;
    }
    let trace = conditioned(log, options)?;
    done("condition");
    if labels.is_some() {
        by_hand::needs_water(&trace)?;
    }
    let (found, posterior) = segmented(&trace, &options.segment)?;
    done("segment");
    let flow = trace.water.is_some().then(|| flow_of(&trace, &found, posterior.as_ref()));
    done("flow");
    let (segments, labelled) = match (labels, &flow) {
        (Some(labels), Some(flow)) => {
            let drawn = (flow, posterior.as_ref());
            let (segments, labelled) = by_hand::relabel(&trace, &found, drawn, labels, &options.segment)?;
            (segments, Some(labelled))
        }
        _ => (found, None),
    };
    brew(log, options, trace, (segments, posterior), flow, labelled, done)
}

fn conditioned(log: &Log, options: &Options) -> Result<Trace> {
    options.segment.check()?;
    options.metrics.check()?;
    options.metrics.agree(&options.segment)?;
    options.agitation.check()?;
    options.bed.check()?;
    options.extraction.check()?;
    condition(log, &options.condition)
}

/// The stages after the pours.
fn brew(
    log: &Log,
    options: &Options,
    trace: Trace,
    (segments, posterior): (Segments, Option<Posterior>),
    flow: Option<Flow>,
    labelled: Option<Labelled>,
    done: &mut dyn FnMut(&'static str),
) -> Result<Brew> {
    let flow = flow
        .map(|flow| Flow { source: Source::of(&trace, &segments, options.metrics.plateau_inset_s), ..flow });
    let metrics = metrics_of(&trace, &segments, posterior.as_ref(), &options.metrics)?;
    done("metrics");
    let agitation = match &flow {
        Some(flow) => Some(agitation(&trace, &segments, flow, &options.agitation)?),
        None => None,
    };
    done("agitation");
    let bed = bed(&trace, &segments, flow.as_ref(), &options.bed, &options.extraction);
    done("bed");
    let (water_g, beverage_g) = (bed.water_g.clone(), bed.beverage_g.clone());
    let extraction = extraction(&log.meta, water_g.clone(), beverage_g.clone(), &options.extraction);
    done("extraction");
    let by_hand = labelled.is_some();
    let found =
        Found { log, trace: &trace, segments: &segments, bed: &bed, options: &options.segment, by_hand };
    let warnings = warnings(&found);
    Ok(Brew {
        meta: log.meta.clone(),
        trace,
        segments,
        flow,
        metrics,
        agitation,
        bed,
        water_g,
        beverage_g,
        extraction,
        warnings,
        notes: log.notes().to_vec(),
        labelled,
        log_digest: Some(log.digest()),
        options: options.clone(),
        version: env!("CARGO_PKG_VERSION").into(),
    })
}
