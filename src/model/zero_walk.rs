//! In: rests, in which no water arrives. Out: the intensity of the random walk of zero in them.
//!
//! A random walk of the level shows in every pair of readings of a rest, not in its slope alone. Two or three
//! slopes may agree by chance. Method: the local level model (Harvey, Forecasting, structural time series
//! models and the Kalman filter, 1989, 2.2; the section was not checked). A Kalman filter gives its likelihood
//! on a grid of intensities. The result is the posterior mean square: with few data, the mode would often be 0.

/// Grid of intensities, g per root s; the ratio of neighbours is the square root of two.
const MIN_G: f64 = 0.001;
const TRIALS: i32 = 19;
/// Limit of an innovation, in sd. A larger one is an undetected disturbance; its influence is bounded.
const MAX_SDS: f64 = 3.0;
/// A rest has a noise of its own if its variance is this many times the log's.
const NOISIER: f64 = 1.5;

/// Intensity of the walk, g2/s; 0 without rests. Each rest is its stamps and readings.
pub(crate) fn walk_g2_per_s<'a>(rests: &[(&'a [f64], &'a [f64])], noise_g: f64) -> f64 {
    let walks: Vec<f64> = (0..TRIALS).map(|k| MIN_G * 2.0_f64.powf(0.5 * f64::from(k))).collect();
    let noises: Vec<f64> = rests.iter().map(|(_, y)| noise_var(y, noise_g * noise_g)).collect();
    let deviance = |walk_g: &f64| {
        rests.iter().zip(&noises).map(|((t, y), &noise)| deviance(t, y, walk_g * walk_g, noise)).sum::<f64>()
    };
    let deviances: Vec<f64> = walks.iter().map(deviance).collect();
    let least = deviances.iter().copied().fold(f64::INFINITY, f64::min);
    let (mut sum, mut squares) = (0.0, 0.0);
    for (walk_g, deviance) in walks.iter().zip(deviances) {
        // The prior is proportional to 1/intensity: larger walks are rarer.
        let weight = (-0.5 * (deviance - least)).exp() / walk_g;
        sum += weight;
        squares += weight * walk_g * walk_g;
    }
    if !rests.is_empty() && sum > 0.0 { squares / sum } else { 0.0 }
}

/// Variance of the noise of a rest, g2. A scale that holds its reading at rest can have less noise over the
/// whole log than in one rest. The difference would be taken for a walk. The covariance of neighbouring
/// differences is minus the variance of the noise, whatever the walk.
fn noise_var(y: &[f64], usual: f64) -> f64 {
    let differences: Vec<f64> = y.windows(2).map(|y| y[1] - y[0]).collect();
    let common = differences.windows(2).map(|d| d[0] * d[1]).sum::<f64>();
    let own = -common / differences.len().saturating_sub(1).max(1) as f64;
    if own > NOISIER * usual { own } else { usual }
}

/// Deviance (-2 log likelihood) of the readings after the first.
fn deviance(t: &[f64], y: &[f64], walk: f64, noise: f64) -> f64 {
    let (mut level, mut var, mut sum) = (y[0], noise, 0.0);
    for i in 1..t.len() {
        var += walk * (t[i] - t[i - 1]);
        let expected = var + noise;
        let innovation = y[i] - level;
        sum += expected.ln() + (innovation * innovation / expected).min(MAX_SDS * MAX_SDS);
        let gain = var / expected;
        level += gain * innovation;
        var *= 1.0 - gain;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    /// Four rests of 20 s at ten a second, noise 0.06 g.
    fn estimate(walk_g: f64, seed: u64) -> f64 {
        let mut random = Random::new(seed);
        let t: Vec<f64> = (0..200).map(|i| 0.1 * f64::from(i)).collect();
        let rest = |_| {
            let mut level = 0.0;
            let mut reading = |_: &f64| {
                level += walk_g * 0.1_f64.sqrt() * random.normal();
                level + 0.06 * random.normal()
            };
            t.iter().map(&mut reading).collect::<Vec<f64>>()
        };
        let rests: Vec<Vec<f64>> = (0..4).map(rest).collect();
        let rests: Vec<(&[f64], &[f64])> = rests.iter().map(|y| (t.as_slice(), y.as_slice())).collect();
        walk_g2_per_s(&rests, 0.06).sqrt()
    }

    #[test]
    fn the_estimated_walk_has_no_bias() {
        for walk_g in [0.02, 0.1] {
            let mean = (0..20).map(|seed| estimate(walk_g, seed)).sum::<f64>() / 20.0;
            println!("{walk_g}: {mean:.4}");
            assert!((mean / walk_g - 1.0).abs() < 0.1, "{mean}");
        }
    }

    #[test]
    fn a_rest_noisier_than_the_log_does_not_raise_the_walk() {
        let mut random = Random::new(1);
        let t: Vec<f64> = (0..90).map(|i| 0.1 * f64::from(i)).collect();
        let y: Vec<f64> = t.iter().map(|_| 0.06 * random.normal()).collect();
        let walk_g = |noise_g| walk_g2_per_s(&[(t.as_slice(), y.as_slice())], noise_g).sqrt();
        println!("{:.4} {:.4} {:.4}", walk_g(0.06), walk_g(0.03), walk_g(0.01));
        assert!(walk_g(0.06) < 0.02 && walk_g(0.03) < 0.02 && walk_g(0.01) < 0.02);
    }

    #[test]
    fn a_constant_zero_has_a_walk_near_zero() {
        assert!((0..20).all(|seed| estimate(0.0, seed) < 0.006));
        assert_eq!(walk_g2_per_s(&[], 0.06), 0.0);
    }

    #[test]
    fn the_deviance_is_that_of_a_filter_reckoned_by_hand() {
        // Noise 1 g2, a walk of 0.5 g2 in a second. Second reading: variance 1 + 1 + 1 = 3, 1 g off, gain 2/3, 2/3
        // g2 left.
        // Third, after one second: variance 2/3 + 1/2 + 1 = 13/6, and so far off that nine sd squared are all that
        // counts.
        let first = 3_f64.ln() + 1.0 / 3.0;
        let found = deviance(&[0.0, 2.0], &[5.0, 6.0], 0.5, 1.0);
        assert!((found - first).abs() < 1e-12, "{found}");
        let level = 5.0 + 2.0 / 3.0;
        let near = deviance(&[0.0, 2.0, 3.0], &[5.0, 6.0, level + 2.0], 0.5, 1.0);
        assert!((near - first - (13.0 / 6.0_f64).ln() - 24.0 / 13.0).abs() < 1e-12, "{near}");
        let far = deviance(&[0.0, 2.0, 3.0], &[5.0, 6.0, level + 40.0], 0.5, 1.0);
        assert!((far - first - (13.0 / 6.0_f64).ln() - 9.0).abs() < 1e-12, "{far}");
    }

    #[test]
    fn a_rest_has_the_noise_of_the_log_unless_its_differences_show_half_as_much_again() {
        // Up and down by a: neighbouring differences of 2 a have -4 a^2 in common, over their number less one.
        let rest = |a: f64| (0..11).map(|i| if i % 2 == 0 { a } else { -a }).collect::<Vec<f64>>();
        assert!((noise_var(&rest(0.1), 0.01) - 0.04).abs() < 1e-12);
        assert!((noise_var(&rest(0.1), 0.026) - 0.04).abs() < 1e-12);
        assert_eq!(noise_var(&rest(0.1), 0.027), 0.027);
    }
}
