//! Analyses the same usual brews repeatedly, for a profiler.
//!
//! In: the number of repetitions (default 1). Out: nothing. `.ci/instructions` counts the instructions of two runs and
//! takes their difference, which excludes the start of the program.

use pourline::{Level, Log, Options, analyze, simulate};
use std::hint::black_box;

/// Water and beverage over three minutes at 10 Hz.
fn log(seed: u64) -> Log {
    const SAMPLES: usize = 1800;
    let log = simulate(&Level::Usual.recipe(), seed).expect("the recipe is sound").0;
    let cut = |mass: Option<&[f64]>| mass.map(|m| m[..SAMPLES.min(m.len())].to_vec());
    let time = log.time_s()[..SAMPLES.min(log.len())].to_vec();
    Log::new(time, cut(log.water_g()), cut(log.beverage_g()), log.meta.clone()).expect("the log is sound")
}

fn main() {
    let times: usize = std::env::args().filter_map(|a| a.parse().ok()).next().unwrap_or(1);
    let logs: Vec<Log> = (1..=4).map(log).collect();
    for _ in 0..times {
        for log in &logs {
            black_box(analyze(black_box(log), &Options::default()).expect("the log is sound"));
        }
    }
}
