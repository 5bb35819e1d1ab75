//! Results of extraction if numbers are missing, impossible or extreme; its budget against finite differences.

use pourline::extraction::{Fraction, beverage_for_g, chart_line_pct, fractions, learn_retention};
use pourline::{
    BeverageSource, Convention, Estimate, Extraction, ExtractionOptions, Maybe, Meta, Undefined, extraction,
};
use proptest::prelude::*;

fn brew(dose_g: f64, tds_pct: f64) -> Meta {
    Meta { dose_g: Some(dose_g), tds_pct: Some(tds_pct), ..Meta::default() }
}

fn mass(value: f64) -> Maybe {
    Ok(Estimate::new(value, 0.1))
}

fn not_weighed() -> Maybe {
    Err(Undefined::because("no such scale"))
}

fn with_retention(retention_g_per_g: f64) -> ExtractionOptions {
    ExtractionOptions { retention_g_per_g: Some(retention_g_per_g), ..Default::default() }
}

fn reason(number: Maybe) -> String {
    number.unwrap_err().reason
}

#[test]
fn without_a_dose_the_yield_says_so_and_the_rest_still_runs() {
    let meta = Meta { dose_g: None, ..brew(15.0, 1.38) };
    let found = extraction(&meta, mass(270.0), mass(240.0), &ExtractionOptions::default());
    assert_eq!(found.strength_pct, Ok(Estimate::new(1.38, 0.03)));
    assert_eq!((found.water_g, found.beverage_g), (mass(270.0), mass(240.0)));
    for number in [found.yield_pct, found.brew_ratio, found.retention_g_per_g] {
        assert_eq!(reason(number), "dose_g was not given");
    }
    assert!(found.budget.is_empty());
}

#[test]
fn without_a_strength_there_is_no_yield_but_a_ratio_and_a_retention() {
    let meta = Meta { tds_pct: None, ..brew(15.0, 1.38) };
    let found = extraction(&meta, mass(270.0), mass(240.0), &ExtractionOptions::default());
    assert_eq!(reason(found.yield_pct), "tds_pct was not given");
    assert_eq!(found.brew_ratio.unwrap().value, 18.0);
    assert_eq!(found.retention_g_per_g.unwrap().value, 2.0);
}

#[test]
fn every_missing_piece_is_named_and_each_once() {
    let found = extraction(&Meta::default(), not_weighed(), not_weighed(), &with_retention(2.0));
    assert_eq!(reason(found.yield_pct), "tds_pct was not given; no such scale; dose_g was not given");
}

#[test]
fn a_beverage_is_never_guessed_without_a_stated_retention() {
    let found = extraction(&brew(15.0, 1.38), mass(270.0), not_weighed(), &ExtractionOptions::default());
    assert_eq!(found.beverage_source, None);
    assert_eq!(reason(found.yield_pct), "no such scale; retention_g_per_g was not given");
}

#[test]
fn a_weighed_beverage_wins_over_a_stated_retention_even_where_it_makes_no_sense() {
    let found = extraction(&brew(15.0, 1.38), mass(270.0), mass(240.0), &with_retention(1.5));
    assert_eq!(found.beverage_source, Some(BeverageSource::Weighed));
    assert_eq!(found.retention_g_per_g.unwrap().value, 2.0);
    let found = extraction(&brew(15.0, 1.38), mass(270.0), mass(-3.0), &with_retention(1.5));
    assert_eq!(found.beverage_source, Some(BeverageSource::Weighed));
    assert_eq!(reason(found.yield_pct), "beverage_g is -3: it must be above 0");
}

#[test]
fn an_average_says_nothing_about_a_brew_whose_own_beverage_is_unknown() {
    let options = ExtractionOptions { average_beverage_g: Some(250.0), ..with_retention(2.0) };
    let found = extraction(&brew(15.0, 1.38), mass(270.0), not_weighed(), &options);
    assert!(found.yield_pct.is_ok());
    assert_eq!(reason(found.average_beverage_error_pct), "the beverage was not weighed");
}

