//! In: values of two or more groups of unequal variance. Out: standard error and degrees of freedom of a difference,
//! the F of all groups together.
//!
//! Welch 1947, Biometrika 34, 28 (two groups); Welch 1951, Biometrika 38, 330 (more).

use crate::math::distribution::fisher_above;

/// Standard error of the difference of the means of two samples.
#[derive(Debug, Clone, Copy)]
pub(super) struct WelchError {
    pub standard_error: f64,
    /// By Welch and Satterthwaite; NaN if a group has a single value or the variance is 0.
    pub degrees: f64,
    /// Variance of the mean of the first.
    pub first_variance: f64,
}

/// Mean and variance; the variance of a single value is NaN.
pub(super) fn moments(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0))
}

pub(super) fn welch_error(a: &[f64], b: &[f64]) -> WelchError {
    let (n, m) = (a.len() as f64, b.len() as f64);
    let (p, q) = (moments(a).1 / n, moments(b).1 / m);
    WelchError {
        standard_error: (p + q).sqrt(),
        degrees: (p + q).powi(2) / (p * p / (n - 1.0) + q * q / (m - 1.0)),
        first_variance: p,
    }
}

/// F, its two degrees of freedom and p for the equality of the means of all groups; each `(n, mean, variance)`.
pub(super) fn welch_f(groups: &[(f64, f64, f64)]) -> [f64; 4] {
    let k = groups.len() as f64;
    let weight = |g: &(f64, f64, f64)| g.0 / g.2;
    let all: f64 = groups.iter().map(weight).sum();
    let mean = groups.iter().map(|g| weight(g) * g.1).sum::<f64>() / all;
    let between = groups.iter().map(|g| weight(g) * (g.1 - mean).powi(2)).sum::<f64>() / (k - 1.0);
    let spread: f64 = groups.iter().map(|g| (1.0 - weight(g) / all).powi(2) / (g.0 - 1.0)).sum();
    let f = between / (1.0 + 2.0 * (k - 2.0) / (k * k - 1.0) * spread);
    let (above, below) = (k - 1.0, (k * k - 1.0) / (3.0 * spread));
    [f, above, below, fisher_above(f, above, below)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::distribution::student_outside;

    #[test]
    fn welch_is_that_of_the_reference_libraries() {
        let (a, b, c) = ([5.1, 4.9, 6.2, 5.5, 5.0], [6.0, 7.9, 5.2, 8.8, 6.1, 9.4], [5.6, 5.7, 5.2, 5.9]);
        let error = welch_error(&a, &b);
        let t = (moments(&b).0 - moments(&a).0) / error.standard_error;
        // scipy 1.17.1, ttest_ind(b, a, equal_var=False).
        for (found, expected) in [
            (t, 2.5740122534265915),
            (error.degrees, 6.131970845114664),
            (student_outside(t, error.degrees), 0.04129616799297465),
        ] {
            assert!((found / expected - 1.0).abs() < 1e-12, "{found}, not {expected}");
        }
        // pingouin 0.7.0, welch_anova.
        let of = |x: &[f64]| (x.len() as f64, moments(x).0, moments(x).1);
        let found = welch_f(&[of(&a), of(&b), of(&c)]);
        for (found, expected) in
            found.iter().zip([3.0695716808771314, 2.0, 7.587394926934911, 0.10549770859949946])
        {
            assert!((found / expected - 1.0).abs() < 1e-9, "{found}, not {expected}");
        }
    }
}
