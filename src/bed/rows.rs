//! In: the drainages. Out: one [`PourDrain`] per pour, and the [`DrainLaw`].

use crate::bed::collected::Collected;
use crate::bed::drains::Drains;
use crate::bed::law::{ALL, Drain, EXPONENT};
use crate::bed::options::BedOptions;
use crate::bed::result::{DrainLaw, PourDrain};
use crate::bed::{conductance, drains, drawdown, held};
use crate::condition::trace::Trace;
use crate::estimate::{Estimate, Undefined};
use crate::segment::flow::Flow;
use crate::segment::pour::Segments;

/// The bed before and after pour `k`.
pub(super) fn row(
    k: usize,
    trace: &Trace,
    segments: &Segments,
    flow: Option<&Flow>,
    c: &Collected,
    drains: &Drains,
    options: &BedOptions,
) -> PourDrain {
    let pour = &segments.pours[k];
    let drain = drains.pours[k].as_ref();
    let end_s = drawdown::drawdown_end(c, drain.ok(), &drains.ranges[k], options);
    let conductance = drain.map_err(Clone::clone).and_then(|d| conductance::conductance(d, options));
    let before = (0..k).rev().find_map(|j| Some((j, drains.pours[j].as_ref().ok()?)));
    let ratio = match (drain, before, &drains.law) {
        (Ok(drain), Some(before), Ok(law)) => conductance::ratio((k, drain), before, law, options),
        (Err(why), ..) => Err(why.clone()),
        _ => Err(Undefined::because("no pour before it has a conductance")),
    };
    PourDrain {
        holdup_at_start_g: held::held_at(trace, flow, c, pour.start_s.value),
        drained_fraction_before: held::drained_fraction_before(trace, flow, c, pour.start_s.value),
        drawdown_s: end_s.clone().map(|end| end.minus(pour.end_s)),
        drawdown_end_s: end_s,
        permeability_m2: conductance::permeability(k, &conductance, &trace.meta, options),
        conductance_g_per_s: conductance,
        conductance_ratio: ratio,
    }
}

/// A drainage as a [`DrainLaw`], compared with the exponential.
pub(super) fn drain_law(
    drain: &Drain,
    exponential: Option<&Drain>,
    c: &Collected,
    options: &BedOptions,
) -> Result<DrainLaw, Undefined> {
    let of = |value: f64, gradient| drains::estimate(drain, (value, gradient));
    let unit = |k: usize| std::array::from_fn(|i| f64::from(i == k));
    let exponent = of(drain.exponent(), unit(EXPONENT))?;
    let residual = |d: &Drain| (d.deviance / d.degrees).sqrt();
    let head_exponent = match options.vessel_exponent {
        Some(m) => Ok(exponent.scaled(m)),
        None => Err(Undefined::because("vessel_exponent was not given")),
    };
    let empty = drain.graded(|[_, _, ln_k, p]| (p < 1.0).then(|| (-ln_k).exp() / (1.0 - p)));
    let never = || Undefined::because("with an exponent of 1 or more the bed never empties");
    let worse = exponential.map_or(f64::NAN, |e| (e.deviance - drain.deviance).max(0.0) / drain.inflation);
    Ok(DrainLaw {
        exponent,
        head_exponent,
        start_s: drain.from_s,
        end_s: drain.to_s,
        standing_g: of(drain.standing_g(), unit(1).map(|g: f64| g * drain.standing_g()))?,
        flow_g_per_s: of(drain.flow_g_per_s(), [0.0, drain.flow_g_per_s(), drain.flow_g_per_s(), 0.0])?,
        empty_after_s: empty.ok_or_else(never).and_then(|(value, gradient)| of(value, gradient)),
        beverage_g: Estimate::new(
            drain.parameters[ALL],
            (drain.variance(&unit(ALL)) + c.zero_var(drain.from_s)).sqrt(),
        ),
        residual_g: residual(drain) * c.noise_sd_g,
        residual_over_noise: residual(drain),
        exponential_residual_g: exponential.map_or(f64::NAN, |e| residual(e) * c.noise_sd_g),
        exponential_rejected_sd: worse.sqrt(),
    })
}
