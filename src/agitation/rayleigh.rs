//! In: nothing. Out: the width of the drops into which a stream breaks, in widths of the stream.

use std::f64::consts::PI;
use std::sync::LazyLock;

/// Wave number times radius of the fastest-growing wave.
static FASTEST: LazyLock<f64> = LazyLock::new(fastest);

/// Width of the drops over that of the stream.
///
/// - measures: the size of the drops of a broken stream
/// - formula: a wave of number `k` on a stream of radius `R` grows at the rate `sqrt(sigma/(rho R^3) x (1 - x^2)
///   I1(x)/I0(x))`, 1/s, with `x = k R`; the fastest-growing one divides the stream into pieces of its wavelength, and
///   each becomes a drop
/// - needs: the width at the bed
/// - valid when: viscosity is negligible at that width, and the stream breaks without disturbance; satellite drops are
///   not included
/// - reference: dispersion relation of an inviscid liquid jet (Rayleigh)
pub(super) fn drop_widths() -> f64 {
    let length = PI / *FASTEST;
    (1.5 * length).cbrt()
}

/// Growth rate of the wave `x = k R`, in `sqrt(sigma/(rho R^3))`.
fn growth(x: f64) -> f64 {
    (x * (1.0 - x * x) * bessel(1, x) / bessel(0, x)).max(0.0).sqrt()
}

/// The maximum by golden section: there is exactly one between 0 and 1.
fn fastest() -> f64 {
    let ratio = (5_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (0.0, 1.0);
    while high - low > 1e-7 {
        let (left, right) = (high - ratio * (high - low), low + ratio * (high - low));
        if growth(left) < growth(right) { low = left } else { high = right }
    }
    f64::midpoint(low, high)
}

/// Modified Bessel function of the first kind, by its series; for arguments of at most 1, ten terms are exact.
fn bessel(order: u32, x: f64) -> f64 {
    let half = x / 2.0;
    let first = half.powi(order as i32);
    let next = |term: &f64, k: u32| term * half * half / f64::from(k * (k + order));
    (1..=10)
        .scan(first, |term, k| {
            *term = next(term, k);
            Some(*term)
        })
        .sum::<f64>()
        + first
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fastest_wave_is_that_of_the_dispersion_relation() {
        // Computed from Rayleigh's dispersion relation by other code: kR .6970, growth .34334, length 4.507 and drop
        // 1.891 widths.
        assert!((*FASTEST - 0.6970).abs() < 5e-5, "{}", *FASTEST);
        assert!((growth(*FASTEST) - 0.34334).abs() < 5e-6);
        assert!((PI / *FASTEST - 4.507).abs() < 5e-4);
        assert!((drop_widths() - 1.891).abs() < 5e-4);
    }

    #[test]
    fn bessel_functions_agree_with_a_reference_library() {
        // scipy.special.iv 1.17.1: I0(1) = 1.266066, I1(1) = .565159.
        assert!((bessel(0, 1.0) - 1.266_066).abs() < 1e-6);
        assert!((bessel(1, 1.0) - 0.565_159).abs() < 1e-6);
    }
}
