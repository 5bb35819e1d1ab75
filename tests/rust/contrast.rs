//! Contrasts against scipy 1.17.1, statsmodels 0.15.0 and pingouin 0.7.0, whose function is named at each number;
//! what is refused, and why.

use pourline::Estimate;
use pourline::study::{Block, Contrast, Inference, MaybeInterval, Verdict};
use pourline::{ContrastOptions, Contrasts, PowerOptions, contrast};
use pourline::{minimum_detectable_difference, power, sample_size};

const A: [f64; 5] = [5.1, 4.9, 6.2, 5.5, 5.0];
const B: [f64; 6] = [6.0, 7.9, 5.2, 8.8, 6.1, 9.4];
const C: [f64; 4] = [5.6, 5.7, 5.2, 5.9];

/// People A to D, kettles x, y, z, unequal numbers of brews.
const BLOCKED: &str = "A x 9.61 A x 9.9 A x 11.0 A y 11.2 A y 9.82 A z 11.6 A z 11.23 B x 12.09 B x 11.04 B y 12.95 B y 12.94 \
    B y 13.75 B y 12.99 B z 13.91 C x 13.1 C x 15.35 C x 12.85 C x 14.66 C y 14.6 C y 14.27 C y 14.41 C z 15.2 C z 15.83 C z 15.53 \
    D x 16.89 D x 14.9 D y 16.8 D y 16.26 D z 18.07 D z 16.33";

/// p, lower and upper end of each pair; see below.
const TUKEY: [[f64; 3]; 3] =
    [[0.07023, -0.0525, 1.5446], [0.00047, 0.6701, 2.3795], [0.04839, 0.0055, 1.7699]];

fn exact(values: &[f64]) -> Vec<Estimate> {
    values.iter().copied().map(Estimate::exact).collect()
}

