//! In: readings in order of time. Out: the sd of the noise at rest, quantisation included, with its own sd.
//!
//! Residuals about straight lines over short quiet windows are pooled. Only windows that agree with the median
//! variance enter, so that pours, tremor and knocks do not. A readout in steps hides small noise: the sd is
//! never below step/sqrt(12) (JCGM 100:2008, 4.3.7).

use crate::estimate::Estimate;
use crate::math::line::{Line, line};
use crate::math::robust::{median, quantile};
use crate::model::rounded_noise::coarse_noise;

/// A window whose line is steeper than this is no rest, g/s.
const QUIET_G_PER_S: f64 = 0.15;

/// Below this fraction of a step, residuals depend on the place of the mass between two steps.
const COARSE: f64 = 0.6;

/// Lower bound of the noise, g.
const MIN_G: f64 = 1e-4;
/// Factor by which windows are lengthened to observe the flicker between steps.
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
        if let Some(estimate) = coarse_noise(windows.iter().filter(|w| still(&w.0)).map(|w| w.1), step_g) {
            return estimate;
        }
    }
    let sd = sd.max(floor).max(MIN_G);
    Estimate::new(sd, sd / (2.0 * degrees * f64::max(count, 1.0)).sqrt())
}

/// Windows of `size` samples with no long pause and no detectable flow.
fn quiet<'a>(t: &[f64], y: &'a [f64], interval_s: f64, size: usize, step_g: f64) -> Vec<(Line, &'a [f64])> {
    let mut windows: Vec<(Line, &[f64])> = t
        .chunks_exact(size)
        .zip(y.chunks_exact(size))
        .filter(|(t, _)| t[size - 1] - t[0] < 3.0 * size as f64 * interval_s)
        .filter_map(|(t, y)| Some((line(t, y)?, y)))
        .collect();
    // A knock inflates the sd of a window's slope: the residual variance of the calmest quarter replaces its
    // own.
    let calmest = quantile(&mut windows.iter().map(|w| w.0.variance).collect::<Vec<_>>(), 0.25);
    let calmest_sd = calmest.max(step_g * step_g / 12.0).sqrt();
    let slope_sd = |w: &Line| w.slope_sd * (calmest_sd / w.variance.sqrt()).min(1.0);
    windows.retain(|(w, _)| {
        w.slope.abs() < QUIET_G_PER_S + 3.0 * if w.variance > 0.0 { slope_sd(w) } else { 0.0 }
    });
    windows
}

