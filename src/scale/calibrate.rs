//! In: a [`Log`] in which loads were added or removed at once. Out: the lag, the noise and the readout resolution of
//! the scale.
//!
//! Every step of the level is fitted by the response of a first-order lag; the lags found are averaged with weights
//! from their sd, which is widened if they differ by more than it allows (Birge 1932).

use crate::condition::longest_path::{Physics, longest_path};
use crate::condition::order::order;
use crate::condition::resolution;
use crate::condition::stretch::{Seen, Stretch, stretches};
use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::log::record::Log;
use crate::model::noise;
use crate::rows::rows;
use crate::scale::response::{Response, response};
use serde::{Deserialize, Serialize};

/// Options of [`calibrate`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CalibrateOptions {
    /// A change of load below this is not fitted, g; above 0.
    pub least_step_g: f64,
}

impl Default for CalibrateOptions {
    fn default() -> Self {
        Self { least_step_g: 20.0 }
    }
}

rows! { $
/// One mass put on the scale, or taken off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LoadStep {
    /// When, s.
    pub at_s: Estimate,
    /// The mass, g; below 0 if it was taken off.
    pub mass_g: Estimate,
    /// The lag through which it shows, s.
    pub lag_s: Estimate,
}
}

rows! { $
/// What a scale does to a mass that is put on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// Time constant of the first-order lag, s. The time that a hand takes to put a mass down is part of it.
    pub scale_lag_s: Estimate,
    /// Standard deviation of the noise at rest, quantisation included, g.
    pub noise_sd_g: Estimate,
    /// Step of the readout, g; 0 if none is seen.
    pub step_g: f64,
    /// The steps that were fitted, in order of time.
    pub steps: Vec<LoadStep>,
}
}

/// A faster rise is a load change, g/s: nothing is poured in a calibration.
const MAX_FLOW: f64 = 5.0;
/// Samples used before and after a load change, s.
const BEFORE_S: f64 = 3.0;
const AFTER_S: f64 = 8.0;
/// A change is excluded if its residuals exceed this fraction of it: the load was put down in pieces.
const MAX_RESIDUAL_FRACTION: f64 = 0.02;

/// Finds the lag of a scale from a log of its water weight (or beverage weight, if that is the only one) in which a
/// mass was put on at once and left, or taken off; more steps give a smaller sd.
///
/// # Errors
/// `out_of_range` for an option outside its range, `too_short` for fewer than 8 samples, `argument` if no step is seen.
///
/// ```
/// use pourline::{CalibrateOptions, Calibration, Log, Meta, calibrate};
/// let time_s: Vec<f64> = (0..100).map(|i| i as f64 * 0.1).collect();
/// let shown = |t: &f64| if *t > 3.04 { 100.0 * (1.0 - (-(t - 3.04) / 0.2_f64).exp()) } else { 0.0 };
/// let reading_g = time_s.iter().map(|t| (shown(t) * 10.0).round() / 10.0).collect();
/// let log = Log::new(time_s, Some(reading_g), None, Meta::default())?;
/// let found: Calibration = calibrate(&log, &CalibrateOptions::default())?;
/// assert!((found.scale_lag_s.value - 0.2).abs() < 0.001);
/// # Ok::<(), pourline::Error>(())
/// ```
pub fn calibrate(log: &Log, options: &CalibrateOptions) -> Result<Calibration> {
    let least_g = options.least_step_g;
    if !(least_g.is_finite() && least_g > 0.0) {
        let rule = "it must be above 0 g".into();
        return Err(Error::OutOfRange { name: "least_step_g".into(), value: least_g, rule, row: 0 });
    }
    let order = order(log.time_s());
    let logged = log.water_g().or(log.beverage_g()).unwrap_or_default();
    let sample = |k: usize| (!order.duplicate[k]).then(|| (order.time_s[k], logged[order.log_index[k]]));
    let (t, y): (Vec<f64>, Vec<f64>) =
        (0..logged.len()).filter_map(sample).filter(|s| s.1.is_finite()).unzip();
    if t.len() < 8 {
        return Err(Error::TooShort { samples: t.len(), needed: 8 });
    }
    let step_g = resolution::readout_resolution(&y);
    let noise_sd_g = noise::noise(&t, &y, order.interval_s, step_g);
    let noise_g = noise_sd_g.value;
    let path = longest_path(&t, &y, Physics { noise_g, max_flow: MAX_FLOW, interval_s: order.interval_s });
    let mut seen = Seen { t, y, plausible: path.on_path.clone(), noise_g };
    let stretches = stretches(&mut seen, &path);
    let fitted = |pair: &[Stretch]| {
        let found = response_between(&seen, pair[0], pair[1])?;
        let enough = found.mass_g.value.abs() >= least_g;
        let clean = found.rms_g < 4.0 * noise_g + MAX_RESIDUAL_FRACTION * found.mass_g.value.abs();
        (enough && clean).then_some(LoadStep { at_s: found.at_s, mass_g: found.mass_g, lag_s: found.lag_s })
    };
    let steps: Vec<LoadStep> = stretches.windows(2).filter_map(fitted).collect();
    if steps.is_empty() {
        let message = format!(
            "no load change of {least_g} g or more between two steady levels is detected: \
             put a mass on the scale at once, with 3 s of rest before and after"
        );
        return Err(Error::Argument { name: "log".into(), message });
    }
    Ok(Calibration { scale_lag_s: mean(&steps), noise_sd_g, step_g, steps })
}

