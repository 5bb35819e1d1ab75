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
/// Nyquist limit: above this fraction of the rate, frequencies are aliased.
const RATE_SHARE: f64 = 0.5;
/// The smoothness is slow to compute: it is evaluated on every n-th sampled curve.
const SMOOTHNESS_EVERY: usize = 4;

/// Metrics of each pour and of the brew.
///
/// # Errors
/// `out_of_range` for an option outside its range.
pub fn metrics(trace: &Trace, segments: &Segments, options: &MetricsOptions) -> Result<Metrics> {
    options.check()?;
    let pours = &segments.pours;
    let samples = used(trace);
    let step_g = trace.water.as_ref().map_or(0.0, |w| w.step_g);
    let row = |k: usize| {
        let row = match (&samples, &segments.fit) {
            (Some(samples), Some(fit)) => flow_metrics(samples, step_g, fit, &pours[k], k, options),
            _ => Err(Undefined::because("the pour was not fitted")),
        };
        let mut row = row.unwrap_or_else(|why| PourMetrics::undefined(&why));
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

/// Flow metrics of one pour.
fn flow_metrics(
    samples: &Samples,
    step_g: f64,
    fit: &Fit,
    pour: &Pour,
    index: usize,
    o: &MetricsOptions,
) -> std::result::Result<PourMetrics, Undefined> {
    let unfitted = || Undefined::because("the pour was not fitted");
    let observation = observation(samples, step_g, fit, pour)?;
    let part = observation.part(pour);
    if observation.samples(&part) < FEWEST {
        let (n, needed) = (observation.samples(&part), FEWEST);
        return Err(Undefined::because(format!(
            "too few samples in the pour: {n}, at least {needed} are needed"
        )));
    }
    if observation.duration_s() > LONGEST_S {
        let lasted_s = observation.duration_s();
        let why =
            format!("pour too long for flow metrics: it lasts {lasted_s:.0} s, the limit is {LONGEST_S} s");
        return Err(Undefined::because(why));
    }
    let fastest_hz = o.fastest_hz.min(RATE_SHARE / samples.interval_s);
    let e = observation.equations(&observation.frequencies(fastest_hz)).ok_or_else(unfitted)?;
    let posterior = PosteriorFlow::new(&observation, &e, &part, o, index as u64);
    let why = "the flow has no plateau";
    let plateau_flow_g_per_s = posterior.estimate(plateau::flow_g_per_s, why);
    let level_g_per_s = plateau_flow_g_per_s.as_ref().map_or(pour.mean_flow_g_per_s.value, |e| e.value);
    // Oscillations are estimated from the readings of all bursts, and a cut is not part of the poured shape.
    let cut = (part != WHOLE).then(|| Undefined::because("an edge lies in running water"));
    let pulsing = match &cut {
        None => Pulsing::new(&observation, &e, pour, level_g_per_s, o),
        Some(why) => Pulsing::undefined(why),
    };
    let smoothness = match cut {
        None => posterior.of_some(
            SMOOTHNESS_EVERY,
            smoothness::smoothness,
            "the spectrum of the flow has no arc length",
        ),
        Some(why) => Err(why),
    };
    let flow_cv = FlowCv::new(&posterior);
    let below = o.pause_flow_g_per_s;
    Ok(PourMetrics {
        plateau_flow_g_per_s,
        peak_flow_g_per_s: posterior.estimate(|c| Some(c.peak().1), why),
        peak_s: posterior.estimate(|c| Some(c.peak().0), why),
        rise_s: posterior.estimate(ramps::rise_s, "the flow does not rise in this pour"),
        fall_s: posterior.estimate(ramps::fall_s, "the flow does not fall in this pour"),
        time_near_plateau_pct: posterior.estimate(|c| plateau::near_pct(c, o.near), why),
        first_half_water_pct: posterior.estimate(first_half::first_half_water_pct, why),
        flow_cv: flow_cv.cv,
        flow_cv_resolved: flow_cv.is_resolved,
        flow_cv_upper: flow_cv.upper,
        drift_g_per_s2: posterior.estimate(drift::drift_g_per_s2, "the plateau is too short for a slope"),
        pulsing_hz: pulsing.hz,
        pulsing_amplitude_g_per_s: pulsing.amplitude_g_per_s,
        pulsing_amplitude_pct: pulsing.amplitude_pct,
        pulsing_p: pulsing.false_alarm,
        smoothness,
        pauses: posterior.estimate(|c| Some(pauses::number(c, below)), why),
        paused_s: posterior.estimate(|c| Some(pauses::time_s(c, below)), why),
        ..PourMetrics::undefined(&unfitted())
    })
}

/// The observations of a pour: those around its bursts.
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
        return Err(Undefined::because("the pour spans bursts that were fitted separately"));
    }
    let first = group.bursts.iter().position(|b| pour.has(b)).ok_or_else(unfitted)?;
    let last = group.bursts.iter().rposition(|b| pour.has(b)).ok_or_else(unfitted)?;
    Observation::new(samples, step_g, fit, group, first, last).ok_or_else(unfitted)
}
