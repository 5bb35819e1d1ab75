//! Time and memory of each stage against the length of the log.
//!
//! In: lengths in samples (1,000 to 1,000,000). Out: a line a length, each measured in a process of its own. The log is one brew with its beverage over
//! and over, at 10 Hz.

use pourline::{Log, Meta, Options, analyze};
use std::hint::black_box;
use std::process::Command;
use std::time::Instant;

/// Four pours of 60 g a brew, 0.1 g readout, one brew after the other until `samples` are there.
fn log(samples: usize) -> Log {
    const RATE_HZ: f64 = 10.0;
    const BREW_S: f64 = 180.0;
    const STARTS_S: [f64; 4] = [5.0, 45.0, 80.0, 115.0];
    const FLOW_G_PER_S: f64 = 6.0;
    const POUR_S: f64 = 10.0;
    let time_s: Vec<f64> = (0..samples).map(|i| i as f64 / RATE_HZ).collect();
    let poured_g = |t: f64| -> f64 {
        let brews = (t / BREW_S).floor();
        let within: f64 =
            STARTS_S.iter().map(|s| FLOW_G_PER_S * (t - brews * BREW_S - s).clamp(0.0, POUR_S)).sum();
        brews * 4.0 * FLOW_G_PER_S * POUR_S + within
    };
    // A fixed pseudo-random walk through (0, 1) stands for the scale's noise: the golden ratio, no dependency.
    let noise_g = |i: usize| ((i as f64 * 0.618_033_988_749_895).fract() - 0.5) * 0.1;
    let read = |delay_s: f64, share: f64| -> Vec<f64> {
        let read_g = |(i, &t): (usize, &f64)| {
            ((share * poured_g((t - delay_s).max(0.0)) + noise_g(i)) * 10.0).round() / 10.0
        };
        time_s.iter().enumerate().map(read_g).collect()
    };
    let (water_g, beverage_g) = (read(0.0, 1.0), read(8.0, 0.88));
    Log::new(time_s, Some(water_g), Some(beverage_g), Meta::default()).expect("the log is sound")
}

/// The most memory of this process so far, in kB: Linux tells it.
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
