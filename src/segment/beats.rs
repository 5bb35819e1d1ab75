//! In: a window with its bursts and a model of the hand. Out: how well an oscillation of the flow explains the
//! readings, at any frequency.
//!
//! A generalised least-squares periodogram (Zechmeister and Kuerster 2009, Astron. Astrophys. 496, 577) of the readings
//! on their own stamps. The readings are correlated: level, line and slow process of each burst are unknown, and the
//! scale lags. The innovations of the Kalman filter are not, so cosine and sine are whitened by its gains. The edges of
//! the bursts are fitted together with the oscillation, to first order; so is the error of rounding, a sinusoid whose
//! phase is the reading in steps, because a rounded slope alone has a line in its spectrum.

use crate::math::distribution::chi_squared_below;
use crate::math::inner::inner;
use crate::math::robust::median;
use crate::math::solve::cholesky;
use crate::model::burst::Burst;
use crate::model::hand::Hand;
use crate::model::recorded::{Recorded, record};
use crate::model::window::Window;
use crate::segment::parameters::{EDGES, shift};
use std::f64::consts::TAU;

/// Relative sd of the quick process and of the oscillation in the model of the readings without one.
const SMALL: f64 = 0.002;
/// Prior sd of the edges about their fit: instant, logarithm of the length, skewness.
const EDGE_SD: [f64; EDGES] = [0.1, 0.5, 1.0, 0.1, 0.5, 1.0];
/// Step of their differences.
const DIFFERENCE: f64 = 1e-4;
/// Cells in which less than this fraction of the flow arrives are left out of them.
const LEAST: f64 = 0.02;

/// The readings of some bursts of a window, whitened.
pub(crate) struct Beats {
    recorded: Recorded,
    /// Middle of each cell, s; NaN outside of the bursts' part that may oscillate.
    middle_s: Vec<f64>,
    /// Normalised innovations.
    innovations: Vec<f64>,
    nuisance: Nuisance,
}

/// Whitened columns of unknowns that are fitted too, in units of their prior sd.
struct Nuisance {
    columns: Vec<Vec<f64>>,
    /// Cholesky's factor of their information.
    factor: Vec<f64>,
    /// The innovations along them.
    innovations: Vec<f64>,
}

/// Derivatives of the flow by the edges of a burst.
fn edges(recorded: &Recorded, burst: &Burst, cells: &[(usize, f64)], k: usize, grid_s: f64) -> Vec<Vec<f64>> {
    let moved: [Burst; EDGES] = std::array::from_fn(|j| {
        let mut moved = burst.clone();
        shift(&mut moved, j, DIFFERENCE);
        moved
    });
    let flow = |cell: usize| {
        let Some((_, t)) = cells.get(cell).filter(|(own, _)| *own == k) else { return [0.0; EDGES] };
        let fraction = |b: &Burst| b.fraction(t - 0.5 * grid_s, t + 0.5 * grid_s);
        let own = fraction(burst);
        if own < LEAST {
            return [0.0; EDGES];
        }
        let unit = burst.scale_g_per_s / own / DIFFERENCE;
        std::array::from_fn(|j| EDGE_SD[j] * unit * (fraction(&moved[j]) - own))
    };
    columns(&recorded.whitened(flow, |_| [0.0; EDGES]))
}

/// The error of rounding.
fn rounding(recorded: &Recorded, readout: Readout) -> Vec<Vec<f64>> {
    let turns: Vec<f64> = recorded.explained().iter().map(|reading| reading / readout.step_g).collect();
    let error_g = |k: usize| {
        let (sin, cos) = (TAU * turns[k]).sin_cos();
        [readout.sd_g * cos, readout.sd_g * sin]
    };
    columns(&recorded.whitened(|_| [0.0; 2], error_g))
}

fn columns<const K: usize>(rows: &[[f64; K]]) -> Vec<Vec<f64>> {
    (0..K).map(|k| rows.iter().map(|row| row[k]).collect()).collect()
}

impl Nuisance {
    fn new(columns: Vec<Vec<f64>>, z: &[f64]) -> Self {
        let p = columns.len();
        let mut factor: Vec<f64> = (0..p * p).map(|k| inner(&columns[k / p], &columns[k % p])).collect();
        (0..p).for_each(|k| factor[k * (p + 1)] += 1.0);
        if !cholesky(&mut factor, p) {
            return Self { columns: Vec::new(), factor: Vec::new(), innovations: Vec::new() };
        }
        let mut all = Self { columns, factor, innovations: Vec::new() };
        all.innovations = all.along(z);
        all
    }

    /// A row along them, in the frame of their factor.
    fn along(&self, v: &[f64]) -> Vec<f64> {
        let n = self.columns.len();
        let mut out: Vec<f64> = self.columns.iter().map(|column| inner(column, v)).collect();
        for i in 0..n {
            out[i] = (out[i] - inner(&self.factor[i * n..i * n + i], &out[..i])) / self.factor[i * (n + 1)];
        }
        out
    }

