//! Repeatability and the intraclass correlation: standards, published tables, reference libraries, and what cannot be
//! answered.

use pourline::{Estimate, Values};
use pourline::{icc, repeatability};

fn near(found: f64, expected: f64, within: f64, what: &str) {
    assert!((found - expected).abs() <= within, "{what}: {found}, not {expected}");
}

fn exact(values: &[f64]) -> Vec<Estimate> {
    values.iter().copied().map(Estimate::exact).collect()
}

/// Sulphur content of coal in percent, level 1, eight laboratories: ISO 5725-2, annex B, example 1 (from memory).
const COAL: [&[f64]; 8] = [
    &[0.71, 0.71, 0.70, 0.71],
    &[0.69, 0.67, 0.68],
    &[0.66, 0.65, 0.69],
    &[0.67, 0.65, 0.66],
    &[0.70, 0.69, 0.66, 0.71, 0.69],
    &[0.73, 0.74, 0.73],
    &[0.71, 0.71, 0.69],
    &[0.70, 0.65, 0.68],
];

fn flat(groups: &[&[f64]]) -> (Vec<Estimate>, Vec<String>) {
    let named = groups.iter().enumerate().flat_map(|(i, held)| held.iter().map(move |v| (*v, i)));
    named.map(|(v, i)| (Estimate::exact(v), format!("laboratory {}", i + 1))).unzip()
}

#[test]
fn the_worked_example_of_the_standard_comes_out() {
    let (values, laboratories) = flat(&COAL);
    let found = repeatability(&values, &laboratories).unwrap();
    // ISO 5725-2, annex B: mean 0.690, s_r 0.015, s_R 0.026 (from memory).
    near(found.mean.value, 0.690, 5e-4, "mean");
    near(found.within_sd.value, 0.015, 5e-4, "s_r");
    near(found.reproducibility_sd.as_ref().unwrap().value, 0.026, 5e-4, "s_R");
    // statsmodels 0.15.0, anova_lm.
    let test = found.difference.unwrap();
    near(found.within_sd.value, 0.00022850877193_f64.sqrt(), 1e-12, "within");
    near(test.f, 7.84879505224995, 1e-9, "F");
    near(test.p, 0.00016275839704, 1e-12, "p");
    assert_eq!((test.degrees, test.degrees_below), (7.0, 19.0));
    near(found.repeatability_limit.value, 2.8 * found.within_sd.value, 1e-15, "r");
    near(found.within_cv_pct.unwrap().value, 100.0 * 0.0151165066 / 0.69037037, 1e-6, "CV");
    // chi2.ppf of scipy 1.17.1: 8.906516481987971 and 32.85232686172969 for 19 degrees.
    near(found.within_sd.low, (0.00434166666667_f64 / 32.85232686172969).sqrt(), 1e-9, "low");
    near(found.within_sd.high, (0.00434166666667_f64 / 8.906516481987971).sqrt(), 1e-9, "high");
}

#[test]
fn what_the_scale_adds_is_not_the_hands() {
    let masses = [60.0, 61.0, 62.0, 50.0, 51.0, 52.0].map(|m| Estimate::new(m, 0.6));
    let groups = ["Ada", "Ada", "Ada", "Bo", "Bo", "Bo"];
    let found = repeatability(&masses, &groups).unwrap();
    // Own arithmetic: variance 1 in each group, 0.36 of it the scale's.
    near(found.within_sd.value, 1.0, 1e-12, "within");
    near(found.of_scale_sd, 0.6, 1e-12, "scale");
    near(found.of_hand_sd.value, 0.8, 1e-12, "hand");
    let coarse = repeatability(&masses.map(|m| Estimate::new(m.value, 1.5)), &groups).unwrap();
    assert_eq!(coarse.of_hand_sd.value, 0.0);
    assert!(coarse.warnings.iter().any(|c| c.contains("below its resolution")), "{:?}", coarse.warnings);
}

#[test]
fn what_cannot_be_told_is_refused_or_undefined_with_words() {
    assert_eq!(repeatability(&exact(&[1.0]), &["a"]).unwrap_err().kind(), "too_short");
    let alone = repeatability(&exact(&[1.0, 2.0, 3.0]), &["a", "b", "c"]).unwrap_err();
    assert!(alone.to_string().contains("a single brew"), "{alone}");
    assert_eq!(repeatability(&exact(&[1.0, 2.0]), &["a"]).unwrap_err().kind(), "argument");
    assert_eq!(repeatability(&exact(&[1.0, f64::NAN]), &["a", "a"]).unwrap_err().kind(), "not_finite");

    let one = repeatability(&exact(&[1.0, 2.0, 3.0]), &["a", "a", "a"]).unwrap();
    near(one.within_sd.value, 1.0, 1e-12, "sd of 1, 2, 3");
    for why in [one.between_sd, one.reproducibility_sd, one.reproducibility_limit, one.between_share] {
        assert!(why.unwrap_err().reason.contains("one group"));
    }
    let still = repeatability(&exact(&[1.0, 1.0, 2.0, 2.0]), &["a", "a", "b", "b"]).unwrap();
    assert!(still.difference.unwrap_err().reason.contains("do not differ"));
    let about_nothing = repeatability(&exact(&[-1.0, 1.0, -2.0, 2.0]), &["a", "a", "b", "b"]).unwrap();
    assert!(about_nothing.within_cv_pct.unwrap_err().reason.contains("does not differ clearly from 0"));
}

