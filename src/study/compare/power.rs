//! In: a difference that matters, the sd between brews, and a power. Out: brews per group; or the inverse.
//!
//! The power of the two-sided t test at equal sd, by the noncentral t distribution (Cohen 1988, Statistical Power
//! Analysis, chapter 2).

use crate::error::{Error, Result};
use crate::math::distribution::{root, student_half_width};
use crate::math::noncentral::noncentral_below;
use crate::study::compare::equivalence::{above_0, within_level};
use crate::study::compare::warnings::FEWEST;

const MOST: usize = 1_000_000;

/// Probability of detecting a true difference of `noncentrality` standard errors.
pub(super) fn power_of_t(noncentrality: f64, degrees: f64, level: f64) -> f64 {
    let t = student_half_width(level, degrees);
    1.0 - noncentral_below(t, degrees, noncentrality) + noncentral_below(-t, degrees, noncentrality)
}

/// The true difference, in standard errors, that is detected with that probability.
pub(super) fn seen(degrees: f64, power_wanted: f64, level: f64) -> f64 {
    // Below one degree of freedom per tail the bound is wide; 60 times the half-width holds any power up to 0.9999.
    let most = 60.0 * student_half_width(level, degrees) + 60.0;
    root(0.0, most, |noncentrality| power_of_t(noncentrality, degrees, level) < power_wanted)
}

/// Power: probability that a study with `brews` per group detects a true difference at that level (0.95: p below
/// 0.05).
///
/// ```
/// // Cohen 1988: 64 per group detect half an sd with a power of 80 %.
/// let found = pourline::power(0.5, 1.0, 64, 0.95)?;
/// assert!((found - 0.80).abs() < 0.005);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` if the sd is not above 0, there are fewer than 2 brews per group, or the level is not between 0.5
/// and 1.
pub fn power(difference: f64, sd: f64, brews: usize, level: f64) -> Result<f64> {
    above_0("sd", sd)?;
    two_brews(brews)?;
    within_level("level", level)?;
    if !difference.is_finite() {
        let rule = "it must be finite".into();
        return Err(Error::OutOfRange { name: "difference".into(), value: difference, rule, row: 0 });
    }
    Ok(of_brews(difference.abs() / sd, brews, level))
}

/// Brews per group needed to detect a true difference with that power, and at least as many as a comparison needs for
/// a p. `sd` is the sd between brews within one group and block.
///
/// ```
/// // Cohen 1988, table 2.4.1: 64 per group for half an sd, 26 for 0.8 sd, at a power of 80 %.
/// assert_eq!(pourline::sample_size(0.5, 1.0, 0.8, 0.95)?, 64);
/// assert_eq!(pourline::sample_size(0.8, 1.0, 0.8, 0.95)?, 26);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` if difference or sd are not above 0, power or level not between 0.5 and 1, or more than a million
/// are needed.
pub fn sample_size(difference: f64, sd: f64, power: f64, level: f64) -> Result<usize> {
    above_0("difference", difference)?;
    above_0("sd", sd)?;
    within_level("power", power)?;
    within_level("level", level)?;
    let enough = |brews: usize| of_brews(difference / sd, brews, level) >= power;
    let least = fewest(level);
    let mut high = least;
    while !enough(high) {
        if high > MOST {
            let rule = format!("more than {MOST} brews per group would be needed to detect it");
            return Err(Error::OutOfRange { name: "difference".into(), value: difference, rule, row: 0 });
        }
        high *= 2;
    }
    let mut low = if high == least { least - 1 } else { high / 2 };
    while high - low > 1 {
        let middle = usize::midpoint(low, high);
        if enough(middle) { high = middle } else { low = middle }
    }
    Ok(high)
}