    /// The least-squares fit of an oscillation to the innovations.
    fn beat(&self, cos: &[f64], sin: &[f64], z: &[f64]) -> Option<Beat> {
        let (by_cos, by_sin, by_z) = (self.along(cos), self.along(sin), &self.innovations);
        let cc = inner(cos, cos) - inner(&by_cos, &by_cos);
        let cs = inner(cos, sin) - inner(&by_cos, &by_sin);
        let ss = inner(sin, sin) - inner(&by_sin, &by_sin);
        let (cz, sz) = (inner(cos, z) - inner(&by_cos, by_z), inner(sin, z) - inner(&by_sin, by_z));
        let determinant = cc * ss - cs * cs;
        if determinant.is_nan() || determinant <= 1e-9 * (cc + ss).powi(2) {
            return None;
        }
        let (a, b) = ((ss * cz - cs * sz) / determinant, (cc * sz - cs * cz) / determinant);
        Some(Beat {
            gain: 0.5 * (a * cz + b * sz),
            square: a * a + b * b,
            noise_var: (cc + ss) / determinant,
        })
    }
}

/// The readout of a scale: its step, and the sd of the error of rounding that does not average out.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Readout {
    pub step_g: f64,
    pub sd_g: f64,
}

/// The fit of one oscillation.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Beat {
    /// Half of the decrease of chi-square.
    pub gain: f64,
    /// Squared amplitude, and its part due to noise of unit variance, (g/s)2.
    pub square: f64,
    pub noise_var: f64,
}

impl Beats {
    /// Oscillations within a part of the bursts' time.
    pub(crate) fn new(
        window: &Window,
        bursts: &[Burst],
        hand: &Hand,
        readout: Option<Readout>,
        (from_s, to_s): (f64, f64),
    ) -> Self {
        let still = Hand { quick: hand.quick.min(SMALL), beat: hand.beat.min(SMALL), ..*hand };
        let recorded = record(window, bursts, &still);
        let mut cells = Vec::new();
        for (burst, (begin_s, n)) in recorded.places().into_iter().enumerate() {
            cells.extend((0..n).map(|k| (burst, begin_s + window.grid_s * (k as f64 + 0.5))));
        }
        let innovations: Vec<f64> = recorded.normalised().collect();
        let mut columns: Vec<Vec<f64>> = bursts
            .iter()
            .enumerate()
            .flat_map(|(k, burst)| edges(&recorded, burst, &cells, k, window.grid_s))
            .collect();
        columns.extend(readout.into_iter().flat_map(|readout| rounding(&recorded, readout)));
        let nuisance = Nuisance::new(columns, &innovations);
        let within = |t: f64| if (from_s..to_s).contains(&t) { t } else { f64::NAN };
        let middle_s = cells.into_iter().map(|(_, t)| within(t)).collect();
        Self { recorded, middle_s, innovations, nuisance }
    }

    /// The normalised innovations of the readings.
    pub(crate) fn innovations(&self) -> &[f64] {
        &self.innovations
    }

    /// The oscillation of one frequency; None if the readings do not identify it.
    pub(crate) fn at(&self, hz: f64) -> Option<Beat> {
        let origin_s = self.middle_s.iter().copied().find(|t| t.is_finite())?;
        let wave = |k: usize| match self.middle_s.get(k) {
            Some(t) if t.is_finite() => {
                let (sin, cos) = (TAU * hz * (t - origin_s)).sin_cos();
                [cos, sin]
            }
            _ => [0.0; 2],
        };
        let (cos, sin): (Vec<f64>, Vec<f64>) =
            self.recorded.whitened(wave, |_| [0.0; 2]).into_iter().map(|[cos, sin]| (cos, sin)).unzip();
        self.nuisance.beat(&cos, &sin, &self.innovations)
    }
}

/// Frequencies at which an oscillation is looked for, Hz, and their largest number.
const FROM_HZ: f64 = 0.2;
const TO_HZ: f64 = 3.2;
const MOST: f64 = 100.0;
/// Distance of two of them, cycles per burst.
const STEP: f64 = 0.6;
/// Probability that noise gives an oscillation as strong, above which it is not worth a fit.
const CHANCE: f64 = 0.3;

