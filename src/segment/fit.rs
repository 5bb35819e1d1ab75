//! In: the used samples and proposed bursts. Out: the bursts and the scale's lag that explain the samples best, with covariances.
//!
//! All edges of a log share one lag. Method: Gauss-Newton on the whitened residuals of all groups at once; the lag is eliminated by
//! its Schur complement, so each group stays small. What is assumed of hand and scale ([`Wander`]) is chosen by likelihood between the
//! rounds. Sd are those of the posterior with the stated expectation of ramps and lag (Tarantola, Inverse Problem Theory, 3.2).

use super::fitted::{Expected, Fit, Group};
use super::propose::USUAL_LAG_S;
use super::samples::Samples;
use super::shape::{Burst, Scale};
use super::wander::Wander;
use super::{SegmentOptions, choose, step};
use crate::Estimate;

/// A lead as good as known, sd in s.
const KNOWN_S: f64 = 1e-5;

/// Streams meet the bed at 1 to 2.4 m/s when they fall 5 to 30 cm: v/g in s.
const USUAL_LEAD_S: Estimate = Estimate::new(0.17, 0.06);

/// The fit that was not chosen, and how likely it is beside the chosen one.
pub(crate) struct Rival {
    pub fit: Fit,
    pub probability: f64,
}

/// A rival less likely than this changes no digit of an sd.
const UNLIKELY: f64 = 0.005;

/// Fits groups of bursts to the samples. `lag` is the lag that was given, if any. A lead that is not given is there only if the log is
/// clearly better explained with one; what was not chosen stands beside, unless the log rules it out.
pub(crate) fn fit(
    x: &Samples,
    proposed: Vec<Vec<Burst>>,
    lag: Option<Estimate>,
    o: &SegmentOptions,
) -> (Fit, Option<Rival>) {
    let (fit, rival) = apart(x, &proposed, lag, o);
    // Groups that turn out to touch belong together.
    let touch = |k: usize| fit.groups[k].end_s() + o.pause_s > fit.groups[k + 1].start_s();
    let mut joined: Vec<Vec<Burst>> = Vec::with_capacity(proposed.len());
    for (k, bursts) in proposed.iter().enumerate() {
        match joined.last_mut() {
            Some(last) if touch(k - 1) => last.extend(bursts),
            _ => joined.push(bursts.clone()),
        }
    }
    if joined.len() < proposed.len() { self::fit(x, joined, lag, o) } else { (fit, rival) }
}

fn apart(
    x: &Samples,
    proposed: &[Vec<Burst>],
    lag: Option<Estimate>,
    o: &SegmentOptions,
) -> (Fit, Option<Rival>) {
    let log_tau_s = match lag {
        Some(given) => {
            let value = given.value.max(1e-3);
            Estimate::new(value.ln(), (given.sd / value).max(1e-4))
        }
        None => Estimate::new(USUAL_LAG_S.ln(), 0.6),
    };
    let groups = windows(x, proposed);
    let with = |lead_s: Estimate| fitted(x, &groups, Expected { log_tau_s, lead_s }, o);
    if let Some(given) = o.stream_lead_s {
        let mut fit = with(Estimate::new(given, KNOWN_S)).0;
        fit.lead_s = Some(Estimate::exact(given));
        return (fit, None);
    }
    let (mut without, misfit) = with(Estimate::new(0.0, KNOWN_S));
    let (led, misfit_led) = with(USUAL_LEAD_S);
    without.lead_s = None;
    // Twice the logarithm of the odds that the log has to give against no lead: there the two are as likely as each other.
    const ODDS: f64 = 6.0;
    let for_lead = misfit - misfit_led - ODDS;
    let (fit, other) = if for_lead > 0.0 && led.lead_s.is_some_and(|l| l.value > 2.0 * l.sd) {
        (led, without)
    } else {
        (without, led)
    };
    let probability = 1.0 / (1.0 + (0.5 * for_lead.abs()).exp());
    (fit, (probability > UNLIKELY).then_some(Rival { fit: other, probability }))
}

