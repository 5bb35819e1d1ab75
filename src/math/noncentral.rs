//! In: t, degrees of freedom, noncentrality. Out: share of the noncentral t distribution below it.
//!
//! t = (z + noncentrality)/s, with z normal and s the root of a chi-squared over its degrees: the normal share below t s, averaged over s
//! (Johnson, Kotz and Balakrishnan 1995, Continuous Univariate Distributions 2, chapter 31).

use super::distribution::normal_below;
use super::quadrature::integral;
use statrs::function::gamma::ln_gamma;

const TOLERANCE: f64 = 1e-12;
/// Half-width of what is integrated over, in sd of the scale: 1e-20 of it lies outside.
const REACH: f64 = 10.0;

/// Mean of `g(s)`, where s² is a chi-squared variable over its degrees of freedom; the degrees may be infinite.
pub(crate) fn over_scale(degrees: f64, g: &impl Fn(f64) -> f64) -> f64 {
    let reach = REACH / (2.0 * degrees).sqrt();
    if reach < 1e-7 {
        return g(1.0);
    }
    let half = 0.5 * degrees;
    let constant = 2.0_f64.ln() + half * half.ln() - ln_gamma(half);
    let weighted = |s: f64| {
        let log = constant + (degrees - 1.0) * s.ln() - half * s * s;
        log.exp() * g(s)
    };
    // From the middle outwards, so that the first panels see the bell.
    let low = (1.0 - reach).max(0.0);
    integral(&weighted, low, 1.0, TOLERANCE) + integral(&weighted, 1.0, 1.0 + reach, TOLERANCE)
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
        for (t, degrees) in [(0.3, 1.0), (2.5, 4.0), (-1.7, 33.3), (1.0, 1e9)] {
            let outside = student_outside(t, degrees);
            let below = if t > 0.0 { 1.0 - 0.5 * outside } else { 0.5 * outside };
            assert!((noncentral_below(t, degrees, 0.0) - below).abs() < 1e-8, "{t} {degrees}");
        }
    }
}
