//! In: a [`Log`] in which masses were put on the scale and taken off. Out: the response, the noise and the readout
//! resolution of the scale.

use crate::condition::longest_path::{Physics, longest_path};
use crate::condition::order::order;
use crate::condition::resolution;
use crate::condition::stretch::{Seen, Stretch, stretches};
use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::log::record::Log;
use crate::math::robust::median;
use crate::model::noise;
use crate::model::response::ScaleResponse;
use crate::rows::rows;
use crate::scale::placed::{Alone, Found, Placed, alone, response};
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
    /// When half of it was down, s.
    pub at_s: Estimate,
    /// The mass, g; below 0 if it was taken off.
    pub mass_g: Estimate,
    /// How long the hand took, s.
    pub hand_s: f64,
    /// Root mean square of what the response leaves over, in sd of a reading.
    pub misfit: f64,
}
}

rows! { $
/// What a scale does to a mass that is put on it.
///
/// It is kept in a file with [`Calibration::to_toml`], and given to an analysis as `condition.scale`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// Step of the readout, g; 0 if none is seen.
    pub step_g: f64,
    /// Time until a step of 100 g shows within .1 g, s.
    pub settling_s: f64,
    /// Root mean square of what the response leaves over, in sd of a reading: some 1 if it fits.
    pub misfit: f64,
    /// Whether the response fits: the misfit is below 1.4.
    ///
    /// If not, the scale is built in another way, and the sd of the delay is wide.
    pub fits: bool,
    /// Masses that were left out: put down in pieces, pushed or let go of slowly.
    pub left_out: usize,
    /// Standard deviation of the noise at rest, quantisation included, g.
    pub noise_sd_g: Estimate,
    /// How the scale shows a load.
    pub response: ScaleResponse,
    /// The masses that were used, in order of time.
    pub steps: Vec<LoadStep>,
}
}

/// A faster rise is a load change, g/s: nothing is poured in a calibration.
const MAX_FLOW: f64 = 5.0;
/// Samples used before and after a mass, s.
const BEFORE_S: f64 = 3.0;
const AFTER_S: f64 = 8.0;
/// A mass whose misfit is above that is left out, if others are not: it was put down in pieces.
const MOST_MISFIT: f64 = 2.5;
/// The same for one that shows in a ramp longer than usual by that, in squares, s.
const LONGER_S: f64 = 0.5;
/// The misfit from which no response fits. That of each response that is known is below 1.2 in the worlds of the tests,
/// that of other scales mostly above.
const FITS: f64 = 1.4;
/// A step settles as it shows within this share of it, for so long at most, s.
const SETTLED: f64 = 1e-3;
const LONGEST_S: f64 = 60.0;

