//! In: t, degrees of freedom, noncentrality. Out: share of the noncentral t distribution below it.
//!
//! t = (z + noncentrality)/s, with z normal and s the root of a chi-squared over its degrees: the normal share below
//! t s, averaged over s (Johnson, Kotz and Balakrishnan 1995, Continuous Univariate Distributions 2, chapter 31).

use crate::math::distribution::normal_below;
use crate::math::quadrature::integral;
use statrs::function::gamma::ln_gamma;

const TOLERANCE: f64 = 1e-11;
/// Half-width of the range of integration, in sd of the scale: 1e-20 of it lies outside.
const REACH: f64 = 10.0;
/// From here on the scale is normal to a part in 1e12.
const MANY: f64 = 1e6;

/// Mean of `g(s)`, with s² a chi-squared variable over its degrees of freedom; the degrees may be infinite.
pub(crate) fn over_scale(degrees: f64, g: &impl Fn(f64) -> f64) -> f64 {
    let sd = 1.0 / (2.0 * degrees).sqrt();
    if degrees > MANY {
        // Three nodes of Gauss and Hermite.
        let (middle, side) = (1.0 - 0.25 / degrees, 3.0_f64.sqrt() * sd);
        return (4.0 * g(middle) + g(middle - side) + g(middle + side)) / 6.0;
    }
    // In u = s - 1, to avoid cancellation for many degrees.
    let half = 0.5 * degrees;
    let constant = 2.0_f64.ln() + at_one(half);
    let weighted =
        |u: f64| (constant + (degrees - 1.0) * u.ln_1p() - degrees * (u + 0.5 * u * u)).exp() * g(1.0 + u);
    // From the middle outwards, so that the first panels contain the peak.
    let reach = REACH * sd;
    integral(&weighted, (-reach).max(-1.0), 0.0, TOLERANCE) + integral(&weighted, 0.0, reach, TOLERANCE)
}

/// h ln h - h - ln Γ(h).
fn at_one(h: f64) -> f64 {
    if h < 100.0 {
        return h * h.ln() - h - ln_gamma(h);
    }
    // Stirling: the remainder is below 1e-13.
    0.5 * (h / (2.0 * std::f64::consts::PI)).ln() - 1.0 / (12.0 * h) + 1.0 / (360.0 * h.powi(3))
}

/// Share of the noncentral t distribution below `t`.
pub(crate) fn noncentral_below(t: f64, degrees: f64, noncentrality: f64) -> f64 {
    over_scale(degrees, &|s| normal_below(t * s - noncentrality)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::distribution::student_outside;

    #[test]
    fn the_noncentral_t_is_that_of_the_reference_library() {
        // scipy 1.17.1, nct.cdf(t, degrees, noncentrality).
        for (t, degrees, noncentrality, expected) in [
            (2.0, 10.0, 0.5, 0.9081110995427877),
            (2.0, 10.0, 3.0, 0.16848583858804345),
            (-1.0, 4.0, 0.3, 0.12010390805091697),
            (0.0, 5.0, 1.2, 0.11506967022170833),
            (2.0, 1.0, 1.0, 0.6228719644602817),
            (30.0, 2.0, 1.0, 0.9978675610962904),
            (1.97, 200.0, 3.0, 0.15209389440387863),
            (2.0, 1e5, 2.5, 0.30853753870618394),
            (1.5, 3.7, -2.0, 0.9989147586317981),
            (4.0, 20.0, 4.0, 0.48159588731502967),
            (12.0, 8.0, 9.0, 0.796438302751576),
            (0.2, 6.0, -3.0, 0.9992809431551611),
        ] {
            let found = noncentral_below(t, degrees, noncentrality);
            assert!(
                (found - expected).abs() < 1e-9,
                "{t} {degrees} {noncentrality}: {found}, not {expected}"
            );
        }
    }

    #[test]
    fn without_noncentrality_it_is_student() {
        for (t, degrees) in [(0.3, 1.0), (2.5, 4.0), (-1.7, 33.3), (1.0, 3e4)] {
            let outside = student_outside(t, degrees);
            let below = if t > 0.0 { 1.0 - 0.5 * outside } else { 0.5 * outside };
            assert!(
                (noncentral_below(t, degrees, 0.0) - below).abs() < 1e-9,
                "{t} {degrees}: {} {below}",
                noncentral_below(t, degrees, 0.0)
            );
        }
    }

    #[test]
    fn the_mean_of_the_scale_agrees_with_its_series_for_many_and_few_degrees() {
        // E s = 1 - 1/(4 n) + 1/(32 n^2) + ... (ratio of gamma functions); for two degrees sqrt(pi)/2.
        for degrees in [400.0_f64, 2e6] {
            let series = 1.0 - 0.25 / degrees + 1.0 / (32.0 * degrees * degrees);
            assert!(
                (over_scale(degrees, &|s| s) - series).abs()
                    < 2e-9_f64.min(10.0 / degrees.powi(3)).max(1e-12)
            );
        }
        assert!((over_scale(2.0, &|s| s) - std::f64::consts::PI.sqrt() / 2.0).abs() < 1e-9);
        assert!((over_scale(7.0, &|s| s * s) - 1.0).abs() < 1e-9);
    }
}
