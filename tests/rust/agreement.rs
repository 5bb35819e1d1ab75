//! Limits of agreement: a published table, a reference library, and too few pairs.

use pourline::Estimate;
use pourline::agreement;

fn near(found: f64, expected: f64, within: f64, what: &str) {
    assert!((found - expected).abs() <= within, "{what}: {found}, not {expected}");
}

/// Peak flow in l/min by a large and a small meter, first readings, 17 subjects: Bland and Altman 1986, table 1 (from
/// memory).
const LARGE: [f64; 17] =
    [494., 395., 516., 434., 476., 557., 413., 442., 650., 433., 417., 656., 267., 478., 178., 423., 427.];
const SMALL: [f64; 17] =
    [512., 430., 520., 428., 500., 600., 364., 380., 658., 445., 432., 626., 260., 477., 259., 350., 451.];

#[test]
fn the_published_limits_come_out() {
    let found = agreement(&LARGE.map(Estimate::exact), &SMALL.map(Estimate::exact)).unwrap();
    // Bland and Altman 1986: -2.1 and 38.8 l/min.
    near(found.bias.value, -2.1, 0.05, "bias");
    near(found.sd.value, 38.8, 0.05, "sd");
    near(found.lower_limit.value, found.bias.value - 1.96 * found.sd.value, 2e-3, "lower limit");
    // scipy 1.17.1: t.interval, linregress.
    near(found.bias.low, -22.04883769664517, 1e-9, "low");
    near(found.bias.high, 17.81354357899811, 1e-9, "high");
    near(found.slope.unwrap().value, 0.02868744515254922, 1e-12, "slope");
    near(found.slope_p.unwrap(), 0.7494985336492941, 1e-9, "p");
    // scipy 1.17.1, nct.ppf: the exact interval of mean and 1.96 sd.
    near(found.upper_limit.low, 48.85963729902044, 1e-5, "low end of the upper limit");
    near(found.upper_limit.high, 119.92550417702891, 1e-5, "high end of the upper limit");
    near(found.lower_limit.low + found.upper_limit.high, 2.0 * found.bias.value, 1e-9, "mirrored");
    assert!(found.warnings[0].starts_with("with 17 pairs"), "{:?}", found.warnings);
}

#[test]
fn a_difference_that_grows_with_size_is_said() {
    let one: Vec<Estimate> = (1..=20).map(|i| Estimate::exact(10.0 * f64::from(i))).collect();
    let other: Vec<Estimate> =
        (1..=20).map(|i| Estimate::exact(9.5 * f64::from(i) + 0.3 * f64::from(i * 7 % 5))).collect();
    let found = agreement(&one, &other).unwrap();
    assert!(found.slope_p.unwrap() < 1e-6);
    assert!(found.warnings.iter().any(|c| c.contains("changes with the mean")), "{:?}", found.warnings);
}

#[test]
fn too_few_pairs_are_refused_and_pairs_of_one_size_have_no_slope() {
    let values = [1.0, 2.0, 4.0].map(Estimate::exact);
    assert_eq!(agreement(&values[..2], &values[..2]).unwrap_err().kind(), "too_short");
    assert_eq!(agreement(&values, &values[..2]).unwrap_err().kind(), "argument");
    let level =
        agreement(&[1.0, 2.0, 3.0].map(Estimate::exact), &[3.0, 2.0, 1.0].map(Estimate::exact)).unwrap();
    assert!(level.slope.unwrap_err().reason.contains("same mean"));
    // scipy 1.17.1, nct.ppf: ends in sd above the bias, three pairs.
    near((level.upper_limit.low - level.bias.value) / level.sd.value, 0.7126470461442106, 2e-5, "low");
    near((level.upper_limit.high - level.bias.value) / level.sd.value, 12.8161972728683, 2e-4, "high");
    // The sd of a pair, own arithmetic: 0.3 and 0.4 make 0.5.
    let stated = agreement(
        &values.map(|v| Estimate::new(v.value, 0.3)),
        &values.map(|v| Estimate::new(v.value + 1.0, 0.4)),
    );
    near(stated.unwrap().of_scale_sd, 0.5, 1e-12, "of_scale_sd");
}
