//! In: a number and degrees of freedom. Out: probabilities of the normal, Student's t, Fisher's F and the chi-squared
//! distribution, and their quantiles.
//!
//! Shares are regularised incomplete beta and gamma functions of `statrs`. Its quantiles of t are wrong for many
//! degrees and in far tails, so every quantile here is the root of a share, by bisection to the last bit.

use statrs::function::beta::checked_beta_reg;
use statrs::function::erf::erfc;
use statrs::function::gamma::{checked_gamma_lr, checked_gamma_ur};
use std::f64::consts::{FRAC_PI_2, SQRT_2};

/// From this many degrees of freedom on, Student's t is computed from the normal distribution.
const MANY: f64 = 1e6;

/// Share of the standard normal distribution below `x`.
pub(crate) fn normal_below(x: f64) -> f64 {
    0.5 * erfc(-x / SQRT_2)
}

/// The number below which that share of the standard normal distribution lies.
pub(crate) fn normal_quantile(share: f64) -> f64 {
    if share > 0.5 {
        return -normal_quantile(1.0 - share);
    }
    root(-40.0, 0.0, |x| normal_below(x) < share)
}

/// Share of Student's t distribution outside of `-t` and `t`.
pub(crate) fn student_outside(t: f64, degrees: f64) -> f64 {
    let t2 = t * t;
    if degrees > MANY {
        // The beta function loses digits here; this expansion is right to 1e-9 (checked against scipy below).
        let z = t.abs() * (1.0 - 0.25 / degrees) / (1.0 + 0.5 * t2 / degrees).sqrt();
        return 2.0 * normal_below(-z);
    }
    if t2 < 1.0 {
        // Near the middle the other tail of the beta function has no cancellation.
        return 1.0 - beta(0.5, 0.5 * degrees, t2 / (degrees + t2));
    }
    beta(0.5 * degrees, 0.5, degrees / (degrees + t2))
}

/// The t for which the share `confidence`, between 0 and 1, lies within `-t` and `t`.
pub(crate) fn student_half_width(confidence: f64, degrees: f64) -> f64 {
    // Bisection in the angle: with few degrees t covers many orders of magnitude.
    let t = |angle: f64| angle.tan() * degrees.sqrt();
    t(root(0.0, FRAC_PI_2, |angle| 1.0 - student_outside(t(angle), degrees) < confidence))
}

/// Share of Fisher's F distribution above `f`.
pub(crate) fn fisher_above(f: f64, above: f64, below: f64) -> f64 {
    if f <= 0.0 {
        return 1.0;
    }
    if f.is_infinite() {
        return 0.0;
    }
    beta(0.5 * below, 0.5 * above, below / (below + above * f))
}

/// The number above which that share of Fisher's F distribution lies.
pub(crate) fn fisher_quantile_above(share: f64, above: f64, below: f64) -> f64 {
    let f = |angle: f64| angle.tan();
    f(root(0.0, FRAC_PI_2, |angle| fisher_above(f(angle), above, below) > share))
}

/// Share of the chi-squared distribution below `x`.
pub(crate) fn chi_squared_below(x: f64, degrees: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    checked_gamma_lr(0.5 * degrees, 0.5 * x).unwrap_or(f64::NAN)
}

/// The number below which that share of the chi-squared distribution lies.
pub(crate) fn chi_squared_quantile(share: f64, degrees: f64) -> f64 {
    let below = |x: f64| {
        if share > 0.5 {
            checked_gamma_ur(0.5 * degrees, 0.5 * x).unwrap_or(f64::NAN) > 1.0 - share
        } else {
            chi_squared_below(x, degrees) < share
        }
    };
    root(0.0, 40.0 * (degrees + 40.0), |x| x <= 0.0 || below(x))
}

fn beta(a: f64, b: f64, x: f64) -> f64 {
    checked_beta_reg(a, b, x.clamp(0.0, 1.0)).unwrap_or(f64::NAN)
}

