//! Prints how good the library is on simulated brews, each figure beside its bar: `cargo bench --bench accuracy -- 60`.
//!
//! In: the number of brews a level (60 where none is given), and, if wished, the first seed. Exits with 1 where a bar is missed.

#[path = "../tests/levels/mod.rs"]
mod levels;

use pourline::{Level, Score};
use std::process::ExitCode;
use std::time::Instant;

fn main() -> ExitCode {
    let mut numbers = std::env::args().filter_map(|a| a.parse::<u64>().ok());
    let (brews, first_seed) = (numbers.next().unwrap_or(60), numbers.next().unwrap_or(0));
    let mut missed = 0;
    for level in Level::ALL {
        let began = Instant::now();
        let score = levels::run(level, first_seed, brews);
        println!(
            "{}: {} brews, {} pours, {} missed, {} false, {:.1} s",
            level.name(),
            score.brews,
            score.true_pours,
            score.missed(),
            score.false_pours(),
            began.elapsed().as_secs_f64()
        );
        for bar in levels::bars().iter().filter(|bar| bar.level == level) {
            missed += usize::from(!bar.met(&score));
            println!("  {}", bar.says(&score));
        }
        errors(&score);
    }
    println!("{missed} bars missed");
    if missed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn errors(score: &Score) {
    println!("  {:20} {:>9} {:>9} {:>9} {:>13}", "error of", "bias", "absolute", "rms", "within 2 sd");
    for (name, e) in levels::stated(score) {
        let (bias, absolute, rms) = (e.bias(), e.mean_absolute(), e.rms());
        println!("  {name:20} {bias:9.4} {absolute:9.4} {rms:9.4} {:13.3}", e.within_2_sd());
    }
}