/// For a log without rests: from third differences, in which a quadratic mass curve cancels.
fn without_rests(y: &[f64], floor: f64) -> Estimate {
    let mut d: Vec<f64> = y
        .windows(4)
        .map(|w| (w[3] - 3.0 * w[2] + 3.0 * w[1] - w[0]).abs() / 20f64.sqrt())
        .filter(|d| d.is_finite())
        .collect();
    let n = d.len().max(1) as f64;
    // The lower quartile: variation of the flow is in the upper part.
    let sd = quantile(&mut d, 0.25) / 0.318_639_36;
    let sd = if sd.is_finite() { sd.max(floor).max(MIN_G) } else { floor.max(MIN_G) };
    Estimate::new(sd, sd * (2.0 / n).sqrt().min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    fn stamps(n: usize) -> Vec<f64> {
        (0..n).map(|i| 0.1 * i as f64).collect()
    }

    #[test]
    fn the_sd_of_the_noise_has_no_bias_and_its_own_sd_is_that_of_its_degrees() {
        let (mut mean, mut square, seeds) = (0.0, 0.0, 400);
        for seed in 0..seeds {
            let mut random = Random::new(seed);
            let y: Vec<f64> = (0..600).map(|_| 0.2 * random.normal()).collect();
            let result = noise(&stamps(600), &y, 0.1, 0.0);
            mean += result.value / 0.2 / seeds as f64;
            square += ((result.value - 0.2) / result.sd).powi(2) / seeds as f64;
            // Sixty windows of ten readings have eight degrees of freedom each: s/sqrt(2 x 480) by normal theory.
            assert!((result.sd / result.value * 960_f64.sqrt() - 1.0).abs() < 0.03, "{result}");
        }
        // By chance one window in four hundred is classed as disturbed, a bias of 0.3 %.
        assert!((mean - 1.0).abs() < 0.01, "{mean}");
        assert!((0.75..1.3).contains(&square), "{square}");
    }

    #[test]
    fn a_disturbed_window_is_excluded() {
        let mut random = Random::new(1);
        // Every tenth window swings by 0.22 g: its variance is 7 times the others' (0.01 + 10/8 x 0.22^2).
        let swing = |i: usize| if i / 10 % 10 == 3 { 0.22 * (1.0 - 2.0 * (i % 2) as f64) } else { 0.0 };
        let y: Vec<f64> = (0..600).map(|i| 0.1 * random.normal() + swing(i)).collect();
        let result = noise(&stamps(600), &y, 0.1, 0.0);
        assert!((result.value / 0.1 - 1.0).abs() < 0.06, "{result}");
    }

    #[test]
    fn noise_above_the_step_is_the_pooled_scatter_about_lines() {
        let y: Vec<f64> =
            (0..600).map(|i| ((3.2 * ((i * i * 37 % 101) as f64 / 50.0 - 1.0)).round()) * 0.05).collect();
        // Residuals about each window's own line, x being -4.5 to 4.5, whose squares add up to 82.5.
        let pooled = y.chunks(10).map(|w| {
            let mean = w.iter().sum::<f64>() / 10.0;
            let slope = w.iter().enumerate().map(|(i, y)| (i as f64 - 4.5) * y).sum::<f64>() / 82.5;
            w.iter().enumerate().map(|(i, y)| (y - mean - slope * (i as f64 - 4.5)).powi(2)).sum::<f64>()
                / 8.0
        });
        let pooled = (pooled.sum::<f64>() / 60.0).sqrt();
        // The step is chosen so that the sd is 0.7 of it: above 0.6 of a step, flicker is not used.
        let result = noise(&stamps(600), &y, 0.1, pooled / 0.7);
        assert!((result.value - pooled).abs() < 1e-9, "{result}, not {pooled}");
    }

    #[test]
    fn drips_between_rests_do_not_raise_the_noise_of_a_coarse_readout() {
        let mut random = Random::new(5);
        let (mut mass, mut y) = (0.0, Vec::new());
        for i in 0..1440 {
            // Alternately 3 s at rest and 3 s at 0.14 g/s; each rest has its own place between two steps.
            mass += if i / 30 % 2 == 1 { 0.014 } else { 0.0 };
            y.push(((mass + 0.02 * random.normal()) / 0.1).round() * 0.1);
        }
        let result = noise(&stamps(1440), &y, 0.1, 0.1);
        // sqrt(0.02^2 + 0.1^2/12), JCGM 100:2008, 4.3.7.
        assert!((result.value / 0.0351 - 1.0).abs() < 0.25, "{result}");
    }

    #[test]
    fn a_quiet_window_has_a_small_slope_and_no_long_pause() {
        let ramp = |slope: f64| stamps(80).iter().map(|t| slope * t).collect::<Vec<f64>>();
        let windows = |t: &[f64], slope: f64| quiet(t, &ramp(slope), 0.1, 10, 0.0).len();
        assert_eq!((windows(&stamps(80), 0.14), windows(&stamps(80), 0.16)), (8, 0));
        let paused = |by_s: f64| {
            stamps(80)
                .iter()
                .enumerate()
                .map(|(i, t)| t + if i > 44 { by_s } else { 0.0 })
                .collect::<Vec<f64>>()
        };
        // One window of 0.9 s spans the pause; the limit is three times its nominal 1 s.
        assert_eq!((windows(&paused(2.0), 0.0), windows(&paused(2.2), 0.0)), (8, 7));
    }

    #[test]
    fn without_rests_the_noise_comes_from_third_differences_and_is_at_least_that_of_the_step() {
        let result = |seed: u64| {
            let mut random = Random::new(seed);
            let pour: Vec<f64> = stamps(1000).iter().map(|t| 5.0 * t + 0.1 * random.normal()).collect();
            noise(&stamps(1000), &pour, 0.1, 0.0)
        };
        // The lower quartile of 997 third differences has an sd of 6 % (by separate simulation), the mean of 60
        // has 0.8 %.
        let mean = (0..60).map(|seed| result(seed).value / 0.1).sum::<f64>() / 60.0;
        assert!((mean - 1.0).abs() < 0.03, "{mean}");
        assert!((result(0).sd - result(0).value * (2.0 / 997_f64).sqrt()).abs() < 1e-12);
        let even: Vec<f64> = stamps(400).iter().map(|t| 5.0 * t).collect();
        // 0.1/sqrt(12).
        assert!((noise(&stamps(400), &even, 0.1, 0.1).value - 0.028_867_5).abs() < 1e-6);
    }
}
