//! Prints the accuracy of the library on simulated brews, each figure with its bar: `cargo bench --bench accuracy --
//! 60`.
//!
//! In: the number of brews per level (default 60) and, optionally, the first seed; `further` adds brews outside the
//! levels, which have no bar; `told` prints only the metrics, the bed and the extraction. Exits with 1 if a bar is
//! missed that `tests/open_bars.txt` does not list, or if a listed one is met.

#[path = "../tests/levels/mod.rs"]
mod levels;
#[path = "../tests/open/mod.rs"]
mod open;
mod told;

use levels::Figure;
use pourline::simulate::{Faults, Shape};
use pourline::{Level, Recipe, Score};
use std::process::ExitCode;
use std::time::Instant;

type Change = fn(&mut Recipe);

/// Usual brews with one change.
const FURTHER: [(&str, Change); 9] = [
    ("ramps that close in exponentially", |r| r.hand.shape = Shape::Exponential),
    ("full tremor on one beat", |r| {
        r.hand.tremor = [0.12; 2];
        r.hand.tremor_waves = [1; 2];
    }),
    ("flow that grows or falls by 20 % in a pour", |r| r.hand.tilt = [-0.2, 0.2]),
    ("jitter of the stamps alone, 12 %", |r| (r.scale.jitter, r.scale.stamp_error) = (0.0, 0.12)),
    ("a slow scale, lag .5 to .8 s", |r| r.scale.lag_s = [0.5, 0.8]),
    ("a readout of 1 g", |r| r.scale.step_g = 1.0),
    ("knocks that the lag smears", |r| r.faults.knocks.through_lag = 1.0),
    ("rests of 2 to 6 s", |r| r.hand.rest_s = [2.0, 6.0]),
    ("every disturbance there is", |r| r.faults = Faults::all()),
];

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let mut numbers = arguments.iter().filter_map(|a| a.parse::<u64>().ok());
    let (brews, first_seed) = (numbers.next().unwrap_or(60), numbers.next().unwrap_or(0));
    let mut missed = 0;
    let mut wrong = Vec::new();
    let only_told = arguments.iter().any(|a| a == "told");
    for level in Level::ALL.into_iter().filter(|_| !only_told) {
        let score = scored(level.name(), &level.recipe(), first_seed, brews);
        for bar in levels::bars().iter().filter(|bar| bar.level == level) {
            let figure = bar.figure(&score);
            missed += usize::from(!figure.met());
            wrong.extend(judged(level.name(), &figure));
            println!("  {}", figure.says());
        }
        errors(&score);
    }
    for (name, figures) in told::all(first_seed, brews) {
        println!("{name}");
        missed += figures.iter().filter(|f| !f.met() && !f.goal).count();
        wrong.extend(figures.iter().filter(|f| !f.goal).filter_map(|f| judged(&name, f)));
        figures.iter().for_each(|f| println!("  {}", f.says()));
    }
    if arguments.iter().any(|a| a == "further") {
        for (name, change) in FURTHER {
            let mut recipe = Level::Usual.recipe();
            change(&mut recipe);
            let score = scored(name, &recipe, first_seed, brews);
            let (edges, halves) = (score.f1_edges(0.3), score.f1_halves(0.1));
            println!(
                "  F1, start and end within 0.3 s {edges:.4}; half-rise and -fall within 0.1 s {halves:.4}"
            );
            errors(&score);
        }
    }
    println!("{missed} bars missed");
    wrong.iter().for_each(|why| eprintln!("{why}"));
    if wrong.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// What is wrong with a figure, if anything.
fn judged(of: &str, figure: &Figure) -> Option<String> {
    let key = format!("accuracy of {of}: {}", figure.name);
    let figures = [figure.figure];
    let judged = if figure.at_least {
        open::judged(&key, &figures, &(figure.bar..))
    } else {
        open::judged(&key, &figures, &(..=figure.bar))
    };
    judged.err().map(|why| format!("{key}: {why}"))
}

fn scored(name: &str, recipe: &Recipe, first_seed: u64, brews: u64) -> Score {
    let began = Instant::now();
    let score = levels::run(recipe, first_seed, brews);
    let (missed, false_pours) = (score.missed(), score.false_pours());
    println!(
        "{name}: {} brews, {} pours, {missed} missed, {false_pours} false, {:.1} s",
        score.brews,
        score.true_pours,
        began.elapsed().as_secs_f64()
    );
    score
}

fn errors(score: &Score) {
    println!("  {:20} {:>9} {:>9} {:>9} {:>13}", "error of", "bias", "absolute", "rms", "within 2 sd");
    for (name, e) in levels::stated(score) {
        let (bias, absolute, rms) = (e.bias(), e.mean_absolute(), e.rms());
        println!("  {name:20} {bias:9.4} {absolute:9.4} {rms:9.4} {:13.3}", e.within_2_sd());
    }
}