/// Minimum detectable difference: the smallest true difference that is detected with that power.
///
/// ```
/// // The same table, inverted: 64 per group detect half an sd.
/// let found = pourline::minimum_detectable_difference(64, 1.0, 0.8, 0.95)?;
/// assert!((found - 0.5).abs() < 0.005);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` if the sd is not above 0, there are fewer than 2 brews per group, or power or level are not between
/// 0.5 and 1.
pub fn minimum_detectable_difference(brews: usize, sd: f64, power: f64, level: f64) -> Result<f64> {
    above_0("sd", sd)?;
    two_brews(brews)?;
    within_level("power", power)?;
    within_level("level", level)?;
    let n = brews as f64;
    Ok(sd * (2.0 / n).sqrt() * seen(2.0 * n - 2.0, power, level))
}

fn of_brews(effect: f64, brews: usize, level: f64) -> f64 {
    let n = brews as f64;
    power_of_t(effect * (0.5 * n).sqrt(), 2.0 * n - 2.0, level)
}

/// Fewest brews per group for which a comparison gives a p: of all ways to deal them, two are the most extreme.
fn fewest(level: f64) -> usize {
    let (mut brews, mut ways) = (FEWEST, 20.0);
    while 2.0 / ways > (1.0 - level) * (1.0 + 1e-9) {
        let n = brews as f64;
        ways *= (2.0 * n + 1.0) * (2.0 * n + 2.0) / ((n + 1.0) * (n + 1.0));
        brews += 1;
    }
    brews
}

fn two_brews(brews: usize) -> Result<()> {
    if brews >= 2 {
        return Ok(());
    }
    let rule = "at least 2 per group are needed".into();
    Err(Error::OutOfRange { name: "brews".into(), value: brews as f64, rule, row: 0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sample_size_is_the_smallest_with_the_power() {
        // Two-sided 0.05 and a power of 0.80; by scipy 1, stats.nct: 0.2, 0.5, 0.8, 1.0, 1.2 and 1.4 sd. Cohen's
        // tables round two of them down by one.
        for (difference, brews) in [(0.2, 394), (0.5, 64), (0.8, 26), (1.0, 17), (1.2, 12), (1.4, 10)] {
            assert_eq!(sample_size(difference, 1.0, 0.8, 0.95).unwrap(), brews);
            assert!(power(difference, 1.0, brews, 0.95).unwrap() >= 0.8);
            assert!(power(difference, 1.0, brews - 1, 0.95).unwrap() < 0.8);
        }
        // Own arithmetic: 4 and 4 have 70 deals, of which two are the most extreme, 0.029; 3 and 3 have 20, 0.10.
        assert_eq!(sample_size(100.0, 1.0, 0.8, 0.95).unwrap(), 4);
        assert_eq!([0.9, 0.951, 0.98, 0.99].map(fewest), [3, 4, 5, 5]);
        // 6 and 6 have 924: 0.0022.
        assert_eq!([0.995, 0.998].map(fewest), [6, 7]);
        assert_eq!(sample_size(5.0, 10.0, 0.8, 0.95).unwrap(), 64, "half an sd of any size");
    }

    #[test]
    fn the_sample_size_is_at_most_a_million() {
        // By the normal law (1.959964 + 0.841621)^2 2/d^2 brews: 900,000 for 0.004177 sd, 1.5 million for 0.003235.
        let found = sample_size(0.004_177, 1.0, 0.8, 0.95).unwrap() as f64;
        assert!((found / 9e5 - 1.0).abs() < 0.002, "{found}");
        assert_eq!(sample_size(0.003_235, 1.0, 0.8, 0.95).unwrap_err().kind(), "out_of_range");
    }

    #[test]
    fn the_minimum_detectable_difference_has_the_power() {
        for (brews, sd) in [(2, 1.0), (5, 0.3), (64, 2.0)] {
            let seen = minimum_detectable_difference(brews, sd, 0.8, 0.95).unwrap();
            assert!((power(seen, sd, brews, 0.95).unwrap() - 0.8).abs() < 1e-6, "{brews}");
        }
        // Cohen: 64 per group for half an sd, of 2.
        assert!((minimum_detectable_difference(64, 2.0, 0.8, 0.95).unwrap() - 1.0).abs() < 0.01);
        assert!(power(1.0, 1.0, 1, 0.95).is_err() && power(1.0, 1.0, 2, 0.95).is_ok());
    }
}
