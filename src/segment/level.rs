//! In: the samples of a rest. Out: the level at its start or end.
//!
//! Method: Kalman filter of the local level model, from the far end of the rest towards the instant (Harvey,
//! Forecasting, structural time series models and the Kalman filter, 1989, 2.2; the section was not checked).

use crate::estimate::Estimate;
use crate::model::samples::Samples;
use crate::segment::fitted::Fit;

/// A run of at least so many equal readings, so many sd off the others of their rest, is a stuck reading.
const STUCK: usize = 4;
const STUCK_SDS: f64 = 3.0;

/// Level near an instant, g, from samples in order of distance from it.
pub(super) fn level(
    x: &Samples,
    fit: &Fit,
    outward: impl Iterator<Item = usize>,
    at_s: f64,
    lagged: &dyn Fn(f64) -> f64,
) -> Option<Estimate> {
    let walk_g2_per_s = x.zero_g2_per_s(fit.disturbance.zero_g);
    let index = independent_samples(x, fit.disturbance.noise_sd_g, walk_g2_per_s, outward.collect());
    let far = *index.last()?;
    // The water that the lag still hides is known to a tenth.
    let noise = |t: f64| fit.disturbance.noise_sd_g.powi(2) + (0.1 * lagged(t)).powi(2);
    let (mut mean, mut var) = (x.mass_g[far] + lagged(x.time_s[far]), noise(x.time_s[far]));
    for pair in index.windows(2).rev() {
        let (t, s) = (x.time_s[pair[0]], x.time_s[pair[1]]);
        var += walk_g2_per_s * (t - s).abs();
        let gain = var / (var + noise(t));
        mean += gain * (x.mass_g[pair[0]] + lagged(t) - mean);
        var *= 1.0 - gain;
    }
    var += walk_g2_per_s * (x.time_s[index[0]] - at_s).abs();
    Some(Estimate::new(mean, (var + x.rounding_var_g2).sqrt()))
}

/// The samples of a rest without the repeats of a stuck reading: a run of one value that differs from all
/// others by more than chance. A run of the common value carries as little information, but does no harm.
fn independent_samples(x: &Samples, noise_sd_g: f64, walk_g2_per_s: f64, index: Vec<usize>) -> Vec<usize> {
    let n = index.len() as f64;
    let span_s = index.first().zip(index.last()).map_or(0.0, |(a, b)| (x.time_s[*a] - x.time_s[*b]).abs());
    let sum_g: f64 = index.iter().map(|&i| x.mass_g[i]).sum();
    let mut independent = Vec::with_capacity(index.len());
    for run in index.chunk_by(|&a, &b| x.mass_g[a] == x.mass_g[b]) {
        let (long, value_g) = (run.len() as f64, x.mass_g[run[0]]);
        let others_g = (sum_g - long * value_g) / (n - long);
        // The walk of zero and a coarse readout can also give a run of equal readings.
        let chance_g2 =
            noise_sd_g.powi(2) * (1.0 / long + 1.0 / (n - long)) + walk_g2_per_s * span_s + x.rounding_var_g2;
        let is_stuck = run.len() >= STUCK && (value_g - others_g).powi(2) > STUCK_SDS.powi(2) * chance_g2;
        independent.extend(if is_stuck { &run[..1] } else { run });
    }
    independent
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Independent ones of fifty readings that alternate by 0.05 g about 10 g, some of them stuck at a value.
    fn independent(stuck: std::ops::Range<usize>, value_g: f64, walk_g2_per_s: f64) -> Vec<usize> {
        let mut mass_g: Vec<f64> = (0..50).map(|i| if i % 2 == 0 { 9.95 } else { 10.05 }).collect();
        mass_g[stuck].fill(value_g);
        let x = Samples::ten_a_second((0..50).map(|i| 0.1 * f64::from(i)).collect(), mass_g);
        independent_samples(&x, 0.05, walk_g2_per_s, (0..50).collect())
    }

    #[test]
    fn a_stuck_reading_off_the_level_counts_once() {
        // Ten readings 0.1 g off forty others lie 0.1/sqrt(0.0025 (1/10 + 1/40)) = 5.7 sd off; at 0.04 g 2.3
        // sd.
        let once: Vec<usize> = (0..=20).chain(30..50).collect();
        assert_eq!(independent(20..30, 10.1, 0.0), once);
        assert_eq!(independent(20..30, 10.04, 0.0).len(), 50);
    }

    #[test]
    fn equal_readings_within_the_random_walk_all_count() {
        // 0.01 g2/s over 4.9 s is an sd of 0.22 g.
        assert_eq!(independent(20..30, 10.1, 0.01).len(), 50);
        // Three equal readings are no run, and in a rest of one value there are no others.
        assert_eq!(independent(20..23, 11.0, 0.0).len(), 50);
        assert_eq!(independent(0..50, 11.0, 0.0).len(), 50);
    }
}
