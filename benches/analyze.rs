//! Time of a whole analysis against the length of the log: samples per second should not fall as the log grows.
//!
//! In: nothing. Out: criterion's report, one line per length. The log is that of `long`.

mod long;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use long::log;
use pourline::{Options, analyze};
use std::hint::black_box;

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
