//! How uncertainty is carried and written, against the Guide (JCGM 100:2008) and finite differences.

use pourline::{Estimate, Undefined};
use proptest::prelude::*;

#[test]
fn a_number_is_written_with_the_digits_that_its_sd_supports() {
    let cases = [
        // JCGM 100:2008, 7.2.2: 100.021 47 g with 0.35 mg.
        (100.02147, 0.00035, "100.02147 ± 0.00035"),
        // JCGM 100:2008, 7.2.6: 10.057 62 ohm with 27 milliohm is to be written 10.058.
        (10.05762, 0.027, "10.058 ± 0.027"),
        // By the same rule of two digits at most, own arithmetic.
        (60.0234, 0.1147, "60.02 ± 0.11"),
        (22.08, 0.0996, "22.08 ± 0.10"),
        (273.4, 9.96, "273 ± 10"),
        (273.4, 42.0, "273 ± 42"),
        (-2.347, 0.5, "-2.35 ± 0.50"),
        (15.0, 0.0, "15.000 ± 0.000"),
        (1.0, f64::NAN, "1.000 ± NaN"),
        (1.0, 1e-300, "1.000000000 ± 0.000000000"),
    ];
    for (value, sd, written) in cases {
        assert_eq!(Estimate::new(value, sd).to_string(), written);
    }
    assert_eq!(Undefined::because("no dose").to_string(), "undefined: no dose");
}

#[test]
fn the_sd_of_a_product_is_that_of_the_guide() {
    // JCGM 100:2008, 5.1.6: relative variances of a product or a quotient add up; 3 % and 4 % make 5 %.
    let (a, b) = (Estimate::new(10.0, 0.3), Estimate::new(-50.0, 2.0));
    for (found, value) in [(a.times(b), -500.0), (a.over(b), -0.2)] {
        assert!(
            (found.value - value).abs() < 1e-12 && (found.sd - 0.05 * value.abs()).abs() < 1e-12,
            "{found:?}"
        );
    }
}

type Operation = fn(Estimate, Estimate) -> Estimate;

proptest! {
    /// JCGM 100:2008, 5.1.2: the variance is the sum of (slope times sd) squared, the slopes here by central
    /// differences.
    #[test]
    fn arithmetic_carries_the_sd_along_the_slopes(
        a in 0.1..500.0_f64, b in 0.1..500.0_f64, signs: (bool, bool), sd_a in 0.0..5.0_f64, sd_b in 0.0..5.0_f64,
        factor in -10.0..10.0_f64,
    ) {
        let signed = |value: f64, negative: bool| if negative { -value } else { value };
        let (a, b) = (signed(a, signs.0), signed(b, signs.1));
        let operations: [(&str, Operation); 4] =
            [("plus", Estimate::plus), ("minus", Estimate::minus), ("times", Estimate::times), ("over", Estimate::over)];
        for (name, operation) in operations {
            let at = |a: f64, b: f64| operation(Estimate::exact(a), Estimate::exact(b)).value;
            let (step_a, step_b) = (1e-5 * a, 1e-5 * b);
            let slope_a = (at(a + step_a, b) - at(a - step_a, b)) / (2.0 * step_a);
            let slope_b = (at(a, b + step_b) - at(a, b - step_b)) / (2.0 * step_b);
            let expected = (slope_a * sd_a).hypot(slope_b * sd_b);
            let found = operation(Estimate::new(a, sd_a), Estimate::new(b, sd_b));
            prop_assert!((found.sd - expected).abs() <= 1e-6 * expected + 1e-12, "{name}: {found:?} for {expected}");
        }
        let scaled = Estimate::new(a, sd_a).scaled(factor);
        prop_assert!(scaled.sd >= 0.0 && (scaled.sd - (factor * sd_a).abs()).abs() < 1e-12);
    }
}
