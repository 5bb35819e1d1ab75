//! The kinds of faults, each at three strengths.

use super::after::{self, Draw, Parts};
use super::{Made, Must, Twin};
use pourline::simulate::{
    Drift, Gaps, Hits, Knocks, Lifts, Preparation, Removal, Stamps, Stuck, Swirls, Zeroings,
};
use pourline::{EventKind, Log, Recipe, Truth, simulate};

/// One kind of fault.
pub struct Kind {
    pub name: &'static str,
    /// What each of the three strengths is.
    pub strengths: [&'static str; 3],
    /// The log with the fault: seed, strength, the brew without it.
    pub make: fn(u64, usize, &Twin) -> Made,
    /// Words by which a warning names the matter.
    pub words: &'static [&'static str],
    /// Events that are listed for the whole log and report this fault.
    pub everywhere: &'static [EventKind],
}

const GRAMS_AN_OUNCE: f64 = 28.349_523_125;
/// Some time in this century, s since 1970.
const TODAY_S: f64 = 2.2e9;

/// The fault is one of the simulator's.
fn simulated(seed: u64, twin: &Twin, change: impl FnOnce(&mut Recipe)) -> Made {
    let mut recipe = Recipe::default();
    change(&mut recipe);
    let (log, truth) = simulate(&recipe, seed).expect("the recipe is sound");
    Made::of(log, &truth, &twin.truth)
}

/// The brew without a fault.
fn plain(seed: u64) -> (Log, Truth) {
    simulate(&Recipe::default(), seed).expect("the recipe is sound")
}

/// The fault is in the columns, and the truth stays.
fn in_columns(seed: u64, change: impl FnOnce(&mut Parts, &Truth, &mut Draw)) -> Made {
    let (log, truth) = plain(seed);
    let mut parts = Parts::of(&log);
    change(&mut parts, &truth, &mut Draw::new(seed));
    let mut made = Made::of(log, &truth, &truth);
    made.log = parts.log();
    made
}

fn with_must(made: Made, must: Must) -> Made {
    Made { must, ..made }
}

pub fn kinds() -> Vec<Kind> {
    let mut all = of_the_simulator();
    all.extend(of_the_log());
    all
}

/// No fault at all: how often a number lies beyond its sd by chance.
pub fn none() -> Kind {
    Kind {
        name: "none",
        strengths: [""; 3],
        make: |seed, _, twin| simulated(seed, twin, |_| {}),
        words: &[],
        everywhere: &[],
    }
}

