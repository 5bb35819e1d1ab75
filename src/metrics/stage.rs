//! The stage: metrics of each pour and of the brew.

use crate::condition::trace::Trace;
use crate::error::Result;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::metrics::bound::Swung;
use crate::metrics::curve::Curve;
use crate::metrics::curves::Curves;
use crate::metrics::flow_cv::FlowCv;
use crate::metrics::options::MetricsOptions;
use crate::metrics::parts::{Parts, Resolution};
use crate::metrics::pulsing::Pulsing;
use crate::metrics::result::{Metrics, PourMetrics};
use crate::metrics::{drift, first_half, pauses, plateau, pulse_mass, ramps, smoothness, whole};
use crate::model::samples::Samples;
use crate::segment::fitted::Fit;
use crate::segment::observations::used;
use crate::segment::posterior::Posterior;
use crate::segment::pour::{Pour, Segments};
use crate::segment::regimes::LEVEL_SD;

/// Fewest samples while water arrives.
const FEWEST: usize = 8;
/// Longest pour with flow metrics, s. Curves of longer ones would fill the memory.
const LONGEST_S: f64 = 600.0;
/// The smoothness is slow to compute: it is evaluated on every n-th drawn curve.
const SMOOTHNESS_EVERY: usize = 8;

/// Metrics of each pour and of the brew.
///
/// # Errors
/// `out_of_range` for an option outside its range.
pub fn metrics(trace: &Trace, segments: &Segments, options: &MetricsOptions) -> Result<Metrics> {
    let posterior = match (used(trace), &segments.fit) {
        (Some(x), Some(fit)) => Some(Posterior::new(&x, fit)),
        _ => None,
    };
    metrics_of(trace, segments, posterior.as_ref(), options)
}

