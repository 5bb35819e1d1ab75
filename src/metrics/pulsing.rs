//! Oscillations of the flow in a pour.
//!
//! - measures: frequency and amplitude of the strongest oscillation of the flow, and the probability that one
//!   as strong arises from noise.
//! - formula: generalised least-squares periodogram of the readings on their own stamps: cosine and sine of the flow,
//!   whitened by the Kalman filter of the flow model without oscillation and quick process. z is half of the decrease
//!   of chi-square over the residual variance. False-alarm probability 1 - (1 - e^-z) exp(-W e^-z sqrt z), W =
//!   bandwidth sqrt(4 pi var t).
//! - needs: the readings in and around the pour, the fitted edges, the scale's noise and lag.
//! - minimum samples: 8 while water arrives; one and a half periods in the pour.
//! - valid when: the frequency is below `fastest_hz` and half of the rate. The lag and the integral attenuate
//!   quick oscillations: at a time constant of 0.3 s and 2 Hz the amplitude of the reading in g is about a
//!   fiftieth of that of the flow in g/s.
//! - reference: Zechmeister and Kuerster 2009, Astron. Astrophys. 496, 577; Baluev 2008, Mon. Not. R. Astron.
//!   Soc. 385, 1279, table 1 and equation 6 as implemented by astropy.timeseries (`fap_baluev`, normalisation
//!   `psd`); scipy.signal.lombscargle in the tests.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::metrics::options::MetricsOptions;
use crate::model::samples::Samples;
use crate::segment::beats::{Beats, Readout};
use crate::segment::fitted::Fit;
use crate::segment::pour::Pour;
use std::f64::consts::{PI, TAU};

/// Fewest periods in a pour.
const FEWEST: f64 = 1.5;
/// Distance of neighbouring frequencies, cycles per pour.
const STEP: f64 = 0.5;
/// Largest number of frequencies of one pour; a pour of minutes has a coarser grid.
const MAX_FREQUENCIES: f64 = 200.0;
/// Steps of the refined frequency grid to each side of the strongest.
const REFINED: usize = 8;
/// Rounding with an sd below this fraction of the step is attributed to the noise.
const MIN_ROUNDING: f64 = 0.01;
/// Largest fraction of the rate of readings.
const NYQUIST: f64 = 0.5;

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

    /// The strongest oscillation of a pour of one group, weighed with steps of `step_g`.
    pub(super) fn new(
        (x, step_g): (&Samples, f64),
        fit: &Fit,
        group: usize,
        pour: &Pour,
        o: &MetricsOptions,
    ) -> Self {
        let too_short = || Undefined::because("the pour is too short to detect an oscillation");
        let group = &fit.groups[group];
        let window = group.window(x);
        let hand = fit.hand_at_mode();
        let (start_s, end_s) = (pour.start_s.value, pour.end_s.value);
        let sd_g = x.rounding_var_g2.sqrt();
        let readout = (sd_g > MIN_ROUNDING * step_g).then_some(Readout { step_g, sd_g });
        let beats = Beats::new(&window, &group.bursts, &hand, readout, (start_s, end_s));
        // Readings that depend on the water of this pour.
        let first = window.time_s.partition_point(|t| *t < start_s);
        let last = window.time_s.partition_point(|t| *t <= end_s + 3.0 * hand.delay_s);
        let time_s = &window.time_s[first..last];
        let duration_s = end_s - start_s;
        let (slowest, fastest) = (FEWEST / duration_s, o.fastest_hz.min(NYQUIST / x.interval_s));
        let step = (STEP / duration_s).max(fastest / MAX_FREQUENCIES);
        let gain = |hz: f64| beats.at(hz).map_or(0.0, |b| b.gain);
        let coarse: Vec<(f64, f64)> = (0..)
            .map(|k| slowest + step * f64::from(k))
            .take_while(|hz| *hz <= fastest)
            .map(|hz| (hz, gain(hz)))
            .collect();
        let Some((about, _)) = coarse.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1)) else {
            return Self::undefined(&too_short());
        };
        let fine = step / REFINED as f64;
        let near = |k: usize| about + (k as f64 - REFINED as f64) * fine;
        let gains: Vec<f64> = (0..=2 * REFINED).map(|k| gain(near(k))).collect();
        let top = (1..gains.len() - 1).max_by(|a, b| gains[*a].total_cmp(&gains[*b])).unwrap_or(1);
        let Some(beat) = beats.at(near(top)) else { return Self::undefined(&too_short()) };
        let deviance: f64 = beats.innovations()[first..last].iter().map(|z| z * z).sum();
        let degrees = time_s.len() as f64 - 2.0;
        let residual_var = ((deviance - 2.0 * beat.gain) / degrees).max(1.0);
        let false_alarm = false_alarm(beat.gain / residual_var, time_s, fastest - slowest);
        if false_alarm > o.false_alarm {
            let why = format!("no significant oscillation: false-alarm probability {false_alarm:.2}");
            let none = Self::undefined(&Undefined::because(why));
            return Self { false_alarm: Ok(Estimate::exact(false_alarm)), ..none };
        }
        // A parabola through the three highest gains; the gain is a log-likelihood.
        let (a, b, c) = (gains[top - 1], gains[top], gains[top + 1]);
        let bend = (2.0 * b - a - c).max(1e-9);
        let hz = near(top) + fine * (0.5 * (c - a) / bend).clamp(-1.0, 1.0);
        let hz_sd = fine * (residual_var / bend).sqrt();
        // Noise adds to the squared amplitude: its mean is subtracted.
        let size = (beat.square - residual_var * beat.noise_var).max(0.0).sqrt();
        let lagged = (TAU * hz * hand.delay_s).powi(2);
        let by_lag = size * lagged / (1.0 + lagged) * fit.delay_s.sd / hand.delay_s;
        let amplitude = Estimate::new(size, (residual_var * beat.noise_var / 2.0).sqrt().hypot(by_lag));
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