fn of_the_simulator() -> Vec<Kind> {
    vec![
        Kind {
            name: "knocks on the reading",
            strengths: ["1 or 2 of 2 to 8 g", "2 to 6 of 5 to 60 g", "8 to 15 of 5 to 200 g"],
            make: |seed, k, twin| simulated(seed, twin, |r| r.faults.knocks = knocks(k, 0.0)),
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "knocks on the load",
            strengths: ["1 or 2 of 2 to 8 g", "2 to 6 of 5 to 60 g", "8 to 15 of 5 to 200 g"],
            make: |seed, k, twin| simulated(seed, twin, |r| r.faults.knocks = knocks(k, 1.0)),
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "gaps",
            strengths: ["one of 0.3 to 0.8 s", "1 or 2 of 0.4 to 1.2 s", "2 to 4 of 1 to 5 s"],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    let count = [[1, 1], [1, 2], [2, 4]][k];
                    let duration_s = [[0.3, 0.8], [0.4, 1.2], [1.0, 5.0]][k];
                    r.faults.gaps = Gaps { count, duration_s, ..Gaps::default() };
                })
            },
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "vessel lifted",
            strengths: ["one, water", "one each", "two each, half swung, to 30 g lost"],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    let (swung, loses_g) = ([0.0, 0.0, 0.5][k], [[0.0; 2], [0.0; 2], [0.0, 30.0]][k]);
                    let (count, hits) =
                        ([[1, 1], [1, 1], [2, 2]][k], [Hits::Water, Hits::Both, Hits::Both][k]);
                    r.faults.lifts = Lifts { count, hits, swung, loses_g, ..Lifts::default() };
                })
            },
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "vessel swirled",
            strengths: ["3 to 6 g, water", "3 to 20 g, both", "two of 10 to 40 g, both"],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    let (count, hits) =
                        ([[1, 1], [1, 1], [2, 2]][k], [Hits::Water, Hits::Both, Hits::Both][k]);
                    let size_g = [[3.0, 6.0], [3.0, 20.0], [10.0, 40.0]][k];
                    r.faults.swirls = Swirls { count, hits, size_g, ..Swirls::default() };
                })
            },
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "zero key",
            strengths: ["once, water", "once each", "three times each, through the lag"],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    let (count, hits) =
                        ([[1, 1], [1, 1], [3, 3]][k], [Hits::Water, Hits::Both, Hits::Both][k]);
                    let through_lag = [0.0, 0.0, 1.0][k];
                    r.faults.zeroings = Zeroings { count, hits, through_lag, ..Zeroings::default() };
                })
            },
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "zero drifts",
            strengths: ["0.2 to 0.5 g", "0.5 to 1.5 g", "2 to 5 g"],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    r.faults.drift =
                        Drift { reach_g: [[0.2, 0.5], [0.5, 1.5], [2.0, 5.0]][k], ..Drift::default() };
                })
            },
            words: &["zero"],
            everywhere: &[EventKind::Drift],
        },
        Kind {
            name: "reading stands still",
            strengths: ["one of 0.3 to 0.6 s", "1 or 2 of 0.5 to 1.5 s", "2 to 4 of 1 to 4 s, both"],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    let (count, hits) =
                        ([[1, 1], [1, 2], [2, 4]][k], [Hits::Water, Hits::Water, Hits::Both][k]);
                    let duration_s = [[0.3, 0.6], [0.5, 1.5], [1.0, 4.0]][k];
                    r.faults.stuck = Stuck { count, hits, duration_s, ..Stuck::default() };
                })
            },
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "rows doubled or out of order",
            strengths: ["one each", "2 to 5 each", "20 to 60 each"],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    let count = [[1, 1], [2, 5], [20, 60]][k];
                    r.faults.stamps =
                        Stamps { repeated: count, doubled: count, swapped: count, ..Stamps::default() };
                })
            },
            words: &["stamp"],
            everywhere: &[EventKind::Reordered],
        },
        Kind {
            name: "vessel taken away at the end",
            strengths: ["300 g, 1 to 2 s", "200 to 600 g, 2 to 10 s", "40 to 100 g, 20 to 60 s"],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    let fall_g = [[300.0; 2], [200.0, 600.0], [40.0, 100.0]][k];
                    let after_s = [[1.0, 2.0], [2.0, 10.0], [20.0, 60.0]][k];
                    r.faults.removal = Removal { share: 1.0, fall_g, after_s };
                })
            },
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "rinse and set-up before",
            strengths: [
                "rinse emptied, dose, zero key",
                "as people do",
                "not emptied, key twice, through the lag",
            ],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    let usual = Preparation { share: 1.0, ..Preparation::default() };
                    let mild = Preparation { emptied: 1.0, dose: 1.0, ..usual.clone() };
                    let hard =
                        Preparation { emptied: 0.0, zeroed_twice: 1.0, through_lag: 1.0, ..usual.clone() };
                    r.faults.preparation = [mild, usual, hard][k].clone();
                })
            },
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "vessel not zeroed",
            strengths: ["20 to 50 g", "100 to 500 g", "-900 to -100 g"],
            make: |seed, k, twin| {
                simulated(seed, twin, |r| {
                    r.scale.offset_g = [[20.0, 50.0], [100.0, 500.0], [-900.0, -100.0]][k]
                })
            },
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "stamps off",
            strengths: ["by 6 % of an interval", "by 12 %", "by 40 %"],
            make: |seed, k, twin| simulated(seed, twin, |r| r.scale.stamp_error = [0.06, 0.12, 0.4][k]),
            words: &["stamp"],
            everywhere: &[EventKind::Reordered],
        },
        Kind {
            name: "coarse readout",
            strengths: ["0.5 g", "1 g", "2 g"],
            make: |seed, k, twin| simulated(seed, twin, |r| r.scale.step_g = [0.5, 1.0, 2.0][k]),
            words: &["readout"],
            everywhere: &[],
        },
        Kind {
            name: "few samples",
            strengths: ["3 Hz", "2 Hz", "1 Hz"],
            make: |seed, k, twin| simulated(seed, twin, |r| r.scale.rate_hz = [3.0, 2.0, 1.0][k]),
            words: &["samples a second"],
            everywhere: &[],
        },
    ]
}