/// The same from the curves of the posterior.
pub(crate) fn metrics_of(
    trace: &Trace,
    segments: &Segments,
    posterior: Option<&Posterior>,
    options: &MetricsOptions,
) -> Result<Metrics> {
    options.check()?;
    let pours = &segments.pours;
    let samples = used(trace);
    let mut swung: Option<Swung> = None;
    let row = |k: usize| {
        let row = match (posterior, &samples, &segments.fit) {
            (Some(posterior), Some(x), Some(fit)) => {
                let fitted = Fitted { trace, x, fit, posterior };
                let by_hand = !segments.covariance.has(k);
                flow_metrics(&fitted, (&pours[k], by_hand), &mut swung, options)
            }
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

/// A log with its fit.
struct Fitted<'a> {
    trace: &'a Trace,
    x: &'a Samples,
    fit: &'a Fit,
    posterior: &'a Posterior,
}

/// Flow metrics of one pour.
fn flow_metrics(
    &Fitted { trace, x, fit, posterior }: &Fitted,
    (pour, by_hand): (&Pour, bool),
    swung: &mut Option<Swung>,
    o: &MetricsOptions,
) -> std::result::Result<PourMetrics, Undefined> {
    let unfitted = || Undefined::because("the pour was not fitted");
    let (start_s, end_s) = (pour.start_s.value, pour.end_s.value);
    let samples =
        trace.time_s.partition_point(|&t| t < end_s) - trace.time_s.partition_point(|&t| t < start_s);
    if samples < FEWEST {
        return Err(Undefined::because(format!(
            "too few samples in the pour: {samples}, at least {FEWEST} are needed"
        )));
    }
    if end_s - start_s > LONGEST_S {
        let lasted_s = end_s - start_s;
        let why =
            format!("pour too long for flow metrics: it lasts {lasted_s:.0} s, the limit is {LONGEST_S} s");
        return Err(Undefined::because(why));
    }
    let middle_s = f64::midpoint(start_s, end_s);
    let group = posterior.group_of(middle_s).ok_or_else(unfitted)?;
    // A pour that was set by hand ends where its label says.
    let detected = fit.place_of(middle_s).filter(|_| !by_hand);
    let span_s = detected.map_or((start_s, end_s), |place| place.span_s);
    let curves = Curves::new(&posterior.within(group, span_s), o);
    let flows = |edge: &str| Undefined::because(format!("{edge} lies in running water"));
    let runs = |at_s: f64| {
        let half = 0.5 * pour.mean_flow_g_per_s.value;
        by_hand && curves.mean(|c| Some(c.flow_at(at_s))).is_some_and(|flow| flow > half)
    };
    // A cell within the pour: the curves end at its edges.
    let cell_s = curves.mean(|c| Some(c.step_s())).unwrap_or(0.0);
    let (starts, ends) = (runs(start_s + cell_s), runs(end_s - cell_s));
    let why = "the plateau is shorter than 1 s";
    let no_flow = "no water arrives";
    let plateau_flow_g_per_s: Maybe = curves
        .extreme(|c| c.plateau_g_per_s(), why)
        .map(|e| Estimate::new(e.value, e.sd.hypot(LEVEL_SD * e.value)));
    // Oscillations are estimated from the readings of a whole pour, and a cut is not part of the poured shape.
    let pulsing = if starts || ends {
        Pulsing::undefined(&flows("an edge"))
    } else {
        Pulsing::new((x, trace.water.as_ref().map_or(0.0, |w| w.step_g)), fit, group, pour, o)
    };
    let smoothness = if starts || ends {
        Err(flows("an edge"))
    } else {
        curves.some(SMOOTHNESS_EVERY, smoothness::smoothness, "the spectrum of the flow has no arc length")
    };
    let ramp = |is_cut: bool, edge: &str, of: fn(&Curve) -> Option<f64>, why: &str| {
        if is_cut { Err(flows(edge)) } else { curves.extreme(of, why) }
    };
    let below = o.pause_flow_g_per_s;
    let from_s = curves.mean(|c| c.plateau_s.map(|p| p.0));
    let to_s = curves.mean(|c| c.plateau_s.map(|p| p.1));
    let flow_cv = match (&plateau_flow_g_per_s, from_s.zip(to_s)) {
        (Ok(plateau), Some((from_s, to_s))) => {
            if swung.as_ref().is_none_or(|s| s.group != group) {
                *swung = Some(Swung::new(x, fit, group, trace.rate_hz, o));
            }
            let readings =
                x.time_s.partition_point(|&t| t < to_s) - x.time_s.partition_point(|&t| t < from_s);
            let resolution = Resolution {
                noise_sd_g: x.noise_sd_g,
                readings: readings.max(1) as f64,
                rate_hz: trace.rate_hz,
                tau_s: fit.delay_s.value,
                flow_g_per_s: plateau.value,
            };
            let cv = |c: &Curve| Parts::all(c, below);
            match swung.as_ref().map(|s| s.bound(span_s, (from_s, to_s), o, cv)) {
                Some(bound) => FlowCv::new(&curves, &resolution, to_s - from_s, below, &bound),
                None => FlowCv::undefined(&unfitted()),
            }
        }
        (Err(why), _) => FlowCv::undefined(why),
        (_, None) => FlowCv::undefined(&Undefined::because(why)),
    };
    let fewer = format!("the pour has fewer than {} pulses with pauses between them", pulse_mass::FEWEST);
    Ok(PourMetrics {
        plateau_flow_g_per_s,
        peak_flow_g_per_s: curves.extreme(|c| c.peak().map(|p| p.1), no_flow),
        peak_s: curves.averaged(|c| c.peak().map(|p| p.0), no_flow),
        rise_s: ramp(starts, "the start", ramps::rise_s, "the flow does not rise in this pour"),
        fall_s: ramp(ends, "the end", ramps::fall_s, "the flow does not fall in this pour"),
        time_near_plateau_pct: curves.averaged(|c| plateau::near_pct(c, o.near), why),
        first_half_water_pct: curves.averaged(first_half::first_half_water_pct, no_flow),
        flow_cv: flow_cv.cv,
        flow_cv_resolved: flow_cv.is_resolved,
        flow_cv_upper: flow_cv.upper,
        flow_cv_seen_upper: flow_cv.seen_upper,
        flow_cv_trend: flow_cv.trend,
        flow_cv_slow: flow_cv.slow,
        flow_cv_fast: flow_cv.fast,
        flow_cv_unseen: flow_cv.unseen,
        resolved_to_hz: flow_cv.resolved_to_hz,
        pulse_mass_cv: curves.averaged(|c| pulse_mass::pulse_mass_cv(c, below), &fewer),
        drift_g_per_s2: curves.averaged(drift::drift_g_per_s2, why),
        pulsing_hz: pulsing.hz,
        pulsing_amplitude_g_per_s: pulsing.amplitude_g_per_s,
        pulsing_amplitude_pct: pulsing.amplitude_pct,
        pulsing_p: pulsing.false_alarm,
        smoothness,
        pauses: curves.averaged(|c| Some(pauses::number(c, below)), no_flow),
        paused_s: curves.averaged(|c| Some(pauses::time_s(c, below)), no_flow),
        ..PourMetrics::undefined(&unfitted())
    })
}
