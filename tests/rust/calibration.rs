//! False findings and coverage of contrasts on simulated null studies. Bounds: three standard errors of a share of 0.05 in 300 studies (binomial), a
//! smaller copy of `make calibration`.

use crate::studies::{LAYOUTS, Layout, MARGIN, tally};

const STUDIES: u64 = 300;

#[test]
fn false_findings_are_as_rare_as_the_level_says_and_intervals_hold_the_truth() {
    let wide = 3.0 * (0.05_f64 * 0.95 / STUDIES as f64).sqrt();
    for (layout, name) in LAYOUTS {
        let found = tally(layout, STUDIES, 0.0, 5);
        for share in [found.dealt, found.model, 1.0 - found.interval] {
            assert!((share - 0.05).abs() < wide, "{name}: {found:?}");
        }
    }
}

#[test]
fn groups_that_differ_by_the_margin_are_rarely_called_alike() {
    let found = tally(Layout::People, STUDIES, MARGIN, 6);
    let wide = 3.0 * (0.05_f64 * 0.95 / STUDIES as f64).sqrt();
    assert!((found.alike - 0.05).abs() < wide, "{found:?}");
    // The difference is there, and four people with twelve brews each see it.
    assert!(found.dealt > 0.9, "{found:?}");
}
