//! In: a range of several means over their common sd. Out: share of the studentised range distribution below it, and
//! its quantile.
//!
//! The range of k normal numbers is below w with probability k ∫ φ(z) (Φ(z + w) - Φ(z))^(k - 1) dz; that, averaged
//! over the scale, is the share (Miller 1981, Simultaneous Statistical Inference, chapter 2).

use crate::math::distribution::normal_below;
use crate::math::noncentral::over_scale;
use crate::math::quadrature::panel;

/// Beyond it the normal density is below 1e-16.
const FAR: f64 = 8.5;
const PANELS: usize = 8;

/// Share of the studentised range of `k` means with that many degrees of freedom below `q`.
pub(crate) fn range_below(q: f64, k: usize, degrees: f64) -> f64 {
    if q <= 0.0 || k < 2 {
        return 0.0;
    }
    over_scale(degrees, &|s| normal_range_below(q * s, k)).clamp(0.0, 1.0)
}

/// The number below which that share lies, to about 1e-9 of it.
pub(crate) fn range_quantile(share: f64, k: usize, degrees: f64) -> f64 {
    let off = |q: f64| range_below(q, k, degrees) - share;
    let (mut low, mut high) = (0.0, 4.0);
    let (mut at_low, mut at_high) = (-share, off(high));
    while at_high < 0.0 && high < 1e9 {
        (low, at_low) = (high, at_high);
        high *= 2.0;
        at_high = off(high);
    }
    // The Illinois form of the false position (Dowell and Jarratt 1971, BIT 11, 168): a dozen evaluations.
    let mut kept = 0;
    for _ in 0..200 {
        if high - low <= 1e-9 * high || at_high == 0.0 {
            break;
        }
        let middle = (low * at_high - high * at_low) / (at_high - at_low);
        let found = off(middle);
        if (middle - low).min(high - middle) <= 2e-10 * high && found.abs() < 1e-11 {
            return middle;
        }
        if found < 0.0 {
            (low, at_low) = (middle, found);
            at_high *= if kept == -1 { 0.5 } else { 1.0 };
            kept = -1;
        } else {
            (high, at_high) = (middle, found);
            at_low *= if kept == 1 { 0.5 } else { 1.0 };
            kept = 1;
        }
    }
    if at_high == 0.0 { high } else { f64::midpoint(low, high) }
}

fn normal_range_below(w: f64, k: usize) -> f64 {
    let power = i32::try_from(k - 1).unwrap_or(i32::MAX);
    let density = |z: f64| {
        let bell = (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt();
        bell * (normal_below(z + w) - normal_below(z)).powi(power)
    };
    // The density is concentrated at the left end of the range: the part right of FAR is negligible.
    let step = 2.0 * FAR / PANELS as f64;
    let at = |i: usize| -FAR + step * i as f64;
    k as f64 * (0..PANELS).map(|i| panel(&density, at(i), at(i + 1))).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_studentised_range_is_that_of_the_reference_library() {
        // scipy 1.17.1, studentized_range.cdf(q, k, degrees).
        for (q, k, degrees, expected) in [
            (0.5, 3, 5.0, 0.0657014601766082),
            (3.5, 3, 10.0, 0.9228966891615896),
            (1.0, 2, 1.0, 0.3918265520306073),
            (6.5, 10, 4.0, 0.9081199420964026),
            (4.2, 5, 60.0, 0.9665139331185727),
            (3.3, 4, 5000.0, 0.9093256565086962),
            (3.3, 4, 99999.0, 0.9094556597139902),
            (20.0, 3, 1.0, 0.9326304847758619),
            (5.0, 20, 12.5, 0.8293672758992509),
        ] {
            let found = range_below(q, k, degrees);
            assert!((found - expected).abs() < 1e-8, "{q} {k} {degrees}: {found}, not {expected}");
        }
        // studentized_range.ppf.
        for (share, k, degrees, expected) in [
            (0.95, 3, 10.0, 3.876776750013158),
            (0.95, 2, 5.0, 3.63535169514679),
            (0.99, 6, 20.0, 5.509541656105587),
            (0.9, 4, 3.0, 5.199003100473089),
            (0.95, 12, 42.5, 4.88698389971486),
            (0.999, 3, 30.0, 5.697886228078724),
            (0.5, 5, 8.0, 2.358719895298717),
        ] {
            let found = range_quantile(share, k, degrees);
            assert!((found / expected - 1.0).abs() < 1e-6, "{share} {k} {degrees}: {found}, not {expected}");
        }
    }

    #[test]
    fn of_two_means_it_is_student_times_the_root_of_two() {
        use crate::math::distribution::student_half_width;
        for degrees in [1.0, 2.5, 17.0, 300.0] {
            let student = student_half_width(0.95, degrees) * 2.0_f64.sqrt();
            assert!((range_quantile(0.95, 2, degrees) / student - 1.0).abs() < 1e-7, "{degrees}");
        }
    }
}
