//! In: the samples of a rest. Out: the level at which it begins or ends.
//!
//! Method: the filter of Kalman for a level that walks under noisy readings, from the far end of the rest towards the instant (Harvey, Forecasting, structural
//! time series models and the Kalman filter, 1989, 2.2; from memory).

use crate::estimate::Estimate;
use crate::model::samples::Samples;
use crate::segment::fitted::Fit;

/// So many readings of one value, and so many sd off the others of their rest, are a reading that stood still.
const STOOD: usize = 4;
const STOOD_SDS: f64 = 3.0;

/// Level near an instant from samples given outward from it, g.
pub(super) fn level(
    x: &Samples,
    fit: &Fit,
    outward: impl Iterator<Item = usize>,
    at_s: f64,
    kept: &dyn Fn(f64) -> f64,
) -> Option<Estimate> {
    let walk_g2_per_s = x.zero_g2_per_s(fit.disturbance.zero_g);
    let index = telling(x, fit.disturbance.noise_sd_g, walk_g2_per_s, outward.collect());
    let far = *index.last()?;
    // The shape's word for what the lag still keeps back is good to a tenth.
    let noise = |t: f64| fit.disturbance.noise_sd_g.powi(2) + (0.1 * kept(t)).powi(2);
    let (mut mean, mut var) = (x.mass_g[far] + kept(x.time_s[far]), noise(x.time_s[far]));
    for pair in index.windows(2).rev() {
        let (t, s) = (x.time_s[pair[0]], x.time_s[pair[1]]);
        var += walk_g2_per_s * (t - s).abs();
        let gain = var / (var + noise(t));
        mean += gain * (x.mass_g[pair[0]] + kept(t) - mean);
        var *= 1.0 - gain;
    }
    var += walk_g2_per_s * (x.time_s[index[0]] - at_s).abs();
    Some(Estimate::new(mean, (var + x.rounding_var_g2).sqrt()))
}

/// The samples of a rest less those that a reading which stood still only repeats: a run of one value that is off all others by more than chance. A run of the
/// value that they all have says as little, but does no harm.
fn telling(x: &Samples, noise_sd_g: f64, walk_g2_per_s: f64, index: Vec<usize>) -> Vec<usize> {
    let n = index.len() as f64;
    let span_s = index.first().zip(index.last()).map_or(0.0, |(a, b)| (x.time_s[*a] - x.time_s[*b]).abs());
    let sum_g: f64 = index.iter().map(|&i| x.mass_g[i]).sum();
    let mut told = Vec::with_capacity(index.len());
    for run in index.chunk_by(|&a, &b| x.mass_g[a] == x.mass_g[b]) {
        let (long, value_g) = (run.len() as f64, x.mass_g[run[0]]);
        let others_g = (sum_g - long * value_g) / (n - long);
        // What the zero walks in the meantime, and a coarse readout, are no reading that stands still.
        let chance_g2 =
            noise_sd_g.powi(2) * (1.0 / long + 1.0 / (n - long)) + walk_g2_per_s * span_s + x.rounding_var_g2;
        let stood = run.len() >= STOOD && (value_g - others_g).powi(2) > STOOD_SDS.powi(2) * chance_g2;
        told.extend(if stood { &run[..1] } else { run });
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Which of fifty readings about 10 g, off by 0.05 g to one side and the other, tell something where some of them are held at a value.
    fn told(held: std::ops::Range<usize>, value_g: f64, walk_g2_per_s: f64) -> Vec<usize> {
        let mut mass_g: Vec<f64> = (0..50).map(|i| if i % 2 == 0 { 9.95 } else { 10.05 }).collect();
        mass_g[held].fill(value_g);
        let x = Samples::ten_a_second((0..50).map(|i| 0.1 * f64::from(i)).collect(), mass_g);
        telling(&x, 0.05, walk_g2_per_s, (0..50).collect())
    }

    #[test]
    fn a_reading_that_stood_still_beside_the_level_counts_once() {
        // By hand: ten readings 0.1 g off forty others lie 0.1/sqrt(0.0025 (1/10 + 1/40)) = 5.7 sd off, at 0.04 g 2.3.
        let once: Vec<usize> = (0..=20).chain(30..50).collect();
        assert_eq!(told(20..30, 10.1, 0.0), once);
        assert_eq!(told(20..30, 10.04, 0.0).len(), 50);
    }

    #[test]
    fn readings_of_a_level_that_may_have_walked_there_all_count() {
        // By hand: 0.01 g2/s over 4.9 s let it be off by 0.22 g.
        assert_eq!(told(20..30, 10.1, 0.01).len(), 50);
        // Three of one value are no run, and a rest that holds but one value has no others.
        assert_eq!(told(20..23, 11.0, 0.0).len(), 50);
        assert_eq!(told(0..50, 11.0, 0.0).len(), 50);
    }
}
