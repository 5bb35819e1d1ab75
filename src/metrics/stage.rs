//! The stage: metrics of each pour and of the brew.

use crate::condition::trace::Trace;
use crate::error::Result;
use crate::estimate::Undefined;
use crate::metrics::draw::{Hand, LONGEST_S};
use crate::metrics::flow_cv::FlowCv;
use crate::metrics::options::MeasuresOptions;
use crate::metrics::pulsing::Pulsing;
use crate::metrics::result::{Measures, PourMeasures};
use crate::metrics::sight::{Sight, WHOLE};
use crate::metrics::{drift, pauses, plateau, ramps, smoothness, whole};
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

/// Measures each pour and the brew.
///
/// # Errors
/// `out_of_range` for an option outside its range.
pub fn measures(trace: &Trace, segments: &Segments, options: &MeasuresOptions) -> Result<Measures> {
    options.check()?;
    let pours = &segments.pours;
    let samples = used(trace);
    let step_g = trace.water.as_ref().map_or(0.0, |w| w.step_g);
    let row = |k: usize| {
        let seen = match (&samples, &segments.fit) {
            (Some(samples), Some(fit)) => of_hand(samples, step_g, fit, &pours[k], k, options),
            _ => Err(Undefined::because("the pour was not fitted")),
        };
        let mut row = seen.unwrap_or_else(|why| PourMeasures::undefined(&why));
        row.water_share_pct = whole::water_share_pct(pours, k);
        row.rest_before_s = match k.checked_sub(1).and_then(|k| segments.rests.get(k)) {
            Some(rest) => Ok(rest.duration_s),
            None => Err(Undefined::because("no pour comes before the first")),
        };
        row
    };
    Ok(Measures {
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
    o: &MeasuresOptions,
) -> std::result::Result<PourMeasures, Undefined> {
    let unfitted = || Undefined::because("the pour was not fitted");
    let sight = sight(samples, step_g, fit, pour)?;
    let part = sight.part(pour);
    if sight.samples(&part) < FEWEST {
        let (n, needed) = (sight.samples(&part), FEWEST);
        return Err(Undefined::because(format!("the pour has {n} samples, and {needed} are needed")));
    }
    if sight.duration_s() > LONGEST_S {
        let took_s = sight.duration_s();
        let why =
            format!("the pour lasts {took_s:.0} s, and the hand is told of in pours up to {LONGEST_S} s");
        return Err(Undefined::because(why));
    }
    let fastest_hz = o.fastest_hz.min(RATE_SHARE / samples.interval_s);
    let e = sight.equations(&sight.frequencies(fastest_hz)).ok_or_else(unfitted)?;
    let hand = Hand::new(&sight, &e, &part, o, place as u64);
    let why = "the flow has no plateau";
    let plateau_flow_g_per_s = hand.estimate(plateau::flow_g_per_s, why);
    let level_g_per_s = plateau_flow_g_per_s.as_ref().map_or(pour.mean_flow_g_per_s.value, |e| e.value);
    // Beats are sought in the readings of all the bursts, and a cut is no shape that a hand made.
    let cut = (part != WHOLE).then(|| Undefined::because("an edge cuts running water"));
    let pulsing = match &cut {
        None => Pulsing::new(&sight, &e, pour, level_g_per_s, o),
        Some(why) => Pulsing::undefined(why),
    };
    let smoothness = match cut {
        None => hand.of_some(SMOOTHNESS_EVERY, smoothness::smoothness, "the flow has no shape"),
        Some(why) => Err(why),
    };
    let flow_cv = FlowCv::new(&hand);
    let below = o.pause_flow_g_per_s;
    Ok(PourMeasures {
        plateau_flow_g_per_s,
        peak_flow_g_per_s: hand.estimate(|c| Some(c.peak().1), why),
        peak_s: hand.estimate(|c| Some(c.peak().0), why),
        rise_s: hand.estimate(ramps::rise_s, "the flow does not rise in this pour"),
        fall_s: hand.estimate(ramps::fall_s, "the flow does not fall in this pour"),
        time_near_plateau_pct: hand.estimate(|c| plateau::near_pct(c, o.near), why),
        flow_cv: flow_cv.cv,
        flow_cv_resolved: flow_cv.is_resolved,
        flow_cv_upper: flow_cv.upper,
        drift_g_per_s2: hand.estimate(drift::drift_g_per_s2, "the plateau is too short for a slope"),
        pulsing_hz: pulsing.hz,
        pulsing_amplitude_g_per_s: pulsing.amplitude_g_per_s,
        pulsing_amplitude_pct: pulsing.amplitude_pct,
        pulsing_false_alarm: pulsing.false_alarm,
        smoothness,
        pauses: hand.estimate(|c| Some(pauses::number(c, below)), why),
        paused_s: hand.estimate(|c| Some(pauses::time_s(c, below)), why),
        ..PourMeasures::undefined(&unfitted())
    })
}

/// The readings of a pour: those around its bursts.
fn sight(samples: &Samples, step_g: f64, fit: &Fit, pour: &Pour) -> std::result::Result<Sight, Undefined> {
    let mut of_pour = fit.groups.iter().filter(|group| group.bursts.iter().any(|b| pour.has(b)));
    let unfitted = || Undefined::because("the pour was not fitted");
    let group = of_pour.next().ok_or_else(unfitted)?;
    if of_pour.next().is_some() {
        return Err(Undefined::because("the pour joins water that was fitted apart"));
    }
    let first = group.bursts.iter().position(|b| pour.has(b)).ok_or_else(unfitted)?;
    let last = group.bursts.iter().rposition(|b| pour.has(b)).ok_or_else(unfitted)?;
    Sight::new(samples, step_g, fit, group, first, last).ok_or_else(unfitted)
}
