//! In: the water by `flow` and the collected beverage. Out: the holdup of the bed, over time and at one instant.

use crate::bed::collected::Collected;
use crate::bed::result::BedCurve;
use crate::condition::trace::Trace;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::segment::flow::Flow;

/// Why no pour has a drainage.
pub(super) fn no_pour(trace: &Trace) -> Undefined {
    Undefined::because(match &trace.water {
        None => "the water was not weighed",
        Some(_) => "no pour was detected in the water channel",
    })
}

/// Water held, beverage and its flow on the trace's stamps.
///
/// - measures: the holdup: water between the two scales, in the bed or on its way to the server
/// - formula: water poured less beverage collected, both corrected for the lag of their scale
/// - needs: both weights for the water held; the beverage alone for its flow
/// - minimum samples: none
/// - valid when: both scales stamp by one clock. The beverage's scale is assumed to have the lag of the water's, unless
///   `beverage_lag_s` is given; an error of 0.1 s in the lag changes the holdup by 0.1 s of the beverage's flow
/// - reference: mass balance; `collected.rs` for the smoother
pub(super) fn curve(trace: &Trace, flow: Option<&Flow>, c: &Collected) -> BedCurve {
    let n = trace.time_s.len();
    let unknown = || vec![f64::NAN; n];
    let mut out = BedCurve {
        time_s: trace.time_s.clone(),
        held_g: unknown(),
        held_sd_g: unknown(),
        beverage_g: unknown(),
        beverage_sd_g: unknown(),
        beverage_flow_g_per_s: unknown(),
        beverage_flow_sd_g_per_s: unknown(),
    };
    for (k, s) in c.smooth.iter().enumerate() {
        let i = c.first + k;
        out.beverage_g[i] = s.level;
        out.beverage_sd_g[i] = s.level_var.sqrt();
        out.beverage_flow_g_per_s[i] = s.slope.max(0.0);
        out.beverage_flow_sd_g_per_s[i] = s.slope_var.sqrt();
        if let Some(flow) = flow {
            out.held_g[i] = flow.water_g[i] - s.level;
            out.held_sd_g[i] = flow.water_sd_g[i].hypot(s.level_var.sqrt());
        }
    }
    out
}

/// Water and beverage when a pour starts: water at the last stamp before it, beverage interpolated between the stamps.
fn at(
    trace: &Trace,
    flow: Option<&Flow>,
    c: &Collected,
    t_s: f64,
) -> Result<(Estimate, Estimate), Undefined> {
    let flow = flow.ok_or_else(|| match &trace.water {
        None => no_pour(trace),
        Some(_) => Undefined::because("the flow of water was not given"),
    })?;
    let k = c.at(t_s).max(1);
    let (Some(a), Some(b)) = (c.smooth.get(k - 1), c.smooth.get(k)) else {
        return Err(Undefined::because("the log of the beverage ends before"));
    };
    let (from_s, to_s) = (c.time_s[k - 1], c.time_s[k]);
    let share = ((t_s - from_s) / (to_s - from_s).max(1e-9)).clamp(0.0, 1.0);
    let beverage = Estimate::new(a.level + share * (b.level - a.level), a.level_var.max(b.level_var).sqrt());
    let i = c.first + k - 1;
    Ok((Estimate::new(flow.water_g[i], flow.water_sd_g[i]), beverage))
}

/// Water held at an instant, g.
pub(super) fn held_at(trace: &Trace, flow: Option<&Flow>, c: &Collected, t_s: f64) -> Maybe {
    at(trace, flow, c, t_s).map(|(water, beverage)| water.minus(beverage))
}