fn groups(of: &[(&'static str, &[f64])]) -> (Vec<Estimate>, Vec<&'static str>) {
    let labels = of.iter().flat_map(|(name, values)| vec![*name; values.len()]).collect();
    (of.iter().flat_map(|(_, values)| exact(values)).collect(), labels)
}

fn unblocked(of: &[(&'static str, &[f64])], options: &ContrastOptions) -> Contrasts {
    let (values, group) = groups(of);
    contrast(&values, &group, &[], &[], options).unwrap()
}

fn blocked() -> Contrasts {
    let words: Vec<&str> = BLOCKED.split_whitespace().collect();
    let column = |k: usize| -> Vec<&str> { words.iter().skip(k).step_by(3).copied().collect() };
    let values: Vec<f64> = column(2).iter().map(|w| w.parse().unwrap()).collect();
    let person = column(0);
    let blocks = [Block { name: "person", labels: &person }];
    contrast(&exact(&values), &column(1), &blocks, &[], &ContrastOptions::default()).unwrap()
}

fn near(found: f64, expected: f64, within: f64, what: &str) {
    assert!((found - expected).abs() <= within * expected.abs(), "{what}: {found}, not {expected}");
}

fn ends(found: &MaybeInterval, expected: [f64; 2], within: f64, what: &str) {
    let found = found.as_ref().unwrap();
    near(found[0], expected[0], within, what);
    near(found[1], expected[1], within, what);
}

fn value(number: &pourline::Maybe) -> f64 {
    number.as_ref().unwrap().value
}

#[test]
fn without_blocks_it_is_welch() {
    let found =
        unblocked(&[("a", &A), ("b", &B)], &ContrastOptions { margin: Some(4.0), ..Default::default() });
    let pair = &found.pairs[0];
    // ttest_ind(b, a, equal_var=False).
    near(value(&pair.t), 2.5740122534265915, 1e-12, "t");
    near(pair.degrees, 6.131970845114664, 1e-12, "degrees");
    near(value(&pair.p_model), 0.04129616799297465, 1e-11, "p");
    ends(&pair.interval, [0.10283771376799611, 3.683828952898671], 1e-10, "interval");
    // Unequal counts: p is that of Welch's t, and the interval is its inversion.
    near(value(&pair.p), 0.04129616799297465, 1e-11, "p");
    assert_eq!((found.inference, pair.verdict), (Inference::GamesHowell, Verdict::Shown));
    // g = J d/s with the exact J, its interval by the roots of nct.cdf.
    near(value(&pair.hedges_g), 1.311490838045019, 1e-10, "g");
    ends(&pair.hedges_g_interval, [0.04613000660710746, 2.5220940463275765], 1e-7, "g");
    // ttost_ind(b, a, -4, 4, usevar="unequal").
    let alike = pair.equivalence.as_ref().unwrap();
    near(value(&alike.p), 0.013982125111128814, 1e-10, "equivalence");
    assert_eq!(alike.alike, Some(true));
}

#[test]
fn three_groups_of_unequal_counts_are_those_of_games_and_howell() {
    let found = unblocked(&[("a", &A), ("b", &B), ("c", &C)], &ContrastOptions::default());
    // pairwise_gameshowell: p; its se and df with studentized_range.ppf: the interval.
    let expected = [
        ("a", "b", 0.09144046899075553, [-0.34954831110254103, 4.136214977769207]),
        ("a", "c", 0.6420655578148706, [-0.5831019677172444, 1.1031019677172422]),
        ("b", "c", 0.13988460489266097, [-3.8828309902478537, 0.6161643235811862]),
    ];
    for (pair, (a, b, p, interval)) in found.pairs.iter().zip(expected) {
        assert_eq!((pair.a.as_str(), pair.b.as_str()), (a, b));
        near(value(&pair.p), p, 1e-6, "p");
        ends(&pair.interval, interval, 1e-5, "interval");
    }
    // welch_anova.
    near(value(&found.overall_f), 3.0695716808771314, 1e-9, "F");
    near(value(&found.overall_p_model), 0.10549770859949946, 1e-9, "p of F");
}

#[test]
fn with_blocks_it_is_least_squares() {
    let found = blocked();
    // ols("y ~ C(person) + C(kettle)") of the rows of the two kettles; the last: F test against C(person) * C(kettle).
    let expected = [
        ("x", "y", 0.7460344827586276, 0.35033053530882674, 17.0, 0.0481231849851384, 0.5988155305001852),
        ("x", "z", 1.524833679833682, 0.402084086007801, 14.0, 0.0019805997046452016, 0.8794272354625772),
        ("y", "z", 0.8876744186046523, 0.24211605484137128, 14.0, 0.0025413307000803622, 0.9368056297030377),
    ];
    for (pair, (a, b, difference, error, degrees, p, alike)) in found.pairs.iter().zip(expected) {
        assert_eq!((pair.a.as_str(), pair.b.as_str()), (a, b));
        near(pair.difference.value, difference, 1e-11, "difference");
        near(pair.difference.sd, error, 1e-11, "standard error");
        near(pair.degrees, degrees, 1e-12, "degrees");
        near(value(&pair.p_model), p, 1e-9, "p");
        near(value(&pair.p_interaction), alike, 1e-9, "interaction");
    }
    // The fit of all three: anova_lm(typ=2), and studentized_range.ppf times the standard errors of the fit.
    near(value(&found.overall_f), 10.275310002970322, 1e-10, "F");
    near(value(&found.overall_p_model), 0.0005974339127025247, 1e-9, "p of F");
    near(value(&found.within_sd), 0.7325323678014765, 1e-11, "sd");
    // Near to Tukey and Kramer's with the pooled scatter: studentized_range.sf(sqrt(2) t, 3, 24) and .ppf(0.95, 3, 24),
    // with the pair's own difference over 0.7325 sd. Scatter is normal here; dealing and drawing differ by little.
    for (pair, [p, low, high]) in found.pairs.iter().zip(TUKEY) {
        assert!((value(&pair.p) - p).abs() < 0.015, "{:?}, not {p}", pair.p);
        let [from, to] = *pair.interval.as_ref().unwrap();
        assert!((from - low).abs() < 0.06 && (to - high).abs() < 0.06, "{from} to {to}, not {low} to {high}");
    }
}

#[test]
fn the_power_is_that_of_the_reference_library() {
    // TTestIndPower().power(d, n, 0.05).
    for (d, n, expected) in [
        (0.5, 64, 0.8014595579222542),
        (0.8, 26, 0.8074866151465275),
        (0.3, 10, 0.09742459135246899),
        (1.5, 6, 0.6495814802297614),
    ] {
        near(power(d, 1.0, n, &PowerOptions::default()).unwrap(), expected, 1e-8, "power");
    }
    // solve_power, 393.4, 172.5, 19.07, 3.76: the next whole brew. The sd only sets the scale. Of 3.76 the dealt test,
    // whose largest p below 0.05 is 2/70 for 4 brews, makes 5.
    for (d, power, expected) in [(0.2, 0.8, 394), (0.35, 0.9, 173), (1.2, 0.95, 20), (2.5, 0.8, 5)] {
        let options = PowerOptions { power, ..PowerOptions::default() };
        assert_eq!(sample_size(d * 0.7, 0.7, &options).unwrap(), expected);
    }
    let options = PowerOptions { power: 0.9, level: 0.99, ..PowerOptions::default() };
    near(minimum_detectable_difference(12, 1.0, &options).unwrap(), 1.7061550137054313, 1e-7, "seen");
}

#[test]
fn what_the_study_could_have_seen_has_the_power_asked_for() {
    // Equal sizes and scatter in both groups, so that Welch's degrees are those of the pooled sd.
    let (a, b) = ([1.0, 2.0, 3.0, 4.0], [2.0, 3.0, 4.0, 5.0]);
    let found = unblocked(&[("a", &a), ("b", &b)], &ContrastOptions::default());
    let sd = (5.0_f64 / 3.0).sqrt();
    near(
        value(&found.pairs[0].minimum_detectable_difference),
        minimum_detectable_difference(4, sd, &PowerOptions::default()).unwrap(),
        1e-9,
        "could see",
    );
}

#[test]
fn the_percent_are_those_of_the_ratio_of_means() {
    let found = unblocked(&[("a", &A), ("b", &B)], &ContrastOptions::default());
    let percent = found.pairs[0].difference_pct.as_ref().unwrap();
    let of = |x: &[f64]| {
        let n = x.len() as f64;
        let mean = x.iter().sum::<f64>() / n;
        Estimate::new(mean, (x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0) / n).sqrt())
    };
    // JCGM 100:2008, 5.1.2: the ratio of two independent means, to first order.
    let ratio = of(&B).over(of(&A));
    near(percent.value, 100.0 * (ratio.value - 1.0), 1e-12, "percent");
    near(percent.sd, 100.0 * ratio.sd, 1e-12, "its sd");
}

fn refused(pair: &Contrast, words: &str) {
    let why = pair.p.as_ref().unwrap_err();
    assert!(why.reason.contains(words), "{}", why.reason);
    assert!(pair.p_model.is_err() && pair.interval.is_err() && pair.verdict == Verdict::NotShown);
    assert!(pair.difference.value.is_finite());
}

#[test]
fn too_few_brews_get_no_p_but_a_difference() {
    let found = unblocked(&[("a", &[1.0, 2.0]), ("b", &[2.0, 3.0, 4.0, 5.0])], &ContrastOptions::default());
    refused(&found.pairs[0], "a has 2 brews, and a p needs at least 3 of each group");
    // Own arithmetic: 20 ways to deal 3 and 3, of which two are the most extreme.
    let found = unblocked(&[("a", &[1.0, 2.0, 3.1]), ("b", &[4.0, 5.3, 6.0])], &ContrastOptions::default());
    refused(&found.pairs[0], "the smallest possible p of the 20 permutations is 0.10");
    let found = unblocked(&[("a", &[1.0]), ("b", &[2.0])], &ContrastOptions::default());
    refused(&found.pairs[0], "a has 1 brew,");
    assert!(found.pairs[0].interval.is_err() && !found.cautions.is_empty());
    // 70 ways to deal 4 and 4: two of them are the most extreme.
    let apart: [(&str, &[f64]); 2] = [("a", &[1.0, 2.0, 3.1, 2.5]), ("b", &[5.3, 6.0, 7.0, 9.0])];
    near(value(&unblocked(&apart, &ContrastOptions::default()).pairs[0].p), 2.0 / 70.0, 1e-12, "p");
}

#[test]
fn a_single_person_a_kettle_is_refused_and_several_count_once_each() {
    let values = exact(&[5.1, 5.3, 5.2, 6.1, 6.2, 6.0]);
    let kettle = ["x", "x", "x", "y", "y", "y"];
    let people = ["Ada", "Ada", "Ada", "Bo", "Bo", "Bo"];
    let of = |people: &[&'static str]| {
        let blocks = [Block { name: "person", labels: people }];
        contrast(&values, &kettle, &blocks, &[], &ContrastOptions::default()).unwrap()
    };
    let found = of(&people);
    refused(&found.pairs[0], "x and y are each from a single person");
    assert!(found.pairs[0].interval.is_err());
    near(found.pairs[0].difference.value, 0.9, 1e-12, "difference");

    // Eight people, two brews each, one kettle each: the answer is that of the eight means.
    let values = [5.0, 5.4, 5.6, 5.8, 4.9, 5.3, 5.5, 5.1, 6.3, 6.1, 6.8, 6.6, 5.9, 6.1, 7.0, 7.2];
    let names = ["A", "B", "C", "D", "E", "F", "G", "H"];
    let person: Vec<&str> = names.iter().flat_map(|n| [*n, *n]).collect();
    let kettle: Vec<&str> = (0..16).map(|i| if i < 8 { "x" } else { "y" }).collect();
    let blocks = [Block { name: "person", labels: &person }];
    let found = contrast(&exact(&values), &kettle, &blocks, &[], &ContrastOptions::default()).unwrap();
    let means: Vec<f64> = values.chunks(2).map(|v| 0.5 * (v[0] + v[1])).collect();
    let by_hand = unblocked(&[("x", &means[..4]), ("y", &means[4..])], &ContrastOptions::default());
    assert_eq!(found.unit, "person");
    assert_eq!(found.pairs[0].units, [4, 4]);
    near(value(&found.pairs[0].p_model), value(&by_hand.pairs[0].p_model), 1e-12, "p");
    near(value(&found.pairs[0].p), value(&by_hand.pairs[0].p), 1e-12, "permutation p");
    assert!(
        found.warnings().iter().any(|c| c.contains("the experimental unit is the person")),
        "{:?}",
        found.warnings()
    );
}

#[test]
fn a_kettle_a_day_is_compared_by_days() {
    // Two people, each with kettle x on four days and y on four others, two brews a day: what counts is the mean of a
    // person's day.
    let (mut values, mut kettle, mut person, mut day) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for i in 0..32 {
        let (who, when) = (i / 16, i / 2);
        person.push(["Ada", "Bo"][who]);
        day.push(format!("day {}", when % 8));
        kettle.push(["x", "y"][(when + who) % 2]);
        values.push(Estimate::exact(5.0 + (f64::from(i as u32) * 1.7).sin() + who as f64));
    }
    let day: Vec<&str> = day.iter().map(String::as_str).collect();
    let blocks = [Block { name: "person", labels: &person }, Block { name: "day", labels: &day }];
    let found = contrast(&values, &kettle, &blocks, &[], &ContrastOptions::default()).unwrap();
    assert_eq!((found.unit.as_str(), found.pairs[0].units), ("person and day", [8, 8]));
    assert_eq!(found.blocks, ["person"]);
    // Own arithmetic: (8 over 4) ways within each of the two people.
    assert_eq!(found.pairs[0].arrangements, 70.0 * 70.0);
}

#[test]
fn pours_of_one_brew_are_not_taken_as_independent() {
    let values = exact(&[5.0, 5.2, 5.4, 5.5, 5.1, 5.2, 4.8, 4.9, 6.0, 6.1, 6.4, 6.6, 6.3, 6.2, 6.8, 6.9]);
    let kettle: Vec<&str> = (0..16).map(|i| if i < 8 { "x" } else { "y" }).collect();
    let brew = ["1", "1", "2", "2", "3", "3", "4", "4", "5", "5", "6", "6", "7", "7", "8", "8"];
    let of = |average_repeats| {
        let options = ContrastOptions { average_repeats, ..Default::default() };
        contrast(&values, &kettle, &[], &brew, &options).unwrap()
    };
    refused(&of(false).pairs[0], "16 rows come from 8 brews");
    assert!(of(false).pairs[0].interval.is_err());
    let averaged = of(true);
    assert_eq!(averaged.pairs[0].units, [4, 4]);
    near(value(&averaged.pairs[0].p), 2.0 / 70.0, 1e-12, "p");

    let mut astray = brew;
    astray[7] = "5";
    let failed = contrast(&values, &kettle, &[], &astray, &ContrastOptions::default());
    assert_eq!(failed.unwrap_err().kind(), "argument");
}

#[test]
fn groups_that_share_no_block_are_refused() {
    let values = exact(&[1.0, 2.0, 3.0, 2.0, 2.5, 3.0, 1.0, 4.0]);
    let kettle = ["x", "x", "y", "y", "y", "z", "z", "z"];
    let person = ["A", "A", "A", "A", "B", "B", "B", "C"];
    let blocks = [Block { name: "person", labels: &person }];
    let found = contrast(&values, &kettle, &blocks, &[], &ContrastOptions::default()).unwrap();
    let pair = found.pairs.iter().find(|p| p.a == "x" && p.b == "z").unwrap();
    refused(pair, "no person had both x and z");
}

#[test]
fn the_measurement_s_share_is_told() {
    let noisy = |values: &[f64], sd: f64| values.iter().map(|v| Estimate::new(*v, sd)).collect::<Vec<_>>();
    let group = ["a", "a", "a", "a", "b", "b", "b", "b"];
    let values = [1.0, 2.0, 3.0, 4.0, 2.0, 3.0, 4.0, 5.0];
    let of = |sd| contrast(&noisy(&values, sd), &group, &[], &[], &ContrastOptions::default()).unwrap();
    // Own arithmetic: the variance within groups is 5/3.
    near(value(&of(1.0).measurement_share), 0.6, 1e-12, "share");
    assert!(of(1.0).warnings().iter().any(|c| c.starts_with("60 %")));
    assert!(of(2.0).warnings().iter().any(|c| c.contains("exceed the sd within groups")));
    assert!(of(0.0).measurement_share.is_err());
}

#[test]
fn values_without_scatter_and_bad_input_do_not_panic() {
    let found = unblocked(&[("a", &[0.1; 4]), ("b", &[0.3; 4])], &ContrastOptions::default());
    assert!(found.pairs[0].interval.is_err() && found.pairs[0].hedges_g.is_err());
    near(value(&found.pairs[0].p), 2.0 / 70.0, 1e-12, "p");
    let found = unblocked(&[("a", &[0.1; 4]), ("b", &[0.1; 4])], &ContrastOptions::default());
    assert!(found.pairs[0].p.is_err() || value(&found.pairs[0].p) == 1.0);

    let none: [&str; 0] = [];
    let kind = |found: pourline::Result<Contrasts>| found.unwrap_err().kind();
    let options = ContrastOptions::default();
    assert_eq!(kind(contrast(&[], &none, &[], &[], &options)), "empty");
    assert_eq!(kind(contrast(&exact(&[1.0, 2.0]), &["a"], &[], &[], &options)), "argument");
    assert_eq!(kind(contrast(&exact(&[1.0, 2.0]), &["a", "a"], &[], &[], &options)), "argument");
    assert_eq!(kind(contrast(&exact(&[1.0, f64::NAN]), &["a", "b"], &[], &[], &options)), "not_finite");
    let wrong = ContrastOptions { level: 95.0, ..Default::default() };
    assert_eq!(kind(contrast(&exact(&[1.0, 2.0]), &["a", "b"], &[], &[], &wrong)), "out_of_range");
}
