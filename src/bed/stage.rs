//! The stage: holdup, retained water and drainage of the bed.

use crate::bed::collected::Collected;
use crate::bed::drains::Drains;
use crate::bed::held::no_pour;
use crate::bed::options::BedOptions;
use crate::bed::result::{Bed, PourDrain};
use crate::bed::{balance, first_drip, held, loss, rows, warnings};
use crate::condition::trace::Trace;
use crate::estimate::{Maybe, Undefined};
use crate::extraction::options::ExtractionOptions;
use crate::extraction::retained::Retained;
use crate::segment::flow::Flow;
use crate::segment::pour::Segments;

/// Holdup, retained water and drainage of the bed. Never fails: an undefined number states its reason. Without the
/// beverage channel all are undefined; without the water channel (`flow` is then none) those that need water are.
/// Retention and retained water follow the options of the mass balance, `balance`: with those of
/// [`extraction`](crate::extraction()) the numbers are equal.
///
/// ```
/// use pourline::{BedOptions, ConditionOptions, ExtractionOptions, Recipe, SegmentOptions};
/// use pourline::{bed, condition, flow, segment, simulate};
/// let (log, truth) = simulate(&Recipe::default(), 7)?;
/// let trace = condition(&log, &ConditionOptions::default())?;
/// let segments = segment(&trace, &SegmentOptions::default())?;
/// let flow = flow(&trace, &segments)?;
/// let found = bed(&trace, &segments, Some(&flow), &BedOptions::default(), &ExtractionOptions::default());
/// assert!((found.retention_g_per_g.unwrap().value - truth.retention_g_per_g).abs() < 0.05);
/// # Ok::<(), pourline::Error>(())
/// ```
#[must_use]
pub fn bed(
    trace: &Trace,
    segments: &Segments,
    flow: Option<&Flow>,
    options: &BedOptions,
    balance: &ExtractionOptions,
) -> Bed {
    let none = Undefined::because(match &trace.beverage {
        None => "the beverage was not weighed",
        Some(_) => "no reading of the beverage channel could be used",
    });
    let found = trace.beverage.as_ref().and_then(|b| Collected::of(trace, b, segments, options));
    let Some(mut collected) = found else { return without(none, trace, segments, options, balance) };
    let c = &collected;
    let drains = Drains::of(c, segments, &no_pour(trace), options);
    let (water_g, beverage_g) = (balance::water(trace, segments), balance::beverage(c, options));
    let retained = Retained::weighed(&trace.meta, &water_g, &beverage_g, balance);
    let pours: Vec<PourDrain> =
        (0..segments.pours.len()).map(|k| rows::row(k, trace, segments, flow, c, &drains, options)).collect();
    let last = |of: fn(&PourDrain) -> &Maybe| match pours.last() {
        Some(last) => of(last).clone(),
        None => Err(no_pour(trace)),
    };
    let mut bed = Bed {
        curve: Err(none),
        first_drip_s: first_drip::first_drip(c, options),
        drawdown_end_s: last(|p| &p.drawdown_end_s),
        drawdown_s: last(|p| &p.drawdown_s),
        retention_g_per_g: retained.retention_g_per_g,
        retained_water_g_per_g: retained.retained_water_g_per_g,
        law: drains
            .law
            .clone()
            .and_then(|law| rows::drain_law(&law, drains.exponential.as_ref(), c, options)),
        loss_g: loss::loss(trace, segments, Some(c)),
        most_vapour_g: loss::most_vapour(&water_g, &beverage_g, trace, options),
        water_g,
        beverage_g,
        pours,
        warnings: Vec::new(),
    };
    bed.warnings = warnings::warnings(&bed, Some(c), segments, options);
    // The curve is as long as the log: free the other smoother before it is built.
    collected.calm = Vec::new();
    bed.curve = Ok(held::curve(trace, flow, &collected));
    bed
}

/// A bed without usable beverage readings.
fn without(
    none: Undefined,
    trace: &Trace,
    segments: &Segments,
    options: &BedOptions,
    balance: &ExtractionOptions,
) -> Bed {
    let water_g = balance::water(trace, segments);
    let no = || Err(none.clone());
    let retained = Retained::weighed(&trace.meta, &water_g, &no(), balance);
    let row = PourDrain {
        holdup_at_start_g: no(),
        drained_fraction_before: no(),
        drawdown_end_s: no(),
        drawdown_s: no(),
        conductance_g_per_s: no(),
        conductance_ratio: no(),
        permeability_m2: no(),
    };
    let mut bed = Bed {
        curve: Err(none.clone()),
        beverage_g: no(),
        first_drip_s: no(),
        drawdown_end_s: no(),
        drawdown_s: no(),
        retention_g_per_g: retained.retention_g_per_g,
        retained_water_g_per_g: retained.retained_water_g_per_g,
        law: Err(none.clone()),
        loss_g: loss::loss(trace, segments, None),
        most_vapour_g: loss::most_vapour(&water_g, &no(), trace, options),
        water_g,
        pours: vec![row; segments.pours.len()],
        warnings: Vec::new(),
    };
    bed.warnings = warnings::warnings(&bed, None, segments, options);
    bed
}
