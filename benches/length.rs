//! Time and memory of each stage against the length of the log.
//!
//! In: lengths in samples (1,000 to 1,000,000). Out: one line per length, each measured in a separate process. The log
//! repeats one brew with its beverage, at 10 Hz.

mod long;

use long::log;
use pourline::{Options, analyze};
use std::hint::black_box;
use std::process::Command;
use std::time::Instant;

/// Peak memory of this process so far, in kB, from Linux.
fn most_kb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM"));
    line.and_then(|line| line.split_whitespace().nth(1)).and_then(|kb| kb.parse().ok()).unwrap_or(f64::NAN)
}

fn one(samples: usize) {
    let log = log(samples);
    let before_kb = most_kb();
    let begun = Instant::now();
    let brew = analyze(black_box(&log), &Options::default()).expect("the log is sound");
    let took_s = begun.elapsed().as_secs_f64();
    println!(
        "{samples:>9}  {:>6}  {took_s:>9.3} s  {:>8.2} us  {:>8.0} bytes",
        brew.segments.pours.len(),
        1e6 * took_s / samples as f64,
        1024.0 * (most_kb() - before_kb) / samples as f64
    );
}

fn main() {
    let given: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    if let [samples] = given[..] {
        return one(samples);
    }
    let program = std::env::current_exe().expect("a program has a path");
    println!("  samples   pours         time  a sample        memory, a sample");
    for samples in if given.is_empty() { vec![1_000, 10_000, 100_000, 1_000_000] } else { given } {
        Command::new(&program).arg(samples.to_string()).status().expect("the program starts");
    }
}
