//! False findings and coverage of contrasts on simulated null studies. Bounds: three standard errors of a share of 0.05
//! in 300 studies (binomial), a smaller copy of `make quality`.

use crate::errors::hold;
use crate::studies::{LAYOUTS, Layout, MARGIN, Tally, tally};

const STUDIES: u64 = 300;
const SEEDS: [u64; 3] = [5, 15, 25];

#[test]
#[ignore = "slow"]
fn false_findings_are_as_rare_as_the_level_says_and_intervals_hold_the_truth() {
    let wide = 3.0 * (0.05_f64 * 0.95 / STUDIES as f64).sqrt();
    for (layout, name) in LAYOUTS {
        let found = SEEDS.map(|seed| tally(layout, STUDIES, 0.0, seed));
        let shares = |of: fn(&Tally) -> f64| found.each_ref().map(of);
        hold(&format!("{name}: p < 0.05, dealt"), shares(|one| one.dealt), 0.05 - wide..0.05 + wide);
        hold(&format!("{name}: p < 0.05, by t"), shares(|one| one.model), 0.05 - wide..0.05 + wide);
        hold(&format!("{name}: interval holds"), shares(|one| one.interval), 0.95 - wide..0.95 + wide);
    }
}

#[test]
#[ignore = "slow"]
fn groups_that_differ_by_the_margin_are_rarely_called_alike() {
    let found = SEEDS.map(|seed| tally(Layout::People, STUDIES, MARGIN, seed + 1));
    let wide = 3.0 * (0.05_f64 * 0.95 / STUDIES as f64).sqrt();
    hold("falsely alike", found.each_ref().map(|one| one.alike), 0.05 - wide..0.05 + wide);
    // The difference is there, and four people with twelve brews each see it.
    hold("difference found", found.each_ref().map(|one| one.dealt), 0.9..);
}
