//! In: the beverage after a pour. Out: when it stops.

use crate::bed::collected::Collected;
use crate::bed::law::Drain;
use crate::bed::options::BedOptions;
use crate::estimate::{Estimate, Maybe, Undefined};
use std::ops::Range;

/// A law whose residuals exceed twice the scale's noise (this is its square) does not give the end of the flow.
const FITS: f64 = 4.0;

/// End of the drawdown after a pour, s.
///
/// - measures: when the beverage stops
/// - formula: the instant from which the beverage's flow stays under `drip_g_per_s` (0.1 g/s): that of the fitted
///   drainage if its residuals are at most twice the scale's noise, else the last crossing of the smoothed flow
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
        return Err(Undefined::because("the next pour begins when this one ends"));
    };
    let cut = |flow: f64| {
        let what = if range.end == c.time_s.len() { "the log ends" } else { "the next pour begins" };
        Err(Undefined::because(format!("{what} before: the beverage still runs at {flow:.1} g/s")))
    };
    if let Some(drain) = drain.filter(|d| d.deviance <= FITS * d.expected)
        && let Some((at_s, gradient)) = drain.under_s(options.drip_g_per_s)
    {
        // The error of an approximate law is a mass, and its last part runs at that flow.
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::trend::Smoothed;

    fn end(slopes: &[f64], range: Range<usize>) -> Maybe {
        let time: Vec<f64> = (0..slopes.len()).map(|i| 0.125 * i as f64).collect();
        let mut c = Collected::bare(&time, vec![100.0; slopes.len()]);
        let of = |&slope: &f64| Smoothed { slope, slope_var: 0.0004, ..Smoothed::default() };
        (c.calm, c.calm_blur_s) = (slopes.iter().map(of).collect(), 0.5);
        drawdown_end(&c, None, &range, &BedOptions::default())
    }

    #[test]
    fn without_a_law_the_end_is_the_last_crossing_of_the_smoothed_flow() {
        let found = end(&[3.0, 1.0, 0.2, 0.05, 0.0, 0.0], 0..6).unwrap();
        // From 0.2 to 0.05 g/s within an eighth of a second: two thirds of the way to 0.1 g/s.
        assert!((found.value - (0.25 + 0.125 * 2.0 / 3.0)).abs() < 1e-12, "{found}");
        // The flow's sd of 0.02 g/s over a fall of 1.2 g/s2, the smoother's blur of 0.5 s, and a lag with an sd of 0.05
        // s.
        let by_hand = (0.02_f64 / 1.2).hypot(0.5).hypot(0.05);
        assert!((found.sd - by_hand).abs() < 1e-12, "{found}, not {by_hand}");
        // It comes back once more.
        assert!(end(&[3.0, 0.0, 0.0, 0.2, 0.05, 0.0], 0..6).unwrap().value > 0.375);
    }

    #[test]
    fn a_flow_that_runs_to_the_end_is_cut_and_none_has_no_end() {
        let why = |slopes: &[f64], range: Range<usize>| end(slopes, range).unwrap_err().reason;
        let still = [3.0, 1.0, 0.7, 0.6, 0.5, 0.4];
        assert_eq!(why(&still, 0..6), "the log ends before: the beverage still runs at 0.4 g/s");
        assert_eq!(why(&still, 0..4), "the next pour begins before: the beverage still runs at 0.6 g/s");
        assert_eq!(why(&still, 2..2), "the next pour begins when this one ends");
        assert_eq!(why(&[0.05; 6], 0..6), "no beverage ran at 0.1 g/s or more after this pour");
    }
}
