//! In: the water that `flow` finds and the collected beverage. Out: what the bed holds, over time and at one instant.

use crate::bed::collected::Collected;
use crate::bed::result::BedCurve;
use crate::condition::trace::Trace;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::segment::flow::Flow;

/// Why no pour has a drainage.
pub(super) fn no_pour(trace: &Trace) -> Undefined {
    Undefined::because(match &trace.water {
        None => "the water was not weighed",
        Some(_) => "no pour was found in the water channel",
    })
}

/// Water held, beverage and its flow on the trace's stamps.
///
/// - measures: what lies between the two scales, in the bed or on its way to the server
/// - formula: water poured less beverage collected, both with the lag of their scale taken out
/// - needs: both weights for the water held; the beverage alone for its flow
/// - minimum samples: none
/// - valid when: both scales stamp by one clock. The beverage's scale is taken to have the lag of the water's, unless `beverage_lag_s`
///   says otherwise; a lag that is off by 0.1 s moves the water held by 0.1 s of the beverage's flow
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

/// Water and beverage when a pour starts: water as it was at the last stamp before, beverage between the stamps.
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
        return Err(Undefined::because("the beverage was no longer weighed"));
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

/// Share of the water poured so far that has been collected.
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
