//! In: readings about masses and the response that was fitted to them. Out: the curves of a calibration: what a figure
//! of it shows.

use crate::model::response::Kernel;
use crate::rows::rows;
use crate::scale::placed::{Found, Placed, shown};
use crate::scale::rest::{Rest, spectrum};
use serde::{Deserialize, Serialize};

rows! { $
/// What a figure of a calibration shows: the measured step response, the noise, the stamps.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CalibrationCurves {
    /// Time after a mass was put on or taken off, s.
    pub after_s: Vec<f64>,
    /// Share of it that is shown then: the mean of all masses, corrected for the time of the hand.
    pub shown: Vec<f64>,
    /// Frequencies of the noise at rest, Hz.
    pub frequency_hz: Vec<f64>,
    /// Its power density, one-sided, g2/Hz.
    pub noise_g2_per_hz: Vec<f64>,
    /// Intervals between two stamps, s: middles of bins, the last of which has all longer ones.
    pub interval_s: Vec<f64>,
    /// Number of intervals in each bin.
    pub n_intervals: Vec<f64>,
}
}

/// Bins of the step response, and the first, s.
const BINS: usize = 60;
const FROM_S: f64 = -0.3;
/// The last, in settling times, and the least and most of it, s.
const SETTLINGS: f64 = 1.5;
const TO_S: (f64, f64) = (1.0, 6.0);

/// The measured step response: times after a mass, s, and shares. What a reading differs from the fit is added to the
/// response to a mass that is put on at once.
pub(super) fn measured(
    masses: &[Placed],
    found: &[Found],
    kernel: Kernel,
    settling_s: f64,
) -> (Vec<f64>, Vec<f64>) {
    let width_s = ((SETTLINGS * settling_s).clamp(TO_S.0, TO_S.1) - FROM_S) / BINS as f64;
    let mut sums = vec![(0.0, 0.0, 0.0); BINS];
    for (placed, one) in masses.iter().zip(found) {
        let mass_g = one.mass_g.value;
        for (t, y) in placed.t.iter().zip(&placed.y) {
            let after_s = t - one.at_s.value;
            let bin = (after_s - FROM_S) / width_s;
            if !(0.0..BINS as f64).contains(&bin) {
                continue;
            }
            let differs = (y - one.level_g) / mass_g - shown(kernel, one.hand_s, after_s);
            let weight = mass_g * mass_g;
            let sum = &mut sums[bin as usize];
            sum.0 += weight;
            sum.1 += weight * after_s;
            sum.2 += weight * (kernel.shown(0, after_s) + differs);
        }
    }
    sums.iter().filter(|sum| sum.0 > 0.0).map(|(w, t, y)| (t / w, y / w)).unzip()
}

impl CalibrationCurves {
    pub(super) fn new(
        (after_s, shown): (Vec<f64>, Vec<f64>),
        (rests, reading_s): (&[Rest], f64),
        (interval_s, n_intervals): (Vec<f64>, Vec<f64>),
    ) -> Self {
        let (frequency_hz, noise_g2_per_hz) = spectrum(rests, reading_s);
        Self { after_s, shown, frequency_hz, noise_g2_per_hz, interval_s, n_intervals }
    }
}
