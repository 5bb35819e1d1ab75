//! A brew is written as JSON and read back whole.

use pourline::simulate::Faults;
use pourline::{Brew, Level, Options, Recipe, analyze, simulate};

/// Not a number is not equal to itself, so what is compared is what a person would see.
fn told(brew: &Brew) -> String {
    format!("{brew:?}")
}

#[test]
fn a_brew_reads_back_from_its_own_json_to_the_last_bit() {
    let recipes =
        [Recipe::default(), Level::Hard.recipe(), Recipe { faults: Faults::all(), ..Recipe::default() }];
    for (recipe, seed) in recipes.iter().zip(1..) {
        let (log, _) = simulate(recipe, seed).unwrap();
        let brew = analyze(&log, &Options::default()).unwrap();
        let text = serde_json::to_string(&brew).unwrap();
        let infinite = ["inf,", "inf ", "inf)", "inf]"].iter().any(|word| told(&brew).contains(word));
        assert!(!infinite, "JSON knows no infinity");
        let back: Brew = serde_json::from_str(&text).unwrap();
        assert_eq!(told(&back), told(&brew));
    }
}

#[test]
fn a_brew_whose_parts_do_not_fit_together_is_refused() {
    let (log, _) = simulate(&Recipe::default(), 1).unwrap();
    let whole = serde_json::to_value(analyze(&log, &Options::default()).unwrap()).unwrap();
    let with = |place: &str, value: serde_json::Value| {
        let mut changed = whole.clone();
        *changed.pointer_mut(place).unwrap() = value;
        Brew::from_json(&changed.to_string())
    };
    assert!(Brew::from_json(&whole.to_string()).is_ok());
    for place in [
        "/trace/log_index",
        "/trace/water/mass_g",
        "/trace/water/flag",
        "/flow/time_s",
        "/flow/water_sd_g",
        "/bed/curve/held_g",
        "/bed/pours",
        "/metrics/pours",
        "/agitation/pours",
    ] {
        let error = with(place, serde_json::json!([])).unwrap_err();
        assert_eq!(error.kind(), "unequal_length", "{place}: {error}");
    }
    assert_eq!(with("/agitation", serde_json::Value::Null).unwrap_err().kind(), "unequal_length");
    assert_eq!(with("/trace/time_s/5", serde_json::json!(-1.0)).unwrap_err().kind(), "time");
    let error = with("/segments/fit/groups/0/to", serde_json::json!(1_000_000)).unwrap_err();
    assert!(error.to_string().contains("its fit is not one of its samples"), "{error}");
    // A ramp that lasts for ever would fill the memory when curves are sampled.
    let ramp = "/segments/fit/draws/0/bursts/0/0/rise/ramp_s";
    let error = with(ramp, serde_json::json!(1e300)).unwrap_err();
    assert!(error.to_string().contains("its fit is not one of its samples"), "{error}");
    let error = with("/segments/covariance/sd", serde_json::json!([])).unwrap_err();
    assert!(error.to_string().contains("its covariance lacks a part"), "{error}");
}