/// Finds how a scale shows a load, from a log of its water weight (or beverage weight, if that is the only one) in which
/// masses were put on by hand and left for some seconds, or taken off; more masses give a smaller sd.
///
/// # Errors
/// `out_of_range` for an option outside its range, `too_short` for fewer than 8 samples, `argument` if no mass is seen.
///
/// ```
/// use pourline::{CalibrateOptions, Calibration, Log, Meta, calibrate};
/// let time_s: Vec<f64> = (0..100).map(|i| i as f64 * 0.1).collect();
/// let shown = |t: &f64| if *t > 3.04 { 100.0 * (1.0 - (-(t - 3.04) / 0.2_f64).exp()) } else { 0.0 };
/// let reading_g = time_s.iter().map(|t| (shown(t) * 10.0).round() / 10.0).collect();
/// let log = Log::new(time_s, Some(reading_g), None, Meta::default())?;
/// let found: Calibration = calibrate(&log, &CalibrateOptions::default())?;
/// assert!((found.response.delay_s.value - 0.2).abs() < 0.01);
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
    let masses: Vec<Placed> =
        stretches.windows(2).filter_map(|pair| about(&seen, pair[0], pair[1])).collect();
    // Each by itself: one that was put down in pieces must not decide on the others.
    let judged = |placed: Placed| {
        let found = alone(&placed, noise_g)?;
        (found.mass_g.abs() >= least_g).then_some((placed, found))
    };
    let judged: Vec<(Placed, Alone)> = masses.into_iter().filter_map(judged).collect();
    let all = judged.len();
    let usual_s2 = median(&mut judged.iter().map(|(_, found)| found.shows_s2).collect::<Vec<_>>());
    let is_even =
        |found: &Alone| found.misfit <= MOST_MISFIT && found.shows_s2 <= usual_s2 + LONGER_S * LONGER_S;
    let any_even = judged.iter().any(|(_, found)| is_even(found));
    let masses: Vec<Placed> = judged
        .into_iter()
        .filter(|(_, found)| !any_even || is_even(found))
        .map(|(placed, _)| placed)
        .collect();
    let Some((response, found)) = (!masses.is_empty()).then(|| response(&masses, noise_g)).flatten() else {
        let message = format!(
            "no mass of {least_g} g or more between two steady levels is detected: \
             put a mass on the scale, leave it for 5 s or more, take it off, and so on"
        );
        return Err(Error::Argument { name: "log".into(), message });
    };
    let step =
        |one: &Found| LoadStep { at_s: one.at_s, mass_g: one.mass_g, hand_s: one.hand_s, misfit: one.misfit };
    let square: f64 = found.iter().map(|one| one.misfit * one.misfit).sum();
    let misfit = (square / found.len() as f64).sqrt();
    let fits = misfit < FITS;
    Ok(Calibration {
        step_g,
        settling_s: settling_s(&response),
        misfit,
        fits,
        left_out: all - masses.len(),
        noise_sd_g,
        response: if fits { response } else { response.unsure() },
        steps: found.iter().map(step).collect(),
    })
}

/// The last instant at which a step is off by more than its share.
fn settling_s(response: &ScaleResponse) -> f64 {
    let kernel = response.kernel();
    let of = |k: u32| f64::from(k) * SETTLED;
    let last =
        (0..(LONGEST_S / SETTLED) as u32).rev().find(|&k| (kernel.shown(0, of(k)) - 1.0).abs() > SETTLED);
    last.map_or(0.0, |k| of(k + 1))
}

/// The samples between two stretches, with the ends of both.
fn about(seen: &Seen, a: Stretch, b: Stretch) -> Option<Placed> {
    let from = (a.first..=a.last).find(|&i| seen.t[a.last] - seen.t[i] <= BEFORE_S)?;
    let to = (b.first..=b.last).rev().find(|&i| seen.t[i] - seen.t[b.first] <= AFTER_S)?;
    let valid = |&i: &usize| seen.plausible[i] || (i > a.last && i < b.first);
    let (t, y): (Vec<f64>, Vec<f64>) = (from..=to).filter(valid).map(|i| (seen.t[i], seen.y[i])).unzip();
    (t.len() >= 8).then_some(Placed { t, y })
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
    fn several_masses_are_combined_and_the_sd_covers_the_error() {
        let (mut within, mut square) = (0, 0.0);
        for seed in 0..40 {
            let found =
                calibrate(&log(0.2, &[100.0, 100.0, -200.0, 50.0], seed), &Default::default()).unwrap();
            assert_eq!((found.steps.len(), found.left_out), (4, 0));
            assert!((found.steps[2].mass_g.value + 200.0).abs() < 0.2);
            assert!(found.misfit < 1.5, "{found:?}");
            let z = (found.response.delay_s.value - 0.2) / found.response.delay_s.sd;
            within += usize::from(z.abs() < 2.0);
            square += z * z;
            assert!(found.response.delay_s.sd < 0.02, "{found:?}");
        }
        assert!((36..=40).contains(&within), "{within} of 40, mean square of z {square}");
    }

    #[test]
    fn a_step_settles_when_the_closed_form_says() {
        // A lag shows 100 g within .1 g after ln(1000) time constants, an average of .6 s after .6 s less a thousandth.
        assert!((settling_s(&ScaleResponse::lag(0.2)) - 0.2 * 1000_f64.ln()).abs() < 2e-3);
        assert!((settling_s(&ScaleResponse::average(0.6)) - 0.6).abs() < 3e-3);
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
