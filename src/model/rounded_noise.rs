//! In: readings at rest, of a readout whose step hides the noise. Out: the sd of the noise, quantisation included.
//!
//! At rest the reading stays on one step or flickers between two. The frequency depends on the noise and on the
//! place of the mass between the steps. For each rest that place is integrated out (uniform prior), and the
//! likelihoods of all rests are multiplied. The sd is the posterior mean under a flat prior on the logarithm of
//! the noise. The sd of a reading about the true mass is `sqrt(noise^2 + step^2/12)` (JCGM 100:2008, 4.3.7).

use crate::estimate::Estimate;
use crate::math::distribution::normal_below;

/// Grid of noise sds, in steps.
const NOISES: usize = 28;
const MIN_NOISE: f64 = 0.04;
const RATIO: f64 = 1.14;
/// Grid of places between two steps. Hundreds of readings identify the place to a hundredth of a step; a
/// coarser grid would bias the noise upwards.
const PLACES: usize = 128;
/// Levels on each side of the commonest.
const LEVELS: i64 = 4;
/// With this many rests of more than one window, single windows are excluded.
const MIN_LONG_RESTS: usize = 2;
/// Limit of the number of rests; more add little information.
const MAX_RESTS: usize = 300;

/// Sd of a reading from windows at rest, each at one mass; None if no window is usable.
pub(crate) fn coarse_noise<'a>(windows: impl Iterator<Item = &'a [f64]>, step_g: f64) -> Option<Estimate> {
    let mut rests = rests(windows, step_g);
    // A single window may contain the first or the last water of a pour.
    if rests.iter().filter(|r| r.windows > 1).count() >= MIN_LONG_RESTS {
        rests.retain(|r| r.windows > 1);
    }
    let tallies: Vec<Tally> = rests.iter().filter_map(|r| Tally::of(&r.y, step_g)).collect();
    let every = tallies.len().div_ceil(MAX_RESTS).max(1);
    let noise = |k: usize| MIN_NOISE * RATIO.powi(k as i32);
    let log_likelihood: Vec<f64> = (0..NOISES)
        .map(|k| {
            let table = Table::of(noise(k));
            tallies.iter().step_by(every).map(|t| t.log_likelihood(&table)).sum()
        })
        .collect();
    let most = log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if tallies.is_empty() || !most.is_finite() {
        return None;
    }
    let (mut weight, mut mean, mut square) = (0.0, 0.0, 0.0);
    for (k, l) in log_likelihood.iter().enumerate() {
        let (w, sd) = ((l - most).exp(), step_g * (noise(k).powi(2) + 1.0 / 12.0).sqrt());
        weight += w;
        mean += w * sd;
        square += w * sd * sd;
    }
    mean /= weight;
    // The sd is not below the resolution of the grid.
    let grid = mean * 0.02;
    Some(Estimate::new(mean, (square / weight - mean * mean).max(0.0).sqrt().max(grid)))
}

/// Consecutive windows that flicker between the same two levels are one rest with one place between the steps.
/// Counted separately, a mass near the middle of two steps would be counted as evidence of noise once per
/// window.
fn rests<'a>(windows: impl Iterator<Item = &'a [f64]>, step_g: f64) -> Vec<Rest> {
    let mut rests: Vec<Rest> = Vec::new();
    let mut end = std::ptr::null();
    for y in windows {
        let follows = end == y.as_ptr();
        end = y.as_ptr_range().end;
        let low = y.iter().copied().fold(f64::INFINITY, f64::min);
        let high = y.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let same = |rest: &&mut Rest| high.max(rest.high) - low.min(rest.low) < 1.5 * step_g;
        match rests.last_mut().filter(|_| follows).filter(same) {
            Some(rest) => {
                rest.y.extend(y);
                rest.windows += 1;
                (rest.low, rest.high) = (low.min(rest.low), high.max(rest.high));
            }
            None => rests.push(Rest { y: y.to_vec(), windows: 1, low, high }),
        }
    }
    rests
}

struct Rest {
    y: Vec<f64>,
    windows: usize,
    low: f64,
    high: f64,
}

/// Count of each level in a rest, relative to the commonest.
struct Tally(Vec<(i64, f64)>);

impl Tally {
    fn of(y: &[f64], step_g: f64) -> Option<Self> {
        let first = *y.first()?;
        let mut counts: Vec<(i64, f64)> = Vec::new();
        for level in y.iter().map(|v| ((v - first) / step_g).round() as i64) {
            match counts.iter_mut().find(|c| c.0 == level) {
                Some(c) => c.1 += 1.0,
                None => counts.push((level, 1.0)),
            }
        }
        let commonest = counts.iter().max_by(|a, b| a.1.total_cmp(&b.1))?.0;
        counts.iter_mut().for_each(|c| c.0 = c.0.saturating_sub(commonest));
        counts.iter().all(|c| c.0.abs() <= LEVELS).then_some(Self(counts))
    }