/// The fit with what is expected of the scale, and its misfit: minus twice the logarithm of the marginal likelihood.
fn fitted(x: &Samples, groups: &[Group], expected: Expected, o: &SegmentOptions) -> (Fit, f64) {
    let (tau_s, lead_s) = (expected.log_tau_s.value.exp(), expected.lead_s.value);
    let wander = Wander {
        scale: Scale { tau_s, lead_s },
        noise_sd_g: x.noise_sd_g,
        tremor: 0.06,
        swing_rad_per_s: 6.0,
        quality: 1.0,
        stamp_sd_s: 0.0,
        zero_g: 0.003,
        rest_flow_g_per_s: 0.0,
    };
    let tau_s = Estimate::new(tau_s, tau_s * expected.log_tau_s.sd);
    let mut fit = Fit { groups: groups.to_vec(), wander, tau_s, lead_s: Some(expected.lead_s) };
    // One hand's ramps resemble each other: what is expected of each follows their mean, which itself is expected near the option's.
    let mut own = o.clone();
    let mut misfit = f64::INFINITY;
    for most in [8, 7] {
        for _ in 0..most {
            let moved = step::improve(x, &mut fit, &expected, &own);
            misfit = moved.misfit;
            let before = own.ramp_s;
            own.ramp_s = usual_ramp(&fit, o);
            if moved.largest_s.max((own.ramp_s - before).abs()) < 3e-4 {
                break;
            }
        }
        if most == 8 {
            fit.wander = choose::wander(x, &fit, &own);
        }
    }
    (fit, misfit)
}

/// Mean ramp of this hand, s: the mean of the fitted ones and of two more that the option gives.
fn usual_ramp(fit: &Fit, o: &SegmentOptions) -> f64 {
    let ramps: Vec<f64> = fit
        .groups
        .iter()
        .filter(|g| g.is_told())
        .flat_map(|g| &g.bursts)
        .flat_map(|b| [b.rise_ramp_s, b.fall_ramp_s])
        .collect();
    (ramps.iter().sum::<f64>() + 2.0 * o.ramp_s) / (ramps.len() + 2) as f64
}

/// Which samples tell of which group: from the rest before to the rest after, a few seconds of each.
fn windows(x: &Samples, proposed: &[Vec<Burst>]) -> Vec<Group> {
    const REST_S: f64 = 3.0;
    const TAIL_S: f64 = 1.5;
    const NEXT_S: f64 = 0.7;
    let edges: Vec<(f64, f64)> =
        proposed.iter().map(|g| (g[0].rise_s, g.last().map_or(f64::NAN, |b| b.fall_s))).collect();
    let index = |t: f64| x.time_s.partition_point(|&s| s < t);
    let group = |(k, bursts): (usize, &Vec<Burst>)| {
        let (rise, fall) = edges[k];
        let earliest = if k > 0 { index(edges[k - 1].1 + TAIL_S) } else { 0 };
        let latest = edges.get(k + 1).map_or(x.time_s.len(), |next| index(next.0 - NEXT_S));
        // At least five samples on each side, however far a gap puts them.
        let from = index(rise - REST_S).min(index(rise - NEXT_S).saturating_sub(5)).max(earliest);
        let to = index(fall + REST_S).max(index(fall + TAIL_S) + 5).min(latest).max(from);
        let calm = &x.mass_g[from..index(rise - NEXT_S / 2.0).clamp(from, to)];
        let base_g = if calm.is_empty() {
            x.mass_g.get(from).copied().unwrap_or(0.0)
        } else {
            calm.iter().sum::<f64>() / calm.len() as f64
        };
        Group { bursts: bursts.clone(), base_g, from, to, covariance: Vec::new(), excess: 1.0 }
    };
    proposed.iter().enumerate().map(group).collect()
}