fn knocks(k: usize, through_lag: f64) -> Knocks {
    let count = [[1, 2], [2, 6], [8, 15]][k];
    let size_g = [[2.0, 8.0], [5.0, 60.0], [5.0, 200.0]][k];
    Knocks { count, size_g, through_lag, ..Knocks::default() }
}

fn of_the_log() -> Vec<Kind> {
    vec![
        Kind {
            name: "readings missing",
            strengths: ["1 %", "5 %", "30 %"],
            make: |seed, k, _| {
                in_columns(seed, |parts, _, draw| {
                    for i in 0..parts.time_s.len() {
                        if draw.unit() < [0.01, 0.05, 0.3][k] {
                            parts.water_g[i] = f64::NAN;
                        }
                        if draw.unit() < [0.01, 0.05, 0.3][k] {
                            parts.beverage_g[i] = f64::NAN;
                        }
                    }
                })
            },
            words: &[],
            everywhere: &[],
        },
        Kind {
            name: "server swapped in mid-brew",
            strengths: ["at once, 20 to 60 g", "2 to 5 s, 60 to 200 g", "5 to 15 s, emptied"],
            make: |seed, k, _| {
                in_columns(seed, |p, truth, draw| {
                    let (at_s, more_g, off_s) = swap(k, p, truth, draw, true);
                    after::swapped(&mut p.beverage_g, &p.time_s, at_s, off_s, 350.0, more_g);
                })
            },
            words: &["vessel", "server"],
            everywhere: &[],
        },
        Kind {
            name: "brewer swapped in mid-brew",
            strengths: ["at once, 20 to 60 g", "2 to 5 s, 60 to 200 g", "5 to 15 s, emptied"],
            make: |seed, k, _| {
                in_columns(seed, |p, truth, draw| {
                    let (at_s, more_g, off_s) = swap(k, p, truth, draw, false);
                    after::swapped(&mut p.water_g, &p.time_s, at_s, off_s, 350.0, more_g);
                })
            },
            words: &["vessel"],
            everywhere: &[],
        },
        Kind {
            name: "two brews in one log",
            strengths: ["a minute between, zeroed", "5 s between, zeroed", "a minute between, not zeroed"],
            make: |seed, k, _| {
                let first = plain(seed);
                // Another brew on the same scale.
                let mut recipe = Recipe::default();
                recipe.scale.lag_s = [first.1.scale_lag_s; 2];
                let second = simulate(&recipe, seed + 100_000).expect("the recipe is sound");
                let (pause_s, zeroed) = [(60.0, true), (5.0, true), (60.0, false)][k];
                after::two((&first.0, &first.1), (&second.0, &second.1), pause_s, zeroed)
            },
            words: &["two brews"],
            everywhere: &[],
        },
        Kind {
            name: "log cut",
            strengths: ["in a rest", "anywhere", "in running water"],
            make: |seed, k, _| {
                let (log, truth) = plain(seed);
                let mut draw = Draw::new(seed);
                let last_s = log.time_s()[log.len() - 1];
                let at_s = [draw.rest(&truth, 0.0), draw.between(3.0, last_s), draw.pour(&truth)][k];
                after::cut(&log, &truth, at_s)
            },
            words: &["log ends"],
            everywhere: &[],
        },
        Kind {
            name: "clock set back",
            strengths: ["a second (leap)", "an hour (summer time)", "to 1970"],
            make: |seed, k, _| {
                let (log, truth) = plain(seed);
                let at_s = Draw::new(seed).between(3.0, log.time_s()[log.len() - 1] - 1.0);
                let jump_s = [-1.0, -3600.0, -TODAY_S][k];
                after::clock(&log, &truth, at_s, TODAY_S, jump_s)
            },
            words: &["clock"],
            everywhere: &[EventKind::Reordered],
        },
        Kind {
            name: "clock set on",
            strengths: ["a second (leap)", "an hour (summer time)", "from 1970"],
            make: |seed, k, _| {
                let (log, truth) = plain(seed);
                let at_s = Draw::new(seed).between(3.0, log.time_s()[log.len() - 1] - 1.0);
                let from_s = [TODAY_S, TODAY_S, 0.0][k];
                after::clock(&log, &truth, at_s, from_s, [1.0, 3600.0, TODAY_S][k])
            },
            words: &["clock"],
            everywhere: &[],
        },
        Kind {
            name: "unit switched in mid-log",
            strengths: ["g to oz in a rest", "g to oz anywhere", "g to oz and back, in pours"],
            make: |seed, k, _| {
                in_columns(seed, |p, truth, draw| {
                    let last_s = p.time_s[p.time_s.len() - 1];
                    let mut instant =
                        || [draw.rest(truth, 0.0), draw.between(3.0, last_s), draw.pour(truth)][k];
                    let (a, b) = (instant(), if k == 2 { instant() } else { f64::INFINITY });
                    let (from, to) = (p.at(a.min(b)), p.at(a.max(b)));
                    for column in [&mut p.water_g, &mut p.beverage_g] {
                        for y in &mut column[from..to] {
                            *y = (*y / GRAMS_AN_OUNCE * 100.0).round() / 100.0;
                        }
                    }
                })
            },
            words: &["unit"],
            everywhere: &[],
        },
        Kind {
            name: "dose that cannot be",
            strengths: ["-0.1 g", "-15 g", "0 g"],
            make: |seed, k, twin| {
                let (log, _) = plain(seed);
                let meta = pourline::Meta { dose_g: Some([-0.1, -15.0, 0.0][k]), ..log.meta.clone() };
                let mut made = Made::of(log.clone(), &twin.truth, &twin.truth);
                made.log = Log::new(
                    log.time_s().to_vec(),
                    log.water_g().map(<[f64]>::to_vec),
                    log.beverage_g().map(<[f64]>::to_vec),
                    meta,
                );
                made
            },
            words: &["dose"],
            everywhere: &[],
        },
        Kind {
            name: "water and beverage exchanged",
            strengths: ["a slow bed", "a usual bed", "a quick bed"],
            make: |seed, k, twin| {
                let mut recipe = Recipe::default();
                recipe.bed.flow_at_50_g_per_s = [[1.0, 2.0], [4.0, 8.0], [10.0, 20.0]][k];
                let (log, truth) = simulate(&recipe, seed).expect("the recipe is sound");
                let mut parts = Parts::of(&log);
                std::mem::swap(&mut parts.water_g, &mut parts.beverage_g);
                let mut made = Made::of(log, &truth, &twin.truth);
                made.log = parts.log();
                with_must(made, Must::Warning)
            },
            words: &["more than the water"],
            everywhere: &[],
        },
    ]
}

/// When a vessel is swapped, how much more the new one reads afterwards, and how long the scale is empty.
fn swap(k: usize, parts: &Parts, truth: &Truth, draw: &mut Draw, of_server: bool) -> (f64, f64, f64) {
    let off_s = [0.0, draw.between(2.0, 5.0), draw.between(5.0, 15.0)][k];
    let at_s = draw.rest(truth, off_s);
    let column = if of_server { &parts.beverage_g } else { &parts.water_g };
    let holds_g = column[parts.at(at_s).min(column.len() - 1)];
    let more_g =
        [draw.sign() * draw.between(20.0, 60.0), draw.sign() * draw.between(60.0, 200.0), -holds_g][k];
    (at_s, more_g, off_s)
}