/// Fraction of the water poured so far that has been collected.
///
/// - measures: how far the bed had drained when the next pour came
/// - formula: beverage over water, both at the start of the pour
/// - needs: both weights
/// - minimum samples: none
/// - valid when: at least 1 g was poured before
/// - reference: mass balance
pub(super) fn drained_fraction_before(trace: &Trace, flow: Option<&Flow>, c: &Collected, t_s: f64) -> Maybe {
    match at(trace, flow, c, t_s)? {
        (water, _) if water.value < 1.0 => Err(Undefined::because("nothing was poured before")),
        (water, beverage) => Ok(beverage.over(water)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::trend::Smoothed;

    fn found<T>(ask: impl Fn(&Trace, &Flow, &Collected) -> T) -> T {
        let time_s: Vec<f64> = (0..20).map(|i| 0.125 * f64::from(i)).collect();
        let series = |of: fn(f64) -> f64| (0..20).map(|i| of(f64::from(i))).collect::<Vec<f64>>();
        let flow = Flow {
            time_s: time_s.clone(),
            flow_g_per_s: vec![0.0; 20],
            flow_sd_g_per_s: vec![0.0; 20],
            water_g: series(|i| 10.0 * i),
            water_sd_g: series(|i| 0.1 * i),
            source: None,
        };
        let trace = Trace {
            time_s: time_s.clone(),
            log_index: (0..20).collect(),
            rate_hz: 8.0,
            time_sd_s: 0.0,
            water: None,
            beverage: None,
            events: Vec::new(),
            brew_start_s: 0.25,
            scale: None,
            meta: crate::log::meta::Meta::default(),
        };
        // The brew begins with the third stamp.
        let mut c = Collected::bare(&time_s[2..], vec![0.0; 18]);
        c.first = 2;
        let of = |i: i32| Smoothed {
            level: 4.0 * f64::from(i),
            level_var: 0.01 * f64::from(i),
            slope: 1.0 - f64::from(i),
            slope_var: 0.04,
        };
        c.smooth = (0..18).map(of).collect();
        ask(&trace, &flow, &c)
    }

    fn near(found: f64, by_hand: f64) {
        assert!((found - by_hand).abs() < 1e-12, "{found}, not {by_hand}");
    }

    #[test]
    fn the_holdup_is_water_less_beverage_at_the_same_stamp() {
        let curve = found(|trace, flow, c| curve(trace, Some(flow), c));
        assert!(curve.held_g[1].is_nan() && curve.beverage_g[1].is_nan(), "before the brew");
        // Stamp 6 is the fifth of the brew: 60 g of water +- 0.6, 16 g of beverage +- 0.2.
        near(curve.held_g[6], 44.0);
        near(curve.held_sd_g[6], 0.6_f64.hypot(0.2));
        near(curve.beverage_sd_g[6], 0.2);
        near(curve.beverage_flow_sd_g_per_s[6], 0.2);
        assert_eq!((curve.beverage_flow_g_per_s[2], curve.beverage_flow_g_per_s[6]), (1.0, 0.0));
    }

    #[test]
    fn at_a_pour_the_water_is_of_the_stamp_before_and_the_beverage_interpolated() {
        let (held, share) = found(|trace, flow, c| {
            (
                held_at(trace, Some(flow), c, 0.78125).unwrap(),
                drained_fraction_before(trace, Some(flow), c, 0.78125).unwrap(),
            )
        });
        // A quarter of the way from stamp 6 to 7: 60 +- 0.6 g, 16 + 1 g with the larger variance, 0.05 g2.
        near(held.value, 60.0 - 17.0);
        near(held.sd, 0.36_f64.sqrt().hypot(0.05_f64.sqrt()));
        near(share.value, 17.0 / 60.0);
        near(share.sd, (0.05_f64.sqrt() / 60.0).hypot(17.0 / 3600.0 * 0.6));
        let early = found(|trace, flow, c| drained_fraction_before(trace, Some(flow), c, 0.0));
        assert!(early.is_ok(), "20 g had been poured: {early:?}");
        assert!(found(|trace, flow, c| held_at(trace, Some(flow), c, 9.0)).is_err());
        assert!(found(|trace, _, c| held_at(trace, None, c, 0.5)).is_err());
    }
}
