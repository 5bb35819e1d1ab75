//! Time of one sample of a brew that is watched while it is poured: `cargo bench --bench live`; with `page` as
//! argument, the page `docs/live_figures.md`: that time, and delay and error rates of the detection of pours.
//!
//! In: nothing. Out: criterion's report, one line for the water alone and one for both weights; or the page.

#[path = "../tests/called/mod.rs"]
mod called;

use called::{at_best, quantile, run};
use criterion::{Criterion, Throughput, criterion_group};
use pourline::simulate::{Drift, Faults, Gaps, Knocks, Lifts, Swirls, Zeroings};
use pourline::{Level, Live, Log, Meta, Options, Recipe, simulate};
use std::hint::black_box;
use std::time::Instant;

/// Brews per line of the page, and their first seed; no test uses these.
const BREWS: u64 = 200;
const FIRST_SEED: u64 = 9000;

fn main() {
    if std::env::args().any(|argument| argument == "page") {
        page();
    } else {
        benches();
    }
}

fn log() -> Log {
    simulate(&Level::Usual.recipe(), 1).expect("the recipe is sound").0
}

fn watch(log: &Log, both: bool) -> f64 {
    let mut live = Live::new(Meta::default(), Options::default()).expect("the options are sound");
    let (time_s, water_g) = (log.time_s(), log.water_g().expect("water was weighed"));
    let beverage_g = log.beverage_g().filter(|_| both);
    live.extend(time_s, water_g, beverage_g).expect("the log is sound").map_or(0.0, |now| now.poured_g)
}

fn a_sample(c: &mut Criterion) {
    let log = log();
    let mut group = c.benchmark_group("live");
    group.throughput(Throughput::Elements(log.len() as u64));
    for (name, both) in [("water", false), ("water and beverage", true)] {
        group.bench_function(name, |b| b.iter(|| watch(black_box(&log), both)));
    }
    group.finish();
}

criterion_group!(benches, a_sample);

/// Nanoseconds per sample, the minimum over many brews: other load only adds time.
fn ns_a_sample(both: bool) -> f64 {
    let log = log();
    let mut best = f64::INFINITY;
    for _ in 0..300 {
        let began = Instant::now();
        black_box(watch(black_box(&log), both));
        best = best.min(began.elapsed().as_nanos() as f64 / log.len() as f64);
    }
    best
}

fn page() {
    println!(
        "# Live, measured\n\n`make quality` writes this page: {BREWS} simulated brews per line, seeds from {FIRST_SEED}. A call is the\n\
         detection of a pour. It is false if no pour of the brew runs, or if this pour was called before. In the hard level,\n\
         rinse and dose thus count as false calls: before the zero key they are not distinguishable from pours. A call can be\n\
         withdrawn within seconds. Each delay is compared with that of an optimal test with the same rate of errors (one\n\
         false call in 100 brews), for which noise, lag and shape of each pour are known: no test is quicker.\n\n```text"
    );
    let (one, two) = (ns_a_sample(false), ns_a_sample(true));
    println!("time of a sample on the machine that wrote this: {one:.0} ns, with beverage {two:.0} ns\n");
    let seeds = || FIRST_SEED..FIRST_SEED + BREWS;
    for level in Level::ALL {
        println!("{}: {}", level.name(), run(&level.recipe(), seeds()).says());
        let best = quantile(&at_best(&level.recipe(), seeds(), 4.26), 0.5);
        println!("  optimal test with known pours: median delay {best:.3} s\n");
    }
    let usual = |change: &dyn Fn(&mut Recipe)| {
        let mut recipe = Recipe { faults: Faults::default(), ..Level::Usual.recipe() };
        change(&mut recipe);
        recipe
    };
    let cases: [(&str, Recipe); 9] = [
        (
            "6 to 12 knocks a brew",
            usual(&|r| r.faults.knocks = Knocks { count: [6, 12], ..Knocks::default() }),
        ),
        (
            "6 to 12 knocks a brew, smeared by the lag",
            usual(&|r| r.faults.knocks = Knocks { count: [6, 12], through_lag: 1.0, ..Knocks::default() }),
        ),
        ("4 to 8 gaps a brew", usual(&|r| r.faults.gaps = Gaps { count: [4, 8], ..Gaps::default() })),
        (
            "the zero key, 2 or 3 times a brew",
            usual(&|r| r.faults.zeroings = Zeroings { count: [2, 3], ..Zeroings::default() }),
        ),
        (
            "2 or 3 lifts a brew",
            usual(&|r| r.faults.lifts = Lifts { count: [2, 3], swirl: 0.0, ..Lifts::default() }),
        ),
        (
            "2 or 3 swirls on the scale a brew",
            usual(&|r| r.faults.swirls = Swirls { count: [2, 3], ..Swirls::default() }),
        ),
        (
            "a zero that walks by up to 2 g",
            usual(&|r| r.faults.drift = Drift { reach_g: [0.5, 2.0], walk: 1.0, ..Drift::default() }),
        ),
        ("a readout of 1 g", usual(&|r| r.scale.step_g = 1.0)),
        ("a slow scale, lag .5 to .8 s", usual(&|r| r.scale.lag_s = [0.5, 0.8])),
    ];
    for (name, recipe) in cases {
        println!("usual, {name}: {}\n", run(&recipe, seeds()).says());
    }
    println!("```");
}