#[test]
fn numbers_without_a_meaning_are_refused_with_the_value_and_the_rule() {
    let cases = [
        (brew(0.0, 1.38), ExtractionOptions::default(), "dose_g is 0: it must be above 0"),
        (brew(15.0, 138.0), ExtractionOptions::default(), "tds_pct is 138: it must be at most 100"),
        (brew(f64::NAN, 1.38), ExtractionOptions::default(), "dose_g is NaN: it must be a finite number"),
        (
            Meta { tds_sd_pct: Some(-0.1), ..brew(15.0, 1.38) },
            ExtractionOptions::default(),
            "the sd of tds_pct is -0.1: it must be a finite number, 0 or more",
        ),
    ];
    for (meta, options, expected) in cases {
        assert_eq!(reason(extraction(&meta, mass(270.0), mass(240.0), &options).yield_pct), expected);
    }
    let found = extraction(&brew(15.0, 1.38), mass(20.0), not_weighed(), &with_retention(2.0));
    assert_eq!(reason(found.yield_pct), "water_g less the retained water is -10: it must be above 0");
}

#[test]
fn an_option_outside_its_range_is_refused_before_anything_runs() {
    assert_eq!(ExtractionOptions::default().check(), Ok(()));
    let refused = |options: ExtractionOptions| options.check().unwrap_err().to_string();
    assert_eq!(refused(with_retention(0.0)), "extraction.retention_g_per_g is 0: it must be above 0");
    let options = ExtractionOptions { tds_sd_pct: f64::NAN, ..Default::default() };
    assert_eq!(refused(options), "extraction.tds_sd_pct is NaN: it must be 0 or more");
}

#[test]
fn something_of_the_dose_is_dry_coffee() {
    let options = ExtractionOptions { moisture_pct: Some(60.0), co2_pct: Some(40.0), ..Default::default() };
    let refused = options.check().unwrap_err().to_string();
    assert!(refused.contains("moisture_pct and co2_pct together is 100: it must be below 100"), "{refused}");
}

#[test]
fn full_immersion_needs_the_water_and_takes_no_beverage() {
    let options = ExtractionOptions {
        convention: Convention::Immersion,
        average_beverage_g: Some(250.0),
        ..Default::default()
    };
    let found = extraction(&brew(15.0, 1.38), mass(270.0), not_weighed(), &options);
    assert!(found.yield_pct.is_ok());
    let found = extraction(&brew(15.0, 1.38), not_weighed(), mass(240.0), &options);
    assert_eq!(reason(found.yield_pct), "no such scale");
    assert!(reason(found.average_beverage_error_pct).contains("does not depend on the beverage"));
}

#[test]
fn a_strength_measured_after_bypass_needs_the_beverage() {
    let options = ExtractionOptions { bypass_g: Some(50.0), tds_after_bypass: true, ..Default::default() };
    let found = extraction(&brew(15.0, 1.2), mass(270.0), not_weighed(), &options);
    assert_eq!(found.cup_strength_pct.unwrap().value, 1.2);
    assert_eq!(reason(found.strength_pct), "no such scale; retention_g_per_g was not given");
}

#[test]
fn brix_without_a_factor_is_no_strength_and_a_strength_wins_over_brix() {
    let brix = Meta { tds_pct: None, brix_pct: Some(1.6), ..brew(15.0, 1.38) };
    let found = extraction(&brix, mass(270.0), mass(240.0), &ExtractionOptions::default());
    assert_eq!(reason(found.yield_pct), "brix_factor was not given");
    let both = Meta { brix_pct: Some(1.6), ..brew(15.0, 1.38) };
    let found = extraction(&both, mass(270.0), mass(240.0), &ExtractionOptions::default());
    assert_eq!(found.strength_pct.unwrap().value, 1.38);
    assert_eq!(found.warnings, ["both tds_pct and brix_pct were given: the yield uses tds_pct; remove one"]);
}

