//! The library finds the truth of simulated brews as well as it says it does.
//!
//! The truth is that of the simulator; the bars are demands, not measurements. No option differs between the levels.

mod levels;

use pourline::Level;

/// Brews a level.
const BREWS: u64 = 60;

fn meets_its_bars(level: Level) {
    let score = levels::run(&level.recipe(), 0, BREWS);
    let missed: Vec<String> = levels::bars()
        .iter()
        .filter(|bar| bar.level == level && !bar.met(&score))
        .map(|bar| bar.says(&score))
        .collect();
    assert!(missed.is_empty(), "{}: {missed:#?}", level.name());
}

#[test]
fn clean_brews_are_found() {
    meets_its_bars(Level::Clean);
}

#[test]
fn usual_brews_are_found() {
    meets_its_bars(Level::Usual);
}

#[test]
fn hard_brews_are_found() {
    meets_its_bars(Level::Hard);
}

#[test]
fn usual_brews_at_50_hz_are_found() {
    meets_its_bars(Level::Usual50Hz);
}

#[test]
fn usual_brews_at_5_hz_are_found() {
    meets_its_bars(Level::Usual5Hz);
}

#[test]
fn nine_to_ten_in_ten_of_the_truth_lies_within_two_stated_sd() {
    let score = levels::run(&Level::Usual.recipe(), 1000, 200);
    let dishonest: Vec<String> = levels::stated(&score)[..4]
        .iter()
        .filter(|(_, errors)| !(0.90..=0.99).contains(&errors.within_2_sd()))
        .map(|(name, errors)| format!("{name} {:.3}", errors.within_2_sd()))
        .collect();
    for (name, errors) in &levels::stated(&score)[..4] {
        println!("{name} {:.4}", errors.within_2_sd());
    }
    assert!(dishonest.is_empty(), "outside .90 to .99: {dishonest:#?}");
}
