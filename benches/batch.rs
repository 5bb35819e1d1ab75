//! Time of many logs against the number of threads: whole analyses of logs in memory.
//!
//! In: nothing. Out: criterion's report, one line for each number of threads up to that of the cores; for comparison,
//! the same by threads that share nothing, not even a queue: the limit of this machine.

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use pourline::{Level, Log, Options, analyze, analyze_many, simulate};
use std::hint::black_box;
use std::thread;

const LOGS: usize = 32;

fn by_threads(c: &mut Criterion) {
    let recipe = Level::Usual.recipe();
    let logs: Vec<Log> =
        (0..LOGS as u64).map(|seed| simulate(&recipe, seed).expect("the recipe is sound").0).collect();
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let mut group = c.benchmark_group("batch");
    group.sample_size(10);
    group.throughput(Throughput::Elements(LOGS as u64));
    for threads in 1..=cores {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads can be had");
        group.bench_function(BenchmarkId::new("threads", threads), |b| {
            b.iter(|| pool.install(|| analyze_many(black_box(&logs), &Options::default())));
        });
    }
    group.bench_function(BenchmarkId::new("apart", cores), |b| {
        b.iter(|| {
            thread::scope(|scope| {
                for part in logs.chunks(LOGS.div_ceil(cores)) {
                    scope.spawn(move || {
                        part.iter()
                            .map(|log| analyze(black_box(log), &Options::default()).is_ok())
                            .collect::<Vec<_>>()
                    });
                }
            });
        });
    });
    group.finish();
}

criterion_group!(benches, by_threads);
criterion_main!(benches);