/// Fits the samples between two stretches, with the ends of both.
fn response_between(seen: &Seen, a: Stretch, b: Stretch) -> Option<Response> {
    let from = (a.first..=a.last).find(|&i| seen.t[a.last] - seen.t[i] <= BEFORE_S)?;
    let to = (b.first..=b.last).rev().find(|&i| seen.t[i] - seen.t[b.first] <= AFTER_S)?;
    let valid = |&i: &usize| seen.plausible[i] || (i > a.last && i < b.first);
    let (t, y): (Vec<f64>, Vec<f64>) = (from..=to).filter(valid).map(|i| (seen.t[i], seen.y[i])).unzip();
    response(&t, &y, seen.noise_g)
}

/// Weighted mean; its sd is widened if the lags differ by more than their sd.
fn mean(steps: &[LoadStep]) -> Estimate {
    let weight = |s: &LoadStep| s.lag_s.sd.max(1e-9).powi(-2);
    let sum: f64 = steps.iter().map(weight).sum();
    let value = steps.iter().map(|s| weight(s) * s.lag_s.value).sum::<f64>() / sum;
    let chi2: f64 = steps.iter().map(|s| weight(s) * (s.lag_s.value - value).powi(2)).sum();
    let birge = (chi2 / (steps.len().max(2) - 1) as f64).sqrt().max(1.0);
    Estimate::new(value, birge * sum.recip().sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::meta::Meta;
    use crate::math::random::Random;

    /// Loads added and removed every 8 s, at 10 Hz, noise 0.06 g, readout 0.1 g.
    fn log(lag: f64, masses_g: &[f64], seed: u64) -> Log {
        let mut random = Random::new(seed);
        let at: Vec<f64> = (0..masses_g.len()).map(|k| 5.0 + 8.0 * k as f64 + random.unit()).collect();
        let t: Vec<f64> = (0..80 * (masses_g.len() + 1)).map(|i| i as f64 * 0.1).collect();
        let shown = |t: &f64| -> f64 {
            let gone = |s: &f64| 1.0 - (-(t - s) / lag).exp();
            at.iter().zip(masses_g).filter(|(s, _)| t > s).map(|(s, m)| m * gone(s)).sum()
        };
        let y = t.iter().map(|t| ((shown(t) + 0.06 * random.normal()) * 10.0).round() / 10.0).collect();
        Log::new(t, Some(y), None, Meta::default()).unwrap()
    }

    #[test]
    fn several_load_changes_are_combined_and_the_sd_covers_the_error() {
        let (mut within, mut square) = (0, 0.0);
        for seed in 0..100 {
            let found =
                calibrate(&log(0.2, &[100.0, 100.0, -200.0, 50.0], seed), &Default::default()).unwrap();
            assert_eq!(found.steps.len(), 4);
            assert!((found.steps[2].mass_g.value + 200.0).abs() < 0.2);
            let z = (found.scale_lag_s.value - 0.2) / found.scale_lag_s.sd;
            within += usize::from(z.abs() < 2.0);
            square += z * z;
            assert!(found.scale_lag_s.sd < 0.001);
        }
        assert!((90..=100).contains(&within), "{within} of 100, mean square of z {square}");
    }

    #[test]
    fn a_log_without_a_load_change_is_an_error_that_states_the_need() {
        let t: Vec<f64> = (0..300).map(|i| f64::from(i) * 0.1).collect();
        let poured = t.iter().map(|t| 4.0 * (t - 5.0).clamp(0.0, 10.0)).collect();
        let log = Log::new(t, Some(poured), None, Meta::default()).unwrap();
        let error = calibrate(&log, &CalibrateOptions::default()).unwrap_err();
        assert_eq!(error.kind(), "argument");
        assert!(error.to_string().contains("20 g or more"));
    }
}
