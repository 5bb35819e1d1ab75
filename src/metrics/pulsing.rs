//! Oscillations of the flow in a pour.
//!
//! - measures: frequency and amplitude of the strongest oscillation of the flow, and the probability that one
//!   as strong arises from noise.
//! - formula: generalised least-squares periodogram of the readings on their own stamps. At each frequency an
//!   oscillation is added to the bursts and a slow change; z is half of the decrease of chi-square over the
//!   residual variance. False-alarm probability 1 - (1 - e^-z) exp(-W e^-z sqrt z), W = bandwidth sqrt(4 pi var
//!   t).
//! - needs: the readings in and around the pour, the scale's noise and lag.
//! - minimum samples: 8 while water arrives; one and a half periods in the pour.
//! - valid when: the frequency is below `fastest_hz` and half of the rate. The lag and the integral attenuate
//!   quick oscillations: at a time constant of 0.3 s and 2 Hz the amplitude of the reading in g is about a
//!   fiftieth of that of the flow in g/s.
//! - reference: Zechmeister and Kuerster 2009, Astron. Astrophys. 496, 577; Baluev 2008, Mon. Not. R. Astron.
//!   Soc. 385, 1279, table 1 and equation 6 as implemented by astropy.timeseries (`fap_baluev`, normalisation
//!   `psd`); scipy.signal.lombscargle in the tests.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::metrics::equations::Equations;
use crate::metrics::observation::Observation;
use crate::metrics::options::MetricsOptions;
use crate::segment::pour::Pour;
use std::f64::consts::{PI, TAU};

/// Fewest periods in a pour.
const FEWEST: f64 = 1.5;
/// Steps of the refined frequency grid to each side of the strongest.
const REFINED: usize = 8;

/// The strongest oscillation.
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

    /// `level_g_per_s`: the flow of which the amplitude is a fraction.
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
            .max_by(|a, b| e.oscillation(*a).gain.total_cmp(&e.oscillation(*b).gain));
        let Some(best) = best else {
            return Self::undefined(&Undefined::because("the pour is too short to detect an oscillation"));
        };
        let step = (e.hz[1] - e.hz[0]) * 2.0 / REFINED as f64;
        let near = (0..=2 * REFINED).map(|k| e.hz[best] + (k as f64 - REFINED as f64) * step);
        let near: Vec<f64> = std::iter::once(e.hz[0]).chain(near).collect();
        let Some(refined) = observation.equations(&near) else {
            return Self::undefined(&Undefined::because(
                "the readings do not separate oscillations of neighbouring frequencies",
            ));
        };
        let gains: Vec<f64> = (1..near.len()).map(|k| refined.oscillation(k).gain).collect();
        let top = (1..gains.len() - 1).max_by(|a, b| gains[*a].total_cmp(&gains[*b])).unwrap_or(1);
        let oscillation = refined.oscillation(top + 1);
        let residual_var = ((e.deviance - 2.0 * oscillation.gain) / (e.degrees - 2.0)).max(1.0);
        let false_alarm =
            false_alarm(oscillation.gain / residual_var, observation.time_s(), o.fastest_hz - slowest);
        if false_alarm > o.false_alarm {
            let why = format!("no significant oscillation: false-alarm probability {false_alarm:.2}");
            let none = Self::undefined(&Undefined::because(why));
            return Self { false_alarm: Ok(Estimate::exact(false_alarm)), ..none };
        }
        // A parabola through the three highest gains; the gain is a log-likelihood.
        let (a, b, c) = (gains[top - 1], gains[top], gains[top + 1]);
        let bend = (2.0 * b - a - c).max(1e-9);
        let hz = near[top + 1] + step * (0.5 * (c - a) / bend).clamp(-1.0, 1.0);
        let hz_sd = step * (residual_var / bend).sqrt();
        // Noise adds to the squared amplitude: its mean is subtracted.
        let share = (oscillation.square - residual_var * oscillation.noise_var).max(0.0).sqrt();
        let lagged = (TAU * hz * observation.scale.tau_s).powi(2);
        let by_lag = share * lagged / (1.0 + lagged) * observation.tau_sd_s / observation.scale.tau_s;
        let amplitude =
            Estimate::new(share, (residual_var * oscillation.noise_var / 2.0).sqrt().hypot(by_lag));
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