    fn log_likelihood(&self, table: &Table) -> f64 {
        let at = |place: &[f64]| -> f64 {
            self.0.iter().map(|(level, n)| n * place[(level + LEVELS) as usize]).sum()
        };
        let each: Vec<f64> = table.0.iter().map(|place| at(place)).collect();
        let most = each.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        most + (each.iter().map(|l| (l - most).exp()).sum::<f64>() / PLACES as f64).ln()
    }
}

/// Logarithm of the probability of each level, for each place of the mass between two steps.
struct Table(Vec<Vec<f64>>);

impl Table {
    fn of(noise: f64) -> Self {
        let place = |p: usize| (p as f64 + 0.5) / PLACES as f64 - 0.5;
        let below = |mass: f64, level: i64| normal_below((level as f64 - 0.5 - mass) / noise);
        let levels = |mass: f64| {
            let edges: Vec<f64> = (-LEVELS..=LEVELS + 1).map(|level| below(mass, level)).collect();
            edges.windows(2).map(|w| (w[1] - w[0]).max(1e-9).ln()).collect()
        };
        Self((0..PLACES).map(|p| levels(place(p))).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    #[test]
    fn noise_below_the_step_is_estimated_from_the_flicker_of_the_reading() {
        let (mut errors, mut square) = (Vec::new(), 0.0);
        for seed in 0..40 {
            let mut random = Random::new(seed);
            let mut y = Vec::new();
            for _ in 0..6 {
                let mass = random.between([0.0, 300.0]);
                y.push((0..150).map(|_| ((mass + 0.02 * random.normal()) / 0.1).round() * 0.1).collect());
            }
            let windows = y.iter().flat_map(|rest: &Vec<f64>| rest.chunks_exact(10));
            let result = coarse_noise(windows, 0.1).unwrap();
            // The sd of a reading about the mass: sqrt(0.02^2 + 0.1^2/12).
            errors.push(result.value / 0.0351 - 1.0);
            square += ((result.value - 0.0351) / result.sd).powi(2) / 40.0;
        }
        assert!((0.4..2.0).contains(&square), "sd are those of the errors: mean square {square}");
        assert!(errors.iter().sum::<f64>().abs() / 40.0 < 0.05, "{errors:?}");
        assert!(errors.iter().filter(|e| e.abs() < 0.15).count() >= 36, "{errors:?}");
    }

    #[test]
    fn consecutive_windows_at_the_same_levels_form_one_rest() {
        let rest: Vec<f64> = (0..40).map(|i| if i % 5 == 0 { 15.0 } else { 14.0 }).collect();
        let y = [rest, vec![92.0; 20]].concat();
        let result = rests(y.chunks_exact(10), 1.0);
        assert_eq!(result.iter().map(|r| (r.windows, r.y.len())).collect::<Vec<_>>(), [(4, 40), (2, 20)]);
        // A missing window between them separates two rests.
        assert_eq!(rests([&y[40..50], &y[..10], &y[20..30]].into_iter(), 1.0).len(), 3);
    }

    #[test]
    fn a_constant_reading_has_the_sd_of_its_step() {
        let still = [5.0; 200];
        let result = coarse_noise(still.chunks_exact(10), 1.0).unwrap();
        assert!((result.value - 1.0 / 12f64.sqrt()).abs() < 0.015);
    }

    #[test]
    fn the_sd_is_never_below_the_resolution_of_the_grid() {
        let mut random = Random::new(7);
        let y: Vec<Vec<f64>> = (0..250)
            .map(|_| {
                let mass = random.between([0.0, 300.0]);
                (0..60).map(|_| ((mass + 0.02 * random.normal()) / 0.1).round() * 0.1).collect()
            })
            .collect();
        let result = coarse_noise(y.iter().flat_map(|rest| rest.chunks_exact(10)), 0.1).unwrap();
        assert!((result.sd / result.value - 0.02).abs() < 1e-12, "{result}");
        // sqrt(0.02^2 + 0.1^2/12).
        assert!((result.value / 0.035_12 - 1.0).abs() < 0.05, "{result}");
    }

    #[test]
    fn rests_flicker_between_two_steps_of_whatever_size() {
        for step_g in [0.1, 1.0, 2.0] {
            let rest =
                |by: &[i32]| (0..40).map(|i| step_g * f64::from(by[i % by.len()])).collect::<Vec<f64>>();
            let two = rest(&[7, 8, 8, 7, 8]);
            assert_eq!(rests(two.chunks_exact(10), step_g).len(), 1);
            let four = [rest(&[7, 8]), rest(&[9, 8])].concat();
            assert_eq!(rests(four.chunks_exact(10), step_g).len(), 2, "three steps are two rests");
        }
    }
}