#[test]
fn the_monte_carlo_method_repeats_itself_and_says_where_it_cannot_be_used() {
    let of = |meta: &Meta| extraction(meta, mass(270.0), mass(240.0), &ExtractionOptions::default());
    let found = of(&brew(15.0, 1.38));
    assert_eq!(found.monte_carlo(1_000, 3), found.monte_carlo(1_000, 3));
    assert_ne!(found.monte_carlo(1_000, 3), found.monte_carlo(1_000, 4));
    assert!(found.monte_carlo(10, 3).unwrap_err().reason.contains("draws is 10"));
    let none = of(&Meta { tds_pct: None, ..brew(15.0, 1.38) });
    assert_eq!(none.monte_carlo(1_000, 3).unwrap_err().reason, "tds_pct was not given");
    // A dose known to 10 g of 15 g is below 0 in every fifteenth draw.
    let vague = of(&Meta { dose_sd_g: Some(10.0), ..brew(15.0, 1.38) });
    assert!(vague.monte_carlo(1_000, 3).unwrap_err().reason.contains("too uncertain"));
}

#[test]
fn a_target_that_cannot_be_met_says_why() {
    let exact = Estimate::exact;
    assert_eq!(
        reason(beverage_for_g(exact(20.0), exact(0.0), exact(-1.0))),
        "dose_g is 0: it must be above 0; strength_pct is -1: it must be above 0"
    );
    let line = chart_line_pct(exact(20.0), exact(2.0), exact(2.5));
    assert_eq!(reason(line), "brew_ratio less retention_g_per_g is -0.5: it must be above 0");
}

#[test]
fn a_fraction_that_makes_no_sense_is_named() {
    let cut = |mass_g, strength_pct| Fraction {
        mass_g: Estimate::exact(mass_g),
        strength_pct: Estimate::exact(strength_pct),
    };
    let reason = |cuts: &[Fraction]| fractions(cuts, Estimate::exact(15.0)).unwrap_err().reason;
    assert_eq!(reason(&[]), "there is no fraction");
    assert_eq!(reason(&[cut(80.0, 3.0), cut(0.0, 1.0)]), "mass_g of fraction 2 is 0: it must be above 0");
    assert_eq!(reason(&[cut(80.0, 101.0)]), "strength_pct of fraction 1 is 101: it must be 0 to 100");
}

#[test]
fn what_teaches_no_retention_is_refused() {
    let kind = |brews: &[(&str, f64)], level| learn_retention(brews, level).unwrap_err().kind();
    assert_eq!(kind(&[], 0.95), "too_short");
    assert_eq!(kind(&[("dark", 2.0), ("light", 1.8)], 0.95), "too_short");
    assert_eq!(kind(&[("dark", 2.0), ("dark", f64::NAN)], 0.95), "not_finite");
    assert_eq!(kind(&[("dark", 2.0), ("dark", 2.1)], 1.0), "out_of_range");
    // One brew of a roast is foretold by the spread of the others, and less surely than theirs.
    let learnt = learn_retention(&[("dark", 2.0), ("dark", 2.1), ("light", 1.8)], 0.95).unwrap();
    assert_eq!(learnt[1].next_g_per_g.value, 1.8);
    assert!(learnt[1].next_g_per_g.sd > learnt[0].next_g_per_g.sd);
}

#[test]
fn what_is_physically_impossible_gets_a_caution() {
    let warnings = |meta: Meta, water_g: f64, beverage_g: f64| -> Vec<String> {
        extraction(&meta, mass(water_g), mass(beverage_g), &ExtractionOptions::default()).warnings
    };
    assert!(warnings(brew(15.0, 1.38), 270.0, 240.0).is_empty());
    // The dose typed in the wrong unit: 0.5 for 15.
    assert!(warnings(brew(0.5, 1.38), 270.0, 240.0)[0].contains("exceeds the whole dose"));
    assert!(warnings(brew(9.0, 1.38), 270.0, 240.0)[0].contains("is implausible"));
    assert!(warnings(brew(15.0, 1.38), 230.0, 240.0)[0].contains("weighs more than the water"));
    let guessed = extraction(&brew(15.0, 1.38), mass(270.0), not_weighed(), &with_retention(3.5));
    assert!(guessed.warnings[0].contains("outside the usual"));
}

#[test]
fn an_extraction_survives_json_and_an_undefined_number_is_a_plain_reason() {
    let found = extraction(&brew(15.0, 1.38), not_weighed(), mass(240.0), &ExtractionOptions::default());
    let json = serde_json::to_value(&found).unwrap();
    assert_eq!(json["brew_ratio"], serde_json::json!({ "reason": "no such scale" }));
    assert_eq!(json["yield_pct"]["value"], found.yield_pct.as_ref().unwrap().value);
    assert_eq!(serde_json::from_value::<Extraction>(json).unwrap(), found);
}

