//! In: readings in order of time. Out: the sd of the noise at rest, quantisation included, with its own sd.
//!
//! Residuals about straight lines over short quiet windows, pooled over the windows that agree with their median,
//! so that pours, tremor and knocks do not enter. A readout in steps hides small noise: the sd is never below
//! step/sqrt(12) (JCGM 100:2008, 4.3.7).

use crate::estimate::Estimate;
use crate::math::line::{Line, line};
use crate::math::robust::{median, quantile};
use crate::model::rounded_noise::coarse_noise;

/// A window whose line is steeper than this is no rest, g/s.
const QUIET_G_PER_S: f64 = 0.15;

/// Under this share of a step, residuals depend on where between two steps the mass happens to lie.
const COARSE: f64 = 0.6;

/// No reading is taken to be better than this, g.
const LEAST_G: f64 = 1e-4;
/// How many times longer the windows are from which the flicker between steps is read.
const LONGER: usize = 3;

/// Sd of the noise, g.
pub(crate) fn noise(t: &[f64], y: &[f64], interval_s: f64, step_g: f64) -> Estimate {
    let floor = step_g / 12f64.sqrt();
    let size = ((1.0 / interval_s).round() as usize).clamp(8, 64);
    let quiet = quiet(t, y, interval_s, size, step_g);
    if quiet.len() < 4 {
        return without_rests(y, floor);
    }
    let degrees = quiet[0].0.degrees;
    // Median of a chi-square over its degrees (Wilson and Hilferty).
    let middle = median(&mut quiet.iter().map(|w| w.0.variance).collect::<Vec<_>>())
        / (1.0 - 2.0 / (9.0 * degrees)).powi(3);
    let limit = (1.0 + 4.0 * (2.0 / degrees).sqrt()) * middle.max(step_g * step_g / 4.0);
    let (mut sum, mut count) = (0.0, 0.0);
    for (w, _) in quiet.iter().filter(|w| w.0.variance <= limit) {
        sum += w.variance;
        count += 1.0;
    }
    let sd = if count > 0.0 { (sum / count).sqrt() } else { 0.0 };
    if sd < COARSE * step_g {
        let longer = self::quiet(t, y, interval_s, LONGER * size, step_g);
        let windows = if longer.len() < 4 { &quiet } else { &longer };
        let still = |w: &Line| w.variance <= limit && w.slope.abs() < 3.0 * w.slope_sd + 0.1 * step_g;
        if let Some(found) = coarse_noise(windows.iter().filter(|w| still(&w.0)).map(|w| w.1), step_g) {
            return found;
        }
    }
    let sd = sd.max(floor).max(LEAST_G);
    Estimate::new(sd, sd / (2.0 * degrees * f64::max(count, 1.0)).sqrt())
}

/// Windows of `size` samples without a long pause in which nothing seems to flow.
fn quiet<'a>(t: &[f64], y: &'a [f64], interval_s: f64, size: usize, step_g: f64) -> Vec<(Line, &'a [f64])> {
    let mut windows: Vec<(Line, &[f64])> = t
        .chunks_exact(size)
        .zip(y.chunks_exact(size))
        .filter(|(t, _)| t[size - 1] - t[0] < 3.0 * size as f64 * interval_s)
        .filter_map(|(t, y)| Some((line(t, y)?, y)))
        .collect();
    // A window with a knock in it knows little of its slope: what it should know is taken from the calmer quarter.
    let calm = quantile(&mut windows.iter().map(|w| w.0.variance).collect::<Vec<_>>(), 0.25);
    let calm_sd = calm.max(step_g * step_g / 12.0).sqrt();
    let slope_sd = |w: &Line| w.slope_sd * (calm_sd / w.variance.sqrt()).min(1.0);
    windows.retain(|(w, _)| {
        w.slope.abs() < QUIET_G_PER_S + 3.0 * if w.variance > 0.0 { slope_sd(w) } else { 0.0 }
    });
    windows
}

/// Where the log has no rest: from third differences, of which a flow that changes evenly leaves nothing.
fn without_rests(y: &[f64], floor: f64) -> Estimate {
    let mut d: Vec<f64> = y
        .windows(4)
        .map(|w| (w[3] - 3.0 * w[2] + 3.0 * w[1] - w[0]).abs() / 20f64.sqrt())
        .filter(|d| d.is_finite())
        .collect();
    let n = d.len().max(1) as f64;
    // The lower quartile: what the hand adds is in the upper part.
    let sd = quantile(&mut d, 0.25) / 0.318_639_36;
    let sd = if sd.is_finite() { sd.max(floor).max(LEAST_G) } else { floor.max(LEAST_G) };
    Estimate::new(sd, sd * (2.0 / n).sqrt().min(1.0))
}