/// The point at which `below` changes from true to false.
pub(crate) fn root(mut low: f64, mut high: f64, below: impl Fn(f64) -> bool) -> f64 {
    loop {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            return middle;
        }
        if below(middle) { low = middle } else { high = middle }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of scipy 1.17.1, `scipy.stats`; the name of the function is given with each list.
    fn near(found: f64, expected: f64, what: &str) {
        assert!((found - expected).abs() <= 1e-9 * expected.abs(), "{what}: {found}, not {expected}");
    }

    #[test]
    fn the_normal_distribution_is_that_of_the_reference_library() {
        // norm.cdf
        for (x, expected) in [
            (-8.0, 6.22096057427174e-16),
            (-1.96, 0.024997895148220435),
            (0.3, 0.6179114221889526),
            (2.5, 0.9937903346742238),
        ] {
            near(normal_below(x), expected, "cdf");
        }
        // norm.ppf
        for (share, expected) in
            [(1e-9, -5.9978070150076865), (0.8, 0.8416212335729143), (0.975, 1.959963984540054)]
        {
            near(normal_quantile(share), expected, "ppf");
        }
    }

    #[test]
    fn students_t_is_that_of_the_reference_library_for_few_and_very_many_degrees() {
        // t.ppf((1 + confidence)/2, degrees)
        for (confidence, degrees, expected) in [
            (0.95, 1.0, 12.706204736174694),
            (0.95, 2.5, 3.5746548420036817),
            (0.95, 29.0, 2.045229642132703),
            (0.95, 30_000.0, 1.9600430633839347),
            (0.95, 1e6, 1.959966356814107),
            (0.9999, 1.0, 6366.197671316637),
            (0.9999, 4.0, 15.544100581546113),
            (0.001, 7.0, 0.0012987305550739498),
        ] {
            near(student_half_width(confidence, degrees), expected, "t.ppf");
        }
        // 2 t.sf
        for (t, degrees, expected) in [
            (0.01, 5.0, 0.9924080180425819),
            (2.0, 10.0, 0.07338803477074037),
            (8.0, 10.0, 1.1774942789666167e-5),
            (40.0, 3.3, 1.5058887281799363e-5),
            (2.0, 1e5, 0.04550296345750651),
            (8.0, 2e5, 1.2507760356860316e-15),
            (3.0, 1.1e6, 0.0026998564979165756),
            (1.0, 1e9, 0.3173105081048848),
        ] {
            near(student_outside(t, degrees), expected, "t.sf");
        }
    }

    #[test]
    fn students_t_is_that_of_the_published_table() {
        // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column .975, three digits; from memory, the
        // same as scipy's t.ppf.
        for (degrees, published) in [(1.0, 12.706), (2.0, 4.303), (5.0, 2.571), (10.0, 2.228), (100.0, 1.984)]
        {
            assert!((student_half_width(0.95, degrees) - published).abs() < 5.1e-4, "{degrees} degrees");
        }
    }

    #[test]
    fn fishers_f_and_chi_squared_are_those_of_the_reference_library() {
        // f.isf
        for (share, above, below, expected) in [
            (0.05, 1.0, 10.0, 4.964602743730711),
            (0.05, 4.0, 7.5, 3.9668834940295015),
            (0.01, 30.0, 60.0, 2.0284785170992485),
            (0.95, 3.0, 8.0, 0.1130551770341521),
            (0.025, 5.0, 1e5, 2.5666265777249277),
        ] {
            near(fisher_quantile_above(share, above, below), expected, "f.isf");
            near(fisher_above(expected, above, below), share, "f.sf");
        }
        // chi2.ppf
        for (share, degrees, expected) in [
            (0.025, 1.0, 0.0009820691171752555),
            (0.975, 1.0, 5.023886187314888),
            (0.025, 10.0, 3.2469727802368413),
            (0.975, 10.0, 20.483177350807388),
            (0.5, 200.0, 199.33372983863097),
            (0.999, 3.5, 17.389858670332334),
        ] {
            near(chi_squared_quantile(share, degrees), expected, "chi2.ppf");
        }
    }
}
