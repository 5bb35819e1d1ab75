//! People by kettles: analysis of variance by own arithmetic, restricted maximum likelihood against a reference
//! library, and its edges.

use pourline::Estimate;
use pourline::study::Components;
use pourline::{Crossed, crossed};

fn near(found: f64, expected: f64, within: f64, what: &str) {
    assert!((found - expected).abs() <= within, "{what}: {found}, not {expected}");
}

type Cell<'a> = (&'a str, &'a str, &'a [f64]);

fn study(cells: &[Cell], sd: f64) -> Crossed {
    let (mut values, mut who, mut what) = (Vec::new(), Vec::new(), Vec::new());
    for (person, kettle, held) in cells {
        for value in *held {
            values.push(Estimate::new(*value, sd));
            who.push(*person);
            what.push(*kettle);
        }
    }
    crossed(&values, &who, &what).unwrap()
}

fn variances(found: &Components) -> [f64; 4] {
    let both = found.interaction.as_ref().map_or(0.0, |c| c.sd.value.powi(2));
    [found.rows.sd.value.powi(2), found.columns.sd.value.powi(2), both, found.repeatability.sd.value.powi(2)]
}

const UNEVEN: [Cell; 11] = [
    ("Ada", "thin", &[5.1, 5.3, 5.0]),
    ("Ada", "wide", &[6.0, 6.3]),
    ("Ada", "bent", &[5.6, 5.2, 5.7]),
    ("Bo", "thin", &[4.7, 4.6]),
    ("Bo", "wide", &[5.9, 5.6, 6.1, 5.8]),
    ("Bo", "bent", &[5.0]),
    ("Cy", "thin", &[5.5, 5.9, 5.6]),
    ("Cy", "wide", &[6.6, 6.4]),
    ("Di", "thin", &[4.2, 4.5]),
    ("Di", "wide", &[5.0, 5.3, 5.1]),
    ("Di", "bent", &[4.1, 4.4]),
];

const EVEN: [Cell; 6] = [
    ("Ada", "thin", &[5.1, 5.3]),
    ("Ada", "wide", &[6.0, 6.3]),
    ("Bo", "thin", &[4.7, 4.6]),
    ("Bo", "wide", &[5.9, 5.6]),
    ("Cy", "thin", &[5.5, 5.6]),
    ("Cy", "wide", &[6.6, 6.4]),
];

#[test]
fn reml_of_an_uneven_study_with_an_empty_cell_is_that_of_the_reference_library() {
    let found = study(&UNEVEN, 0.0);
    // statsmodels 0.15.0, MixedLM with crossed variance components, Nelder-Mead (its search stops near 1e-5 of the
    // optimum).
    let expected = [0.3599900872177686, 0.25892467560634885, 0.004692366214856496, 0.03741105712477183];
    for (found, expected) in variances(found.reml.as_ref().unwrap()).iter().zip(expected) {
        near(*found, expected, 3e-4 * expected, "variance");
    }
    let mean = found.mean.unwrap();
    near(mean.value, 5.337955778122537, 1e-6, "mean");
    near(mean.sd, 0.42242803723765404, 1e-4, "sd of the mean");
    assert!(found.anova.unwrap_err().reason.contains("cells differ in number"));
}

#[test]
fn reml_with_one_brew_a_cell_leaves_the_interplay_in_the_repeatability() {
    let first: Vec<Cell> =
        UNEVEN.iter().filter(|c| c.0 != "Cy").map(|(who, what, held)| (*who, *what, &held[..1])).collect();
    let found = study(&first, 0.0);
    let reml = found.reml.unwrap();
    // statsmodels 0.15.0, MixedLM without the cells; and as the study is balanced, the analysis of variance.
    for (found, expected) in
        variances(&reml).iter().zip([0.32222179335150275, 0.2422264702368318, 0.0, 0.036666395568204294])
    {
        near(*found, expected, 3e-4 * expected, "variance");
    }
    for (reml, anova) in variances(&reml).iter().zip(variances(&found.anova.unwrap())) {
        near(*reml, anova, 1e-8, "balanced");
    }
    assert!(reml.interaction.unwrap_err().reason.contains("part of the repeatability"));
    assert!(found.warnings.iter().any(|c| c.contains("one brew per cell")), "{:?}", found.warnings);
}

#[test]
fn the_analysis_of_variance_gives_the_components_by_hand() {
    let found = study(&EVEN, 0.05);
    let anova = found.anova.unwrap();
    // Mean squares of statsmodels 0.15.0, anova_lm: 0.685833, 3.0, 0.0075, 0.0233333; components by hand, 2 kettles, 3
    // people, 2 brews.
    let within = 0.14 / 6.0;
    let expected = [(1.37166666666666 / 2.0 - 0.0075) / 4.0, (3.0 - 0.0075) / 6.0, 0.0, within];
    for (found, expected) in variances(&anova).iter().zip(expected) {
        near(*found, expected, 1e-9, "variance");
    }
    near(anova.of_hand_sd.value.powi(2), within - 0.0025, 1e-12, "hand");
    let shares = anova.rows.share_pct + anova.columns.share_pct + anova.repeatability.share_pct;
    near(shares, 100.0, 1e-9, "shares");
    near(anova.reproducibility.sd.value.powi(2), expected[0] + within, 1e-9, "reproducibility");
}

