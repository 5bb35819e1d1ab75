//! The stage: metrics of each pour and of the brew.

use crate::condition::trace::Trace;
use crate::error::Result;
use crate::estimate::Undefined;
use crate::metrics::flow_cv::FlowCv;
use crate::metrics::observation::{Observation, WHOLE};
use crate::metrics::options::MetricsOptions;
use crate::metrics::posterior_flow::{LONGEST_S, PosteriorFlow};
use crate::metrics::pulsing::Pulsing;
use crate::metrics::result::{Metrics, PourMetrics};
use crate::metrics::{drift, first_half, pauses, plateau, ramps, smoothness, whole};
use crate::model::samples::Samples;
use crate::segment::fitted::Fit;
use crate::segment::observations::used;
use crate::segment::pour::{Pour, Segments};

/// Fewest samples while water arrives.
const FEWEST: usize = 8;
/// Beats quicker than this share of the rate are not told from slower ones.
const RATE_SHARE: f64 = 0.5;
/// The smoothness takes long: every which draw is asked.
const SMOOTHNESS_EVERY: usize = 4;

/// Metrics each pour and the brew.
///
/// # Errors
/// `out_of_range` for an option outside its range.
pub fn metrics(trace: &Trace, segments: &Segments, options: &MetricsOptions) -> Result<Metrics> {
    options.check()?;
    let pours = &segments.pours;
    let samples = used(trace);
    let step_g = trace.water.as_ref().map_or(0.0, |w| w.step_g);
    let row = |k: usize| {
        let seen = match (&samples, &segments.fit) {
            (Some(samples), Some(fit)) => of_hand(samples, step_g, fit, &pours[k], k, options),
            _ => Err(Undefined::because("the pour was not fitted")),
        };
        let mut row = seen.unwrap_or_else(|why| PourMetrics::undefined(&why));
        row.water_share_pct = whole::water_share_pct(pours, k);
        row.rest_before_s = match k.checked_sub(1).and_then(|k| segments.rests.get(k)) {
            Some(rest) => Ok(rest.duration_s),
            None => Err(Undefined::because("no pour comes before the first")),
        };
        row
    };
    Ok(Metrics {
        pours: (0..pours.len()).map(row).collect(),
        pouring_flow_g_per_s: whole::pouring_flow_g_per_s(pours),
        longest_rest_s: whole::longest_rest_s(&segments.rests),
    })
}

/// What the readings of one pour tell of the hand.
fn of_hand(
    samples: &Samples,
    step_g: f64,
    fit: &Fit,
    pour: &Pour,
    place: usize,
    o: &MetricsOptions,
) -> std::result::Result<PourMetrics, Undefined> {
    let unfitted = || Undefined::because("the pour was not fitted");
    let observation = observation(samples, step_g, fit, pour)?;
    let part = observation.part(pour);
    if observation.samples(&part) < FEWEST {
        let (n, needed) = (observation.samples(&part), FEWEST);
        return Err(Undefined::because(format!("the pour has {n} samples, and {needed} are needed")));
    }
    if observation.duration_s() > LONGEST_S {
        let took_s = observation.duration_s();
        let why =
            format!("the pour lasts {took_s:.0} s, and the hand is told of in pours up to {LONGEST_S} s");
        return Err(Undefined::because(why));
    }
    let fastest_hz = o.fastest_hz.min(RATE_SHARE / samples.interval_s);
    let e = observation.equations(&observation.frequencies(fastest_hz)).ok_or_else(unfitted)?;
    let hand = PosteriorFlow::new(&observation, &e, &part, o, place as u64);
    let why = "the flow has no plateau";
    let plateau_flow_g_per_s = hand.estimate(plateau::flow_g_per_s, why);
    let level_g_per_s = plateau_flow_g_per_s.as_ref().map_or(pour.mean_flow_g_per_s.value, |e| e.value);
    // Beats are sought in the readings of all the bursts, and a cut is no shape that a hand made.
    let cut = (part != WHOLE).then(|| Undefined::because("an edge cuts running water"));
    let pulsing = match &cut {
        None => Pulsing::new(&observation, &e, pour, level_g_per_s, o),
        Some(why) => Pulsing::undefined(why),
    };
    let smoothness = match cut {
        None => hand.of_some(SMOOTHNESS_EVERY, smoothness::smoothness, "the flow has no shape"),
        Some(why) => Err(why),
    };
    let flow_cv = FlowCv::new(&hand);
    let below = o.pause_flow_g_per_s;
    Ok(PourMetrics {
        plateau_flow_g_per_s,
        peak_flow_g_per_s: hand.estimate(|c| Some(c.peak().1), why),
        peak_s: hand.estimate(|c| Some(c.peak().0), why),
        rise_s: hand.estimate(ramps::rise_s, "the flow does not rise in this pour"),
        fall_s: hand.estimate(ramps::fall_s, "the flow does not fall in this pour"),
        time_near_plateau_pct: hand.estimate(|c| plateau::near_pct(c, o.near), why),
        first_half_water_pct: hand.estimate(first_half::first_half_water_pct, why),
        flow_cv: flow_cv.cv,
        flow_cv_resolved: flow_cv.is_resolved,
        flow_cv_upper: flow_cv.upper,
        drift_g_per_s2: hand.estimate(drift::drift_g_per_s2, "the plateau is too short for a slope"),
        pulsing_hz: pulsing.hz,
        pulsing_amplitude_g_per_s: pulsing.amplitude_g_per_s,
        pulsing_amplitude_pct: pulsing.amplitude_pct,
        pulsing_p: pulsing.false_alarm,
        smoothness,
        pauses: hand.estimate(|c| Some(pauses::number(c, below)), why),
        paused_s: hand.estimate(|c| Some(pauses::time_s(c, below)), why),
        ..PourMetrics::undefined(&unfitted())
    })
}

/// The readings of a pour: those around its bursts.
fn observation(
    samples: &Samples,
    step_g: f64,
    fit: &Fit,
    pour: &Pour,
) -> std::result::Result<Observation, Undefined> {
    let mut of_pour = fit.groups.iter().filter(|group| group.bursts.iter().any(|b| pour.has(b)));
    let unfitted = || Undefined::because("the pour was not fitted");
    let group = of_pour.next().ok_or_else(unfitted)?;
    if of_pour.next().is_some() {
        return Err(Undefined::because("the pour joins water that was fitted apart"));
    }
    let first = group.bursts.iter().position(|b| pour.has(b)).ok_or_else(unfitted)?;
    let last = group.bursts.iter().rposition(|b| pour.has(b)).ok_or_else(unfitted)?;
    Observation::new(samples, step_g, fit, group, first, last).ok_or_else(unfitted)
}
