//! Time of a whole analysis against the length of the log: samples per second should not fall as the log grows.
//!
//! In: nothing. Out: criterion's report, one line a length. The log is one brew over and over, at 10 Hz.

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use pourline::{Log, Meta, Options, analyze};
use std::hint::black_box;

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
    let water_g =
        time_s.iter().enumerate().map(|(i, &t)| ((poured_g(t) + noise_g(i)) * 10.0).round() / 10.0).collect();
    Log::new(time_s, Some(water_g), None, Meta::default()).expect("the log is sound")
}

fn by_length(c: &mut Criterion) {
    let mut group = c.benchmark_group("analyze");
    group.sample_size(10);
    for samples in [1_800, 18_000, 90_000] {
        let log = log(samples);
        group.throughput(Throughput::Elements(samples as u64));
        group.bench_function(BenchmarkId::from_parameter(samples), |b| {
            b.iter(|| analyze(black_box(&log), &Options::default()).expect("the log is sound"));
        });
    }
    group.finish();
}

criterion_group!(benches, by_length);
criterion_main!(benches);
