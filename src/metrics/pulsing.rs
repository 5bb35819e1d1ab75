//! Whether a hand pours in beats.
//!
//! - measures: frequency and amplitude of the strongest beat of the flow, and how likely noise alone would feign one as strong.
//! - formula: generalised least-squares periodogram of the readings on their own stamps: at each frequency the fall of chi-square when
//!   a beat joins the bursts and a slow change, z = half of it, over the variance that is left. False-alarm probability
//!   1 - (1 - e^-z) exp(-W e^-z sqrt z), W = bandwidth sqrt(4 pi var t).
//! - needs: the readings in and around the pour, the scale's noise and lag.
//! - minimum samples: 8 while water arrives; one and a half beats in the pour.
//! - valid when: the beat is slower than `fastest_hz` and half of the rate. The lag and the integral hide quick beats: at a time constant
//!   of 0.3 s a beat of 2 Hz moves the reading by a fortieth of its amplitude in g/s.
//! - reference: Zechmeister and Kuerster 2009, Astron. Astrophys. 496, 577; Baluev 2008, Mon. Not. R. Astron. Soc. 385, 1279 (both from
//!   memory); scipy.signal.lombscargle in the tests.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::metrics::equations::Equations;
use crate::metrics::observation::Observation;
use crate::metrics::options::MetricsOptions;
use crate::segment::pour::Pour;
use std::f64::consts::{PI, TAU};

/// Fewest beats in a pour.
const FEWEST: f64 = 1.5;
/// Steps between two frequencies when the strongest is looked at closely, to each side.
const CLOSELY: usize = 8;

/// The strongest beat.
pub(super) struct Pulsing {
    pub hz: Maybe,
    pub amplitude_g_per_s: Maybe,
    pub amplitude_pct: Maybe,
    pub false_alarm: Maybe,
}

impl Pulsing {
    pub(super) fn undefined(why: &Undefined) -> Self {
        let all = || Err(why.clone());
        Self { hz: all(), amplitude_g_per_s: all(), amplitude_pct: all(), false_alarm: all() }
    }

    /// `level_g_per_s`: the flow of which the beat is a share.
    pub(super) fn new(
        observation: &Observation,
        e: &Equations,
        pour: &Pour,
        level_g_per_s: f64,
        o: &MetricsOptions,
    ) -> Self {
        let slowest = FEWEST / observation.duration_s();
        let best = (1..e.hz.len())
            .filter(|k| e.hz[*k] >= slowest)
            .max_by(|a, b| e.beat(*a).gain.total_cmp(&e.beat(*b).gain));
        let Some(best) = best else {
            return Self::undefined(&Undefined::because("the pour is too short for a beat to show"));
        };
        let step = (e.hz[1] - e.hz[0]) * 2.0 / CLOSELY as f64;
        let near = (0..=2 * CLOSELY).map(|k| e.hz[best] + (k as f64 - CLOSELY as f64) * step);
        let near: Vec<f64> = std::iter::once(e.hz[0]).chain(near).collect();
        let Some(close) = observation.equations(&near) else {
            return Self::undefined(&Undefined::because("the readings do not tell beats apart"));
        };
        let gains: Vec<f64> = (1..near.len()).map(|k| close.beat(k).gain).collect();
        let top = (1..gains.len() - 1).max_by(|a, b| gains[*a].total_cmp(&gains[*b])).unwrap_or(1);
        let beat = close.beat(top + 1);
        let left = ((e.deviance - 2.0 * beat.gain) / (e.degrees - 2.0)).max(1.0);
        let false_alarm = false_alarm(beat.gain / left, observation.time_s(), o.fastest_hz - slowest);
        if false_alarm > o.false_alarm {
            let why = format!("no beat stands out of the noise: false-alarm probability {false_alarm:.2}");
            let none = Self::undefined(&Undefined::because(why));
            return Self { false_alarm: Ok(Estimate::exact(false_alarm)), ..none };
        }
        // A parabola through the three highest gains; the gain is a log-likelihood.
        let (a, b, c) = (gains[top - 1], gains[top], gains[top + 1]);
        let bend = (2.0 * b - a - c).max(1e-9);
        let hz = near[top + 1] + step * (0.5 * (c - a) / bend).clamp(-1.0, 1.0);
        let hz_sd = step * (left / bend).sqrt();
        // Noise lengthens a pointer: its mean square is taken out.
        let share = (beat.square - left * beat.noise_var).max(0.0).sqrt();
        let lagged = (TAU * hz * observation.scale.tau_s).powi(2);
        let by_lag = share * lagged / (1.0 + lagged) * observation.tau_sd_s / observation.scale.tau_s;
        let amplitude = Estimate::new(share, (left * beat.noise_var / 2.0).sqrt().hypot(by_lag));
        let amplitude = amplitude.scaled(level_g_per_s);
        Self {
            hz: Ok(Estimate::new(hz, hz_sd)),
            amplitude_g_per_s: Ok(amplitude),
            amplitude_pct: Ok(amplitude.over(pour.mean_flow_g_per_s).scaled(100.0)),
            false_alarm: Ok(Estimate::exact(false_alarm)),
        }
    }
}

/// Probability that noise gives a peak as high anywhere in the band.
fn false_alarm(z: f64, time_s: &[f64], band_hz: f64) -> f64 {
    let n = time_s.len() as f64;
    let mean = time_s.iter().sum::<f64>() / n;
    let var = time_s.iter().map(|t| (t - mean).powi(2)).sum::<f64>() / n;
    let width = band_hz * (4.0 * PI * var).sqrt();
    let single = (-z).exp();
    1.0 - (1.0 - single) * (-width * single * z.sqrt()).exp()
}
