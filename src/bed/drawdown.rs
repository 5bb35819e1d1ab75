//! In: the beverage after a pour. Out: when it stops.

use crate::bed::collected::Collected;
use crate::bed::law::Drain;
use crate::bed::options::BedOptions;
use crate::estimate::{Estimate, Maybe, Undefined};
use std::ops::Range;

/// A law that leaves more than twice the scale's own noise, this squared, does not speak for the end of the flow.
const FITS: f64 = 4.0;

/// End of the drawdown after a pour, s.
///
/// - measures: when the bed has given what it gives
/// - formula: the instant from which the beverage's flow stays under `drip_g_per_s` (0.1 g/s): that of the fitted drainage where it
///   leaves no more than twice the scale's noise, else the last at which the smoothed flow passes it
/// - needs: the beverage channel, and the end of the pour
/// - minimum samples: 12 while it drains for the fitted drainage
/// - valid when: the flow ends before the next pour and before the log; else undefined
/// - reference: `law.rs` for the drainage, [`Trend`](crate::model::trend::Trend) for the smoothed flow
pub(super) fn drawdown_end(
    c: &Collected,
    drain: Option<&Drain>,
    range: &Range<usize>,
    options: &BedOptions,
) -> Maybe {
    let flows = |i: &usize| c.calm[*i].slope >= options.drip_g_per_s;
    let Some(end) = range.end.checked_sub(1).filter(|_| !range.is_empty()) else {
        return Err(Undefined::because("the next pour begins where this one ends"));
    };
    let cut = |flow: f64| {
        let what = if range.end == c.time_s.len() { "the log ends" } else { "the next pour begins" };
        Err(Undefined::because(format!("{what} before: the beverage still runs at {flow:.1} g/s")))
    };
    if let Some(drain) = drain.filter(|d| d.deviance <= FITS * d.expected)
        && let Some((at_s, gradient)) = drain.under_s(options.drip_g_per_s)
    {
        // A law that is not quite the bed's is off by a mass, and the last of it runs at that flow.
        let off_s = drain.beyond_noise() * c.noise_sd_g / options.drip_g_per_s;
        let sd = drain.variance(&gradient).sqrt().hypot(c.lag_s.sd).hypot(off_s);
        return match at_s <= c.time_s[end] {
            true if sd.is_finite() => Ok(Estimate::new(at_s, sd)),
            _ => cut(c.calm[end].slope.max(options.drip_g_per_s)),
        };
    }
    let Some(last) = range.clone().rev().find(flows) else {
        let flow = options.drip_g_per_s;
        return Err(Undefined::because(format!("no beverage ran at {flow} g/s or more after this pour")));
    };
    if last == end {
        return cut(c.calm[end].slope);
    }
    let (a, b) = (c.calm[last], c.calm[last + 1]);
    let interval_s = (c.time_s[last + 1] - c.time_s[last]).max(1e-9);
    let share = (a.slope - options.drip_g_per_s) / (a.slope - b.slope);
    let bend = (a.slope - b.slope) / interval_s;
    let sd = (a.slope_var.sqrt() / bend).hypot(c.calm_blur_s).hypot(c.lag_s.sd);
    Ok(Estimate::new(c.time_s[last] + share * interval_s, sd))
}
