//! The library recovers the true values of simulated brews within its stated sd.
//!
//! The truth is that of the simulator; the bars are demands, not measurements. No option differs between the levels.

use crate::errors::{Errors, HONEST, SETS, hold, sets};
use crate::levels;
use pourline::{Level, Options, Pour, analyze, simulate};

/// Brews a level.
const BREWS: u64 = 60;

fn meets_its_bars(level: Level) {
    let scores = SETS.map(|first| levels::run(&level.recipe(), first, BREWS));
    for bar in levels::bars().iter().filter(|bar| bar.level == level) {
        let figures = scores.each_ref().map(|score| {
            let figure = bar.figure(score);
            println!("{}", figure.says());
            figure.figure
        });
        if bar.at_least { hold(bar.name, figures, bar.bar..) } else { hold(bar.name, figures, ..=bar.bar) }
    }
}

#[test]
#[ignore = "slow"]
fn clean_brews_are_found() {
    meets_its_bars(Level::Clean);
}

#[test]
#[ignore = "slow"]
fn usual_brews_are_found() {
    meets_its_bars(Level::Usual);
}

#[test]
#[ignore = "slow"]
fn hard_brews_are_found() {
    meets_its_bars(Level::Hard);
}

#[test]
#[ignore = "slow"]
fn usual_brews_at_50_hz_are_found() {
    meets_its_bars(Level::Usual50Hz);
}

#[test]
#[ignore = "slow"]
fn usual_brews_at_5_hz_are_found() {
    meets_its_bars(Level::Usual5Hz);
}

#[test]
#[ignore = "slow"]
fn nine_to_ten_in_ten_of_the_truth_lies_within_two_stated_sd() {
    let scores = sets(|first| levels::run(&Level::Usual.recipe(), first + 1000, 200));
    for k in 0..4 {
        let errors = scores.each_ref().map(|score| Errors::from(levels::stated(score)[k].1));
        let name = levels::stated(&scores[0])[k].0;
        hold(&format!("{name} within 2 sd"), errors.each_ref().map(Errors::within_2_sd), 0.90..=0.99);
        hold(&format!("{name}, rms of error over sd"), errors.each_ref().map(Errors::in_sd), HONEST);
    }
}

/// A pour between three samples shows its mass and its middle. Its duration is then that of the prior, and not
/// a moment.
#[test]
#[ignore = "slow"]
fn a_pour_of_few_samples_lasts_as_long_as_a_hand_takes() {
    let mut recipe = Level::Usual.recipe();
    recipe.scale.rate_hz = 1.0;
    let mut ratio = Vec::new();
    for seed in 9000..9150 {
        let (log, truth) = simulate(&recipe, seed).expect("the recipe is sound");
        let brew = analyze(&log, &Options::default()).expect("a whole log");
        for q in truth.pours.iter().filter(|q| q.end_s - q.start_s < 2.0) {
            let same = |p: &&Pour| p.start_s.value < q.end_s && q.start_s < p.end_s.value;
            if let Some(p) = brew.segments.pours.iter().find(same) {
                ratio.push(p.duration_s.value / (q.end_s - q.start_s));
            }
        }
    }
    let least = ratio.iter().copied().fold(f64::INFINITY, f64::min);
    println!("{} pours, the shortest found of {least:.2} of its duration", ratio.len());
    assert!(ratio.len() > 20 && least > 0.5);
}