/// Every number of an extraction that may be undefined.
fn numbers(found: &Extraction) -> Vec<Maybe> {
    let Extraction { yield_pct, strength_pct, brew_ratio, retention_g_per_g, .. } = found;
    let Extraction { retained_water_g_per_g, spent_water_g_per_g, spent_moisture_pct, .. } = found;
    let Extraction { water_g, beverage_g, cup_g, cup_strength_pct, .. } = found;
    let Extraction { average_beverage_error_pct, stated_retention_error_pct, .. } = found;
    [yield_pct, strength_pct, brew_ratio, retention_g_per_g, retained_water_g_per_g, spent_water_g_per_g]
        .into_iter()
        .chain([spent_moisture_pct, water_g, beverage_g, cup_g, cup_strength_pct])
        .chain([average_beverage_error_pct, stated_retention_error_pct])
        .cloned()
        .collect()
}

#[test]
fn a_cup_that_is_no_finite_number_says_so() {
    let options = ExtractionOptions { bypass_g: Some(1e308), ..Default::default() };
    let found = extraction(&brew(15.0, 1.3), mass(250.0), mass(1e308), &options);
    assert_eq!(found.cup_g.unwrap_err().reason, "cup_g is inf: it must be a finite number");
}

/// Mostly ordinary numbers, so that much gets through, and every kind of extreme.
fn wild() -> impl Strategy<Value = f64> {
    let edge = prop::sample::select(vec![0.0, -1.0, 5e-324, 1e-308, 1e308, f64::INFINITY, f64::NAN]);
    prop_oneof![8 => 0.01..300.0_f64, 2 => edge, 1 => prop::num::f64::ANY]
}

