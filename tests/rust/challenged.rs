//! Null studies with a flaw in their design: a false finding is rare, or a warning names the flaw. Sound studies: p and
//! interval agree, and hold their level.

use crate::challengers::{Flaw, flawed};
use crate::studies::Draws;
use pourline::study::{Block, Over, Verdict};
use pourline::{ContrastOptions, Estimate, compare, contrast};

const STUDIES: u64 = 200;

/// Shares of studies: with a finding; with a finding and no warning that names the flaw; with such a warning.
fn shares(flaw: Flaw) -> [f64; 3] {
    let mut counts = [0_u64; 3];
    for i in 0..STUDIES {
        let study = flawed(flaw, &mut Draws((1 + i) << 24));
        let options =
            ContrastOptions { exact_up_to: 1000, draws: 199, seed: i, ..ContrastOptions::default() };
        let found =
            compare(&study, "flow", "kettle", flaw.blocks(), &options).expect("a study that is sound");
        let shown = found.contrasts.pairs[0].p.as_ref().is_ok_and(|p| p.value < 0.05);
        let (kinds, about) = flaw.named_by();
        let named =
            found.contrasts.cautions.iter().any(|c| kinds.contains(&c.kind) && c.about.contains(about));
        for (count, is) in counts.iter_mut().zip([shown, shown && !named, named]) {
            *count += u64::from(is);
        }
    }
    counts.map(|count| count as f64 / STUDIES as f64)
}

#[test]
#[ignore = "slow"]
fn a_flaw_of_the_design_is_named_or_rarely_found() {
    for flaw in Flaw::ALL {
        let [found, unnamed, named] = shares(flaw);
        println!("{flaw:?}: found {found:.3}, unnamed {unnamed:.3}, named {named:.3}");
        // The level of 0.05 with three tenths of allowance, or a warning in 95 of 100 studies.
        assert!(unnamed <= 0.065 || named >= 0.95, "{flaw:?}: {unnamed} of findings are without a warning");
    }
}

/// A study of plain numbers: groups of these sizes in so many cells, with scatter and a true step of the last group.
struct Plain {
    name: &'static str,
    sizes: &'static [usize],
    cells: usize,
    scatter: fn(&mut Draws) -> f64,
    /// Factor of the scatter of the first group.
    wide: f64,
    step: f64,
    /// Whether `compare` warns of its counts: the test above holds it to that.
    warned: bool,
    studies: u64,
}

/// 250 studies, which `make test-slow` has time for.
const fn plain(name: &'static str, sizes: &'static [usize], cells: usize, wide: f64, step: f64) -> Plain {
    Plain { name, sizes, cells, scatter: Draws::normal, wide, step, warned: false, studies: 250 }
}

const PLAIN: [Plain; 7] = [
    plain("4 and 4", &[4, 4], 1, 1.0, 2.0),
    plain("6 and 6, sd 2 to 1", &[6, 6], 1, 2.0, 1.5),
    Plain { scatter: skewed, ..plain("8 and 8, skewed", &[8, 8], 1, 1.0, 1.2) },
    Plain { warned: true, ..plain("3 and 12, sd 3 to 1", &[3, 12], 1, 3.0, 2.0) },
    plain("4 people, 2 and 2 of each", &[2, 2], 4, 1.0, 1.2),
    plain("4, 4 and 4", &[4, 4, 4], 1, 1.0, 2.0),
    Plain { studies: 50, ..plain("5, 7 and 9, sd 2 to 1", &[5, 7, 9], 1, 2.0, 2.0) },
];

/// The square of a normal number, less 1, over its sd.
fn skewed(draws: &mut Draws) -> f64 {
    (draws.normal().powi(2) - 1.0) / 2.0_f64.sqrt()
}