#[test]
fn a_group_that_scatters_more_than_the_others_is_named() {
    let mut values = Vec::new();
    let mut groups = Vec::new();
    for (group, width) in [("Ada", 1.0), ("Bo", 1.1), ("Cy", 9.0), ("Di", 0.9)] {
        for step in [-1.0, -0.5, 0.0, 0.5, 1.0] {
            values.push(Estimate::exact(60.0 + width * step));
            groups.push(group);
        }
    }
    let found = repeatability(&values, &groups).unwrap();
    assert!(found.warnings.iter().any(|c| c.contains("\"Cy\"")), "{:?}", found.warnings);
    let names = Values::Text(["Ada", "Bo", "Cy", "Di"].map(String::from).into());
    assert_eq!(found.table().column("group").unwrap().values, names);
}

/// Shrout and Fleiss 1979, table 2: six targets by four judges.
const RATINGS: [f64; 24] = [
    9.0, 2.0, 5.0, 8.0, 6.0, 1.0, 3.0, 2.0, 8.0, 4.0, 6.0, 8.0, 7.0, 1.0, 2.0, 6.0, 10.0, 5.0, 6.0, 9.0, 6.0,
    2.0, 4.0, 7.0,
];

fn rated() -> (Vec<Estimate>, Vec<String>, Vec<String>) {
    let named = |letter: &str, i: usize| format!("{letter}{i}");
    let (targets, judges) = ((0..24).map(|i| named("t", i / 4)), (0..24).map(|i| named("j", i % 4)));
    (exact(&RATINGS), targets.collect(), judges.collect())
}

#[test]
fn the_six_forms_are_those_of_the_published_table() {
    let (values, targets, judges) = rated();
    let found = icc(&values, &targets, &judges).unwrap();
    // Shrout and Fleiss 1979, table 4.
    for (form, published) in found.forms.iter().zip([0.17, 0.29, 0.71, 0.44, 0.62, 0.91]) {
        near(form.icc.value, published, 5.1e-3, &form.form);
    }
}

#[test]
fn intervals_and_tests_of_the_six_forms_are_those_of_the_reference_library() {
    // pingouin 0.7.0, intraclass_corr: icc, low, high, F, p.
    let expected = [
        [0.1657417684054755, -0.132932324875, 0.722560062328, 1.7946784922394683, 0.16476880834463953],
        [0.28976377952755916, 0.018786513375, 0.761084369649, 11.027247956403299, 0.000134566516484335],
        [0.7148407148407154, 0.342464765034, 0.945858259955, 11.027247956403299, 0.000134566516484335],
        [0.44279713367926876, -0.884442155238, 0.912415420341, 1.7946784922394683, 0.16476880834463953],
        [0.6200505475989893, 0.071136815303, 0.927232040168, 11.027247956403299, 0.000134566516484335],
        [0.9093155423770697, 0.675674713816, 0.985891678169, 11.027247956403299, 0.000134566516484335],
    ];
    let (values, targets, judges) = rated();
    for (form, expected) in icc(&values, &targets, &judges).unwrap().forms.iter().zip(expected) {
        let found = [form.icc.value, form.icc.low, form.icc.high, form.test.f, form.test.p];
        for (found, expected) in found.iter().zip(expected) {
            near(*found, expected, 1e-9, &form.form);
        }
    }
}

#[test]
fn the_share_between_groups_is_the_first_form_where_groups_are_equal() {
    let (values, targets, _) = rated();
    let share = repeatability(&values, &targets).unwrap().between_share.unwrap();
    // pingouin 0.7.0, ICC(1,1); what lies below 0 is 0.
    near(share.value, 0.1657417684054755, 1e-12, "share");
    near(share.low, 0.0, 0.0, "low");
    near(share.high, 0.722560062328, 1e-9, "high");
}

#[test]
fn a_table_with_a_hole_or_a_doubled_cell_is_refused_by_name() {
    let (values, targets, judges) = rated();
    let hole = icc(&values[1..], &targets[1..], &judges[1..]).unwrap_err().to_string();
    assert!(hole.contains("\"t0\" has 0 values by \"j0\""), "{hole}");
    let mut twice = judges.clone();
    twice[1] = "j0".into();
    assert!(icc(&values, &targets, &twice).unwrap_err().to_string().contains("has 2 values by \"j0\""));
    let alike = icc(&exact(&[1.0, 2.0, 2.0, 3.0]), &["a", "a", "b", "b"], &["x", "y", "x", "y"]).unwrap_err();
    assert!(alike.to_string().contains("the error variance is 0"), "{alike}");
    assert_eq!(icc(&exact(&[1.0, 2.0]), &["a", "b"], &["x", "x"]).unwrap_err().kind(), "argument");
}
