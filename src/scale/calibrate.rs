//! In: a [`Log`] in which masses were put on the scale and taken off. Out: the response, the noise and the readout
//! resolution of the scale.

use crate::condition::longest_path::{Physics, longest_path};
use crate::condition::order;
use crate::condition::resolution;
use crate::condition::stage::ordered;
use crate::condition::stretch::{Seen, Stretch, stretches};
use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::log::record::Log;
use crate::math::robust::median;
use crate::model::noise;
use crate::model::response::ScaleResponse;
use crate::rows::rows;
use crate::scale::curves::{CalibrationCurves, measured};
use crate::scale::known::{self, Linearity, Stated};
use crate::scale::placed::{Alone, Found, Placed, alone, response};
use crate::scale::rest::{self, Rest};
use crate::scale::stamps::{self, Stamps};
use serde::{Deserialize, Serialize};

/// Options of [`calibrate`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CalibrateOptions {
    /// A change of load below this is not fitted, g; above 0.
    pub least_step_g: f64,
    /// What the masses are known to weigh, g: one for each that was put on, in their order, or one for all.
    pub masses_g: Vec<f64>,
}

impl Default for CalibrateOptions {
    fn default() -> Self {
        Self { least_step_g: 20.0, masses_g: Vec::new() }
    }
}

rows! { $
/// One mass put on the scale, or taken off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LoadStep {
    /// When half of it was down, s.
    pub at_s: Estimate,
    /// The mass, g; below 0 if it was taken off.
    pub mass_g: Estimate,
    /// By how much more than the known mass is shown, g.
    pub deviation_g: Maybe,
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
    /// Correlation of the noise of a reading with that of the next, at rest; 0 if it is white.
    pub noise_correlation: Maybe,
    /// Drift of the reading while the load stays, g/s.
    pub drift_g_per_s: Maybe,
    /// Creep: what a load that stays is shown to grow by within its first 10 s, %.
    pub creep_pct: Maybe,
    /// The least change of a reading that is held until it differs enough, g; 0 if it moves by single steps.
    pub held_g: f64,
    /// Whether the reading follows zero without load: water that flows slowly from zero on is lost.
    pub follows_zero: bool,
    /// How the readings are stamped.
    pub stamps: Stamps,
    /// How far the scale is off, if the masses are known.
    pub linearity: Result<Linearity, Undefined>,
    /// How the scale shows a load.
    pub response: ScaleResponse,
    /// The masses that were used, in order of time.
    pub steps: Vec<LoadStep>,
    /// What a figure shows.
    pub curves: CalibrationCurves,
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
/// Two moves nearer to each other are those of one mass, s.
const TWO_MOVES_S: f64 = 1.5;
/// A step that is larger than so many sd of the noise hides whether zero is followed.
const COARSE: f64 = 2.5;
/// After a mass the scale rests from then on, or later if it settles later, s.
const RESTS_S: f64 = 1.5;
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
    let (order, restored) = ordered(log);
    let stamped = order::order(log.time_s());
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
    let (masses, detected) = in_one(masses.into_iter().filter_map(judged).collect());
    let known = match options.masses_g.as_slice() {
        [] => Vec::new(),
        masses_g => known::stated(&detected, masses_g)?,
    };
    let usual_s2 = median(&mut detected.iter().map(|found| found.shows_s2).collect::<Vec<_>>());
    let is_even =
        |found: &Alone| found.misfit <= MOST_MISFIT && found.shows_s2 <= usual_s2 + LONGER_S * LONGER_S;
    let any_even = detected.iter().any(is_even);
    let used: Vec<bool> = detected.iter().map(|found| !any_even || is_even(found)).collect();
    let masses: Vec<Placed> = masses.into_iter().zip(&used).filter(|(_, used)| **used).map(|m| m.0).collect();
    let Some((response, found)) = (!masses.is_empty()).then(|| response(&masses, noise_g)).flatten() else {
        let message = format!(
            "no mass of {least_g} g or more between two steady levels is detected: \
             put a mass on the scale, leave it for 5 s or more, take it off, and so on"
        );
        return Err(Error::Argument { name: "log".into(), message });
    };
    let rounding_g = 2f64.sqrt() * rounding_sd_g(step_g, noise_g);
    let mass_g = |one: &Found| Estimate::new(one.mass_g.value, one.mass_g.sd.hypot(rounding_g));
    // One for each detected mass.
    let mut fits_of = found.iter();
    let placed: Vec<Option<&Found>> =
        used.iter().map(|used| used.then(|| fits_of.next()).flatten()).collect();
    let settling_s = settling_s(&response);
    let steps_at: Vec<(f64, f64)> = detected.iter().map(|found| (found.at_s, found.mass_g)).collect();
    let rests = rests(&seen, &stretches, &steps_at, settling_s);
    let noise_correlation = rest::correlation(&rests);
    let correlation = noise_correlation.as_ref().map_or(0.0, |r| r.value);
    // A known mass is compared with the levels: they do not depend on the response.
    let levels: Vec<Option<Estimate>> = (0..detected.len())
        .map(|k| {
            let rise = rest::rise(&rests, &steps_at, k, noise_g, correlation).filter(|_| used[k])?;
            Some(Estimate::new(rise.value, rise.sd.hypot(rounding_g)))
        })
        .collect();
    let linearity = if known.is_empty() {
        Err(Undefined::because("masses_g is not given"))
    } else {
        let at_s: Vec<f64> = detected.iter().map(|found| found.at_s).collect();
        known::linearity(&at_s, &levels, &known)
    };
    let step = |(k, one): (usize, &Found)| LoadStep {
        at_s: one.at_s,
        mass_g: mass_g(one),
        deviation_g: deviation(levels[k], known.get(k)),
        hand_s: one.hand_s,
        misfit: one.misfit,
    };
    let square: f64 = found.iter().map(|one| one.misfit * one.misfit).sum();
    let misfit = (square / found.len() as f64).sqrt();
    let fits = misfit < FITS;
    let (drift_g_per_s, creep_pct) = rest::drift_and_creep(&rests, &steps_at, correlation);
    let curve = measured(&masses, &found, response.kernel(), settling_s);
    Ok(Calibration {
        step_g,
        settling_s,
        misfit,
        fits,
        left_out: used.iter().filter(|used| !**used).count(),
        noise_sd_g,
        noise_correlation,
        drift_g_per_s,
        creep_pct,
        held_g: rest::held_g(&seen.y, step_g),
        follows_zero: rest::follows_zero(&rests, order.interval_s) && step_g < COARSE * noise_g,
        stamps: Stamps::new(&stamped, restored.as_ref()),
        linearity,
        response: if fits { response } else { response.unsure() },
        steps: placed.iter().enumerate().filter_map(|(k, one)| Some(step((k, (*one)?)))).collect(),
        curves: CalibrationCurves::new(curve, (&rests, order.interval_s), stamps::intervals(&stamped)),
    })
}