/// Frequency and relative sd of the oscillation that explains the readings of all windows best, its phase free in each;
/// None if noise explains it as well.
pub(super) fn strongest(windows: &[Window], bursts: &[Vec<Burst>], hand: &Hand) -> Option<(f64, f64)> {
    const ALL: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);
    let all: Vec<Beats> =
        windows.iter().zip(bursts).map(|(w, bursts)| Beats::new(w, bursts, hand, None, ALL)).collect();
    let longest_s = bursts.iter().flatten().map(|b| b.end_s() - b.start_s()).fold(0.0, f64::max);
    let interval_s = windows.iter().map(|w| w.grid_s).fold(0.0, f64::max).max(interval_s(windows));
    let to_hz = TO_HZ.min(0.5 / interval_s);
    let step_hz = (STEP / longest_s).max((to_hz - FROM_HZ) / MOST);
    let frequencies = (0..).map(|k| FROM_HZ + step_hz * f64::from(k)).take_while(|hz| *hz <= to_hz);
    let at = |hz: f64| -> Vec<Beat> { all.iter().filter_map(|b| b.at(hz)).collect() };
    let scored: Vec<(f64, f64)> =
        frequencies.map(|hz| (hz, at(hz).iter().map(|b| b.gain).sum::<f64>())).collect();
    let (hz, gain) = scored.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let chance = 1.0 - chi_squared_below(2.0 * gain, 2.0 * all.len() as f64);
    if chance * scored.len() as f64 > CHANCE {
        return None;
    }
    let scales = bursts.iter().map(|b| b.iter().map(|b| b.scale_g_per_s).fold(0.0, f64::max));
    let squares: Vec<f64> = at(hz)
        .iter()
        .zip(scales)
        .map(|(beat, scale)| (beat.square - beat.noise_var).max(0.0) / (2.0 * scale * scale))
        .collect();
    let share = (squares.iter().sum::<f64>() / squares.len() as f64).sqrt();
    Some((hz, share.clamp(0.01, 0.3)))
}

/// Interval of the readings, s.
fn interval_s(windows: &[Window]) -> f64 {
    let mut all: Vec<f64> =
        windows.iter().flat_map(|w| w.time_s.windows(2)).map(|two| two[1] - two[0]).collect();
    median(&mut all)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::burst::Edge;
    use crate::model::hand::calm;

    #[test]
    fn the_gain_of_an_oscillation_is_that_of_the_least_squares_periodogram() {
        // scipy 1.17.1, signal.lombscargle(t, y, 2 pi f, floating_mean=True, normalize=True): the relative decrease of
        // chi-square, here of 4.97404896886844.
        const REFERENCE: [(f64, f64); 4] = [
            (0.4, 0.04088164837722095),
            (0.9, 0.022036052230359704),
            (1.3, 0.7595997996539735),
            (2.1, 0.02313142045702749),
        ];
        let t: Vec<f64> = (0..60).map(f64::from).map(|i| 0.1 * i + 0.03 * (7.0 * i).sin()).collect();
        let y = |t: &f64| 0.4 * (TAU * 1.3 * t + 0.5).sin() + 0.2 * (9.1 * t * t / 6.0).cos() + 0.7;
        let y: Vec<f64> = t.iter().map(y).collect();
        // A mean with a wide prior is fitted too.
        let mean = Nuisance::new(vec![vec![1e6; t.len()]], &y);
        for (hz, power) in REFERENCE {
            let wave = |of: fn(f64) -> f64| -> Vec<f64> { t.iter().map(|t| of(TAU * hz * t)).collect() };
            let beat = mean.beat(&wave(f64::cos), &wave(f64::sin), &y).unwrap();
            let found = 2.0 * beat.gain / 4.97404896886844;
            assert!((found - power).abs() < 1e-9, "{found}, not {power}, at {hz} Hz");
        }
    }

    #[test]
    fn the_reading_of_an_oscillation_solves_the_lag_equation() {
        // The reference is a forward integration of w' = flow, r' = (w + lead flow - r) / tau with a small step.
        let edge = |at_s| Edge { at_s, ramp_s: 0.05, skew: 0.0 };
        let burst = Burst { rise: edge(0.5), fall: edge(4.0), changes: Vec::new(), scale_g_per_s: 8.0 };
        let time_s: Vec<f64> = (0..50).map(|i| 0.1 * f64::from(i)).collect();
        let mass_g = vec![0.0; 50];
        let window =
            Window { time_s: &time_s, mass_g: &mass_g, grid_s: 0.1 / 3.0, legs: vec![0], base_g: 0.0 };
        // With so much noise the gains are 0, and innovations are readings.
        let noise_sd_g = 1e6;
        let hand = Hand { noise_sd_g, ..calm(0.23, 0.0) };
        let recorded = record(&window, std::slice::from_ref(&burst), &hand);
        let (begin_s, _) = recorded.places()[0];
        let w = TAU * 1.3;
        let at = |cell: usize| (w * (begin_s + window.grid_s * (cell as f64 + 0.5))).sin_cos();
        let rows = recorded.whitened(|cell| [at(cell).1, at(cell).0], |_| [0.0; 2]);
        for part in 0..2 {
            let (mut water, mut reading, dt, mut step) = (0.0, 0.0, 1e-4, 0);
            for (row, until_s) in rows.iter().zip(&time_s) {
                while (f64::from(step) + 0.5) * dt < *until_s {
                    let t = (f64::from(step) + 0.5) * dt;
                    let flow =
                        burst.fraction(t - 0.5 * dt, t + 0.5 * dt) * [(w * t).cos(), (w * t).sin()][part];
                    reading += dt * (water + 0.1 * flow - reading) / 0.23;
                    water += dt * flow;
                    step += 1;
                }
                let found = row[part] * noise_sd_g;
                assert!((found - reading).abs() < 2e-3, "{part} at {until_s}: {found}, not {reading}");
            }
        }
    }
}
