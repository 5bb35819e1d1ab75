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
        assert!(!told(&brew).contains("inf"), "JSON knows no infinity");
        let back: Brew = serde_json::from_str(&text).unwrap();
        assert_eq!(told(&back), told(&brew));
    }
}