/// Shares of studies: all intervals hold the truth; some difference is shown; some p contradicts its interval.
fn inferred(of: &Plain, step: f64) -> [f64; 3] {
    let mut counts = [0_u64; 3];
    for i in 0..of.studies {
        let mut draws = Draws((7 + i) << 23);
        let (mut values, mut group, mut person) = (Vec::new(), Vec::new(), Vec::new());
        for cell in 0..of.cells {
            let own = 2.0 * draws.normal();
            for (g, &n) in of.sizes.iter().enumerate() {
                for _ in 0..n {
                    let wide = if g == 0 { of.wide } else { 1.0 };
                    let shift = if g + 1 == of.sizes.len() { step } else { 0.0 };
                    values.push(Estimate::exact(20.0 + own + shift + wide * (of.scatter)(&mut draws)));
                    group.push(["a", "b", "c"][g]);
                    person.push(["Ada", "Bo", "Cleo", "Dov"][cell]);
                }
            }
        }
        let block = [Block { name: "person", labels: &person[..] }];
        let blocks = if of.cells > 1 { &block[..] } else { &[] };
        let options =
            ContrastOptions { exact_up_to: 1000, draws: 199, seed: i, ..ContrastOptions::default() };
        let found = contrast(&values, &group, blocks, &[], &options).expect("a study that is sound");
        let last = ["a", "b", "c"][of.sizes.len() - 1];
        let (mut holds, mut shown, mut contradicts) = (true, false, false);
        for pair in &found.pairs {
            let truth = if pair.b == last { step } else { 0.0 };
            let [low, high] = *pair.interval.as_ref().expect("there is scatter enough");
            let is_small = pair.p.as_ref().expect("brews enough").value <= 0.05;
            holds &= low <= truth && truth <= high;
            shown |= is_small;
            contradicts |= is_small == (low <= 0.0 && 0.0 <= high);
            contradicts |= is_small != (pair.verdict == Verdict::Shown);
        }
        for (count, is) in counts.iter_mut().zip([holds, shown, contradicts]) {
            *count += u64::from(is);
        }
    }
    counts.map(|count| count as f64 / of.studies as f64)
}

#[test]
#[ignore = "slow"]
fn p_and_interval_agree_and_hold_their_level() {
    for of in &PLAIN {
        // Three standard errors of a share of 0.05.
        let wide = 3.0 * (0.05_f64 * 0.95 / of.studies as f64).sqrt();
        let [holds, found, contradicts] = inferred(of, of.step);
        let [_, falsely, contradicts_null] = inferred(of, 0.0);
        println!("{}: holds {holds:.3}, found {found:.3}, falsely {falsely:.3}, {contradicts}", of.name);
        assert_eq!((contradicts, contradicts_null), (0.0, 0.0), "{}", of.name);
        if of.warned {
            continue;
        }
        assert!(falsely <= 0.05 + wide, "{}: {falsely}", of.name);
        // 4 and 4 brews have 70 deals: 0.971 is the nearest to 0.95 from above.
        assert!((0.95 - wide..0.971 + wide).contains(&holds), "{}: {holds}", of.name);
    }
}

/// Shares of studies of so many people, each with its own effect of the kettle (sd 1, as brews) about the true one:
/// the interval for people like these holds it; a difference is shown though it is 0.
fn over_people(people: usize, uneven: bool, studies: u64) -> [f64; 2] {
    let mut counts = [0_u64; 2];
    for i in 0..studies {
        let mut draws = Draws((11 + i) << 22);
        let (mut values, mut group, mut person) = (Vec::new(), Vec::new(), Vec::new());
        for who in 0..people {
            let own = [draws.normal(), draws.normal()].map(|z| z / 2.0_f64.sqrt());
            for k in 0..if uneven { 2 + 6 * (who % 2) } else { 4 } {
                let b = k % 2;
                values.push(Estimate::exact(20.0 + own[b] + draws.normal()));
                group.push(["a", "b"][b]);
                person.push(["Ada", "Bo", "Cleo", "Dov", "Eve", "Fay"][who]);
            }
        }
        let block = [Block { name: "person", labels: &person[..] }];
        let options = ContrastOptions {
            over: Over::PeopleLikeThese,
            exact_up_to: 1,
            draws: 99,
            ..ContrastOptions::default()
        };
        let found = contrast(&values, &group, &block, &[], &options).expect("a study that is sound");
        let [low, high] = *found.pairs[0].interval.as_ref().expect("there is scatter enough");
        counts[0] += u64::from(low <= 0.0 && 0.0 <= high);
        counts[1] += u64::from(found.pairs[0].verdict == Verdict::Shown);
    }
    counts.map(|count| count as f64 / studies as f64)
}

#[test]
#[ignore = "slow"]
fn intervals_for_people_like_these_hold_the_difference_of_all_people() {
    const STUDIES: u64 = 300;
    // Three standard errors of a share of 0.05.
    let wide = 3.0 * (0.05_f64 * 0.95 / STUDIES as f64).sqrt();
    for people in [2, 3, 4, 6] {
        for uneven in [false, true] {
            let [holds, falsely] = over_people(people, uneven, STUDIES);
            println!("{people} people, uneven {uneven}: holds {holds:.3}, falsely {falsely:.3}");
            assert!((0.95 - wide..0.98 + wide).contains(&holds), "{people} {uneven}: {holds}");
            assert!(falsely <= 0.05 + wide, "{people} {uneven}: {falsely}");
        }
    }
}