/// Masses with what they are by themselves. Two near each other, the same way, are one mass that was put down in two
/// moves: it is left out, and counts once.
fn in_one(judged: Vec<(Placed, Alone)>) -> (Vec<Placed>, Vec<Alone>) {
    let (mut masses, mut detected): (Vec<Placed>, Vec<Alone>) = (Vec::new(), Vec::new());
    for (placed, found) in judged {
        match detected.last_mut() {
            Some(last)
                if (found.at_s - last.at_s).abs() < TWO_MOVES_S && found.mass_g * last.mass_g > 0.0 =>
            {
                // The window of each has both.
                last.mass_g = found.level_g + found.mass_g - last.level_g;
                last.misfit = f64::INFINITY;
            }
            _ => {
                masses.push(placed);
                detected.push(found);
            }
        }
    }
    (masses, detected)
}

/// By how much more is shown; a mass that is taken off is shown as less than 0.
fn deviation(shown_g: Option<Estimate>, known: Option<&Option<Stated>>) -> Maybe {
    match (known, shown_g) {
        (Some(Some(known)), Some(shown_g)) => {
            Ok(Estimate::new((shown_g.value - known.mass_g) * known.mass_g.signum(), shown_g.sd))
        }
        (Some(Some(_)), None) => Err(Undefined::because("the scale does not rest before and after it")),
        (Some(None), _) => Err(Undefined::because("it stood on the scale before the log, or with others")),
        (None, _) => Err(Undefined::because("masses_g is not given")),
    }
}

/// Sd of the error of a level in steps of the readout, however long its mean. Noise smooths the steps: the error is a
/// sine of the level, whose amplitude falls with the sd of the noise (Widrow and Kollar 2008, Quantization Noise,
/// chapter 4).
fn rounding_sd_g(step_g: f64, noise_g: f64) -> f64 {
    if step_g <= 0.0 {
        return 0.0;
    }
    // The noise includes the rounding.
    let own2 = (noise_g * noise_g / (step_g * step_g) - 1.0 / 12.0).max(0.0);
    step_g / 12f64.sqrt() * (-2.0 * std::f64::consts::PI.powi(2) * own2).exp()
}

/// The last instant at which a step is off by more than its share.
fn settling_s(response: &ScaleResponse) -> f64 {
    let kernel = response.kernel();
    let of = |k: u32| f64::from(k) * SETTLED;
    let last =
        (0..(LONGEST_S / SETTLED) as u32).rev().find(|&k| (kernel.shown(0, of(k)) - 1.0).abs() > SETTLED);
    last.map_or(0.0, |k| of(k + 1))
}

/// What rests between the masses, from when each has settled.
fn rests(seen: &Seen, stretches: &[Stretch], steps: &[(f64, f64)], settling_s: f64) -> Vec<Rest> {
    let wait_s = RESTS_S.max(settling_s + 0.5);
    let of = |stretch: &Stretch| {
        let (first_s, last_s) = (seen.t[stretch.first], seen.t[stretch.last]);
        // A hand is on the mass before it is put on.
        let near = |t: f64| steps.iter().any(|(at_s, _)| t > at_s - 0.5 && t < at_s + wait_s);
        let at_rest = |&i: &usize| {
            let t = seen.t[i];
            seen.plausible[i] && !near(t) && t < last_s - 0.2 && (stretch.first == 0 || t > first_s + 0.5)
        };
        let (t, y) = (stretch.first..=stretch.last).filter(at_rest).map(|i| (seen.t[i], seen.y[i])).unzip();
        Rest::new(t, y)
    };
    rest::undisturbed(stretches.iter().filter_map(of).collect(), seen.noise_g)
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