#[test]
fn a_spread_that_is_lost_in_the_rest_is_0_and_said() {
    let found = study(&EVEN, 0.05);
    let reml = found.reml.unwrap();
    // statsmodels 0.15.0, MixedLM, Nelder-Mead: 0.166615, 0.496766, 3e-12, 0.019375; by hand, interplay and rest
    // pooled: 0.155/8.
    let pooled = 0.155 / 8.0;
    let expected = [(1.37166666666666 / 2.0 - pooled) / 4.0, (3.0 - pooled) / 6.0, 0.0, pooled];
    for (found, expected) in variances(&reml).iter().zip(expected) {
        near(*found, expected, 1e-8, "variance");
    }
    let interaction = reml.interaction.unwrap();
    assert!(
        interaction.sd.low == 0.0 && interaction.sd.value == 0.0 && interaction.sd.high > 0.0,
        "{interaction:?}"
    );
    assert!(found.warnings.iter().any(|c| c.contains("interaction is 0")), "{:?}", found.warnings);
}

#[test]
fn where_all_spreads_are_seen_both_methods_agree() {
    // Balanced, every mean square above the next: then the two are the same (Searle, Casella and McCulloch 1992, ch.
    // 4).
    let cells: Vec<(String, String, [f64; 3])> = (0..5)
        .flat_map(|i| (0..4).map(move |j| (i, j)))
        .map(|(i, j)| {
            let middle = f64::from(i * i) + 1.7 * f64::from(j) + 0.9 * f64::from((3 * i + 5 * j) % 7);
            (format!("p{i}"), format!("k{j}"), [middle - 0.3, middle + 0.1 * f64::from(j), middle + 0.4])
        })
        .collect();
    let cells: Vec<Cell> = cells.iter().map(|(i, j, held)| (i.as_str(), j.as_str(), &held[..])).collect();
    let found = study(&cells, 0.0);
    let (anova, reml) = (found.anova.unwrap(), found.reml.unwrap());
    for (a, r) in variances(&anova).iter().zip(variances(&reml)) {
        assert!(*a > 0.0);
        near(r, *a, 1e-7 * a, "variance");
    }
    for (a, r) in [(anova.total, reml.total), (anova.reproducibility, reml.reproducibility)] {
        near(r.sd.value, a.sd.value, 1e-7 * a.sd.value, "sum");
        assert!(a.sd.low < a.sd.value && a.sd.value < a.sd.high);
    }
}

#[test]
fn a_study_that_cannot_answer_says_why() {
    let four = [1.0, 2.0, 3.0, 4.0].map(Estimate::exact);
    let one = crossed(&four, &["a", "a", "a", "a"], &["x", "x", "y", "y"]).unwrap_err();
    assert!(one.to_string().contains("two or more"), "{one}");
    assert_eq!(crossed(&four[..3], &["a"; 3], &["x"; 3]).unwrap_err().kind(), "too_short");
    // Each person owns a kettle: people and kettles are confounded.
    let owned = crossed(&four, &["a", "a", "b", "b"], &["x", "x", "y", "y"]).unwrap();
    assert!(owned.reml.unwrap_err().reason.contains("not identifiable from these cells"));
    let same = [2.0; 4].map(Estimate::exact);
    let same = crossed(&same, &["a", "a", "b", "b"], &["x", "y", "x", "y"]).unwrap();
    assert!(same.reml.unwrap_err().reason.contains("do not differ"));
    assert!(same.anova.unwrap_err().reason.contains("do not differ"));
}

#[test]
fn the_sources_add_up_to_the_whole_and_their_shares_to_100() {
    for cells in [&EVEN[..], &UNEVEN[..]] {
        let found = study(cells, 0.0);
        for one in [found.anova.as_ref(), found.reml.as_ref()].into_iter().flatten() {
            let [rows, columns, both, within] = variances(one);
            near(one.total.sd.value.powi(2), rows + columns + both + within, 1e-12, "total");
            near(one.reproducibility.sd.value.powi(2), rows + both + within, 1e-12, "reproducibility");
            let all = rows + columns + both + within;
            near(one.rows.share_pct, 100.0 * rows / all, 1e-9, "share of rows");
            near(one.reproducibility.share_pct, 100.0 * (rows + both + within) / all, 1e-9, "share");
            near(one.columns.study_pct, 100.0 * (columns / all).sqrt(), 1e-9, "study variation");
        }
    }
}