proptest! {
    /// Each sensitivity is the slope of the yield in its input: central differences through the public function.
    #[test]
    fn sensitivities_are_slopes(
        dose_g in 5.0..40.0_f64, tds_pct in 0.8..2.0_f64, water_per_dose in 8.0..20.0_f64,
        kept in 1.0..3.0_f64, weighed: bool,
    ) {
        let at = |scale: [f64; 4]| {
            let [dose, tds, water, last] = scale;
            let meta = brew(dose_g * dose, tds_pct * tds);
            let water_g = dose_g * water_per_dose * water;
            if weighed {
                let own_g = dose_g * (water_per_dose - kept) * last;
                extraction(&meta, mass(water_g), mass(own_g), &ExtractionOptions::default())
            } else {
                extraction(&meta, mass(water_g), not_weighed(), &with_retention(kept * last))
            }
        };
        let middle = at([1.0; 4]);
        let mut variance = 0.0;
        for row in &middle.budget {
            let input = ["dose_g", "tds_pct", "water_g"].iter().position(|name| *name == row.name).unwrap_or(3);
            let (mut up, mut down) = ([1.0; 4], [1.0; 4]);
            up[input] += 1e-5;
            down[input] -= 1e-5;
            let rise = at(up).yield_pct.unwrap().value - at(down).yield_pct.unwrap().value;
            let slope = rise / (2e-5 * row.value.value);
            prop_assert!((row.sensitivity - slope).abs() <= 1e-6 * slope.abs(), "{row:?} against {slope}");
            variance += row.contribution_pct.powi(2);
        }
        prop_assert_eq!(middle.budget.len(), if weighed { 3 } else { 4 });
        let share: f64 = middle.budget.iter().map(|row| row.share).sum();
        prop_assert!((share - 1.0).abs() < 1e-12);
        prop_assert!((middle.yield_pct.unwrap().sd / variance.sqrt() - 1.0).abs() < 1e-12);
    }

    /// Each sd is made up of the changes that small changes of the inputs make: central differences through the public
    /// function, for every number and every way of brewing.
    #[test]
    fn every_sd_is_that_of_small_changes(
        at in prop::array::uniform8(0.9..1.1_f64), weighed: bool, immersion: bool, after: bool, by_brix: bool,
    ) {
        let middle: Vec<f64> = [15.0, 1.3, 270.0, if weighed { 240.0 } else { 2.0 }, 40.0, 3.0, 0.5, 1.5]
            .iter().zip(at).map(|(usual, factor)| usual * factor).collect();
        let sd = [0.1, 0.02, 0.3, if weighed { 0.2 } else { 0.3 }, 0.5, 0.1, 0.05, 0.4];
        let at = |x: &[f64]| {
            let meta = Meta {
                dose_g: Some(x[0]), dose_sd_g: Some(sd[0]), tds_sd_pct: Some(sd[1]), brix_sd_pct: Some(sd[1]),
                tds_pct: (!by_brix).then_some(x[1]), brix_pct: by_brix.then_some(x[1]), ..Meta::default()
            };
            let options = ExtractionOptions {
                convention: if immersion { Convention::Immersion } else { Convention::Percolation },
                retention_g_per_g: Some(if weighed { 1.9 } else { x[3] }), retention_sd_g_per_g: sd[3],
                average_beverage_g: Some(250.0), brix_factor: Some(0.85), brix_factor_sd: 0.0,
                bypass_g: Some(x[4]), bypass_sd_g: sd[4], tds_after_bypass: after,
                moisture_pct: Some(x[5]), moisture_sd_pct: sd[5], co2_pct: Some(x[6]), co2_sd_pct: sd[6],
                evaporated_g: x[7], evaporated_sd_g: sd[7], ..Default::default()
            };
            let beverage_g = if weighed { Ok(Estimate::new(x[3], sd[3])) } else { not_weighed() };
            numbers(&extraction(&meta, Ok(Estimate::new(x[2], sd[2])), beverage_g, &options))
        };
        let found = at(&middle);
        let mut variance = vec![0.0; found.len()];
        for input in 0..middle.len() {
            let step = 1e-5 * middle[input];
            let moved = |by: f64| at(&middle.iter().enumerate()
                .map(|(i, x)| if i == input { x + by } else { *x }).collect::<Vec<_>>());
            for ((sum, up), down) in variance.iter_mut().zip(moved(step)).zip(moved(-step)) {
                if let (Ok(up), Ok(down)) = (up, down) {
                    *sum += ((up.value - down.value) / (2.0 * step) * sd[input]).powi(2);
                }
            }
        }
        for (place, (number, variance)) in found.iter().zip(variance).enumerate() {
            if let Ok(number) = number {
                let expected = variance.sqrt();
                prop_assert!((number.sd - expected).abs() <= 1e-5 * expected, "{place}: {number:?}, {expected}");
            }
        }
        prop_assert!(found[0].is_ok() && found[4].is_ok() && found[10].is_ok());
    }

    /// For all inputs, a result is finite or undefined with a reason.
    #[test]
    fn no_input_makes_a_silent_nan(
        dose in (wild(), wild()), tds in (wild(), wild()), water in (wild(), wild()), weighed: bool,
        beverage in (wild(), wild()), retention in prop::option::of(wild()), average in prop::option::of(wild()),
        bypass in prop::option::of(wild()), moisture in prop::option::of(wild()), brix in prop::option::of(wild()),
        evaporated in wild(), immersion: bool, after: bool,
    ) {
        let meta = Meta { dose_sd_g: Some(dose.1), tds_sd_pct: Some(tds.1), ..brew(dose.0, tds.0) };
        let meta = Meta { tds_pct: meta.tds_pct.filter(|_| brix.is_none()), brix_pct: brix, ..meta };
        let options = ExtractionOptions {
            retention_g_per_g: retention, average_beverage_g: average, bypass_g: bypass, moisture_pct: moisture,
            tds_after_bypass: after, brix_factor: brix, evaporated_g: evaporated,
            convention: if immersion { Convention::Immersion } else { Convention::Percolation },
            ..Default::default()
        };
        let beverage_g = if weighed { Ok(Estimate::new(beverage.0, beverage.1)) } else { not_weighed() };
        let found = extraction(&meta, Ok(Estimate::new(water.0, water.1)), beverage_g, &options);
        for number in numbers(&found).iter().flatten() {
            prop_assert!(number.value.is_finite() && number.sd.is_finite() && number.sd >= 0.0, "{number:?}");
        }
        for row in found.budget {
            prop_assert!(row.sensitivity.is_finite() && row.share.is_finite(), "{row:?}");
        }
    }
}
