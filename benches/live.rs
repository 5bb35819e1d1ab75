//! Time of one sample of a brew that is watched while it is poured: `cargo bench --bench live`; and with `page` as
//! argument the page `docs/live_figures.md`: that time, and how soon and how rightly pours are called.
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

/// Brews a line of the page, from that seed; no test uses these.
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

/// Nanoseconds a sample, the best of many brews: what else the machine does only adds.
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
        "# Live, measured\n\n`make quality` writes this page: {BREWS} simulated brews a line, seeds from {FIRST_SEED}. A call is false where no \
         pour of the brew runs, or where the one that runs was called before; so in the hard level the rinse and the dose count as false, which \
         nobody can know before the zero key. A withdrawn call was taken back within seconds. Beside the delays stands what one would need who \
         knew noise, lag and shape of each pour beforehand and erred as rarely (one false call in 100 brews): no test is quicker.\n\n```text"
    );
    let (one, two) = (ns_a_sample(false), ns_a_sample(true));
    println!("time of a sample on the machine that wrote this: {one:.0} ns, with beverage {two:.0} ns\n");
    let seeds = || FIRST_SEED..FIRST_SEED + BREWS;
    for level in Level::ALL {
        println!("{}: {}", level.name(), run(&level.recipe(), seeds()).says());
        let best = quantile(&at_best(&level.recipe(), seeds(), 4.26), 0.5);
        println!("  who knew each pour beforehand would need {best:.3} s in the median\n");
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
