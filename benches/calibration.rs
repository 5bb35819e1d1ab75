//! Prints the false positive rate of a contrast and the coverage of its intervals: `cargo bench --bench calibration --
//! 2000`.
//!
//! In: the number of studies of each layout (default 2000). Out: a page of the guide on standard output.

#[path = "../tests/studies/mod.rs"]
mod studies;

use studies::{LAYOUTS, MARGIN, tally};

fn main() {
    let n = std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(2000);
    println!("# How often a comparison is right\n");
    println!(
        "Written by `make quality`. {n} simulated studies a line, of 4 people, 2 kettles and 6 brews of each (but for the last), without any"
    );
    println!(
        "difference between the kettles; people differ with an sd of 1.5 times that of their brews, days with 0.8. The last column has a true"
    );
    println!(
        "difference at the margin of {MARGIN}: a test of equivalence errs where it calls that alike. 95 % of the shares of a perfect method lie"
    );
    println!("within {:.3} of 0.05 and of 0.95.\n", 1.96 * (0.05_f64 * 0.95 / n as f64).sqrt());
    println!("| study | p < 0.05 | p of t < 0.05 | interval holds | percent holds | falsely alike |");
    println!("|---|---|---|---|---|---|");
    let rows = std::thread::scope(|scope| {
        let line = |k: u64, layout, name| {
            let null = tally(layout, n, 0.0, 1 + k);
            let edge = tally(layout, n, MARGIN, 101 + k);
            format!(
                "| {name} | {:.3} | {:.3} | {:.3} | {:.3} | {:.3} |",
                null.dealt, null.model, null.interval, edge.percent, edge.alike
            )
        };
        let runs: Vec<_> = (0..)
            .zip(LAYOUTS)
            .map(|(k, (layout, name))| scope.spawn(move || line(k, layout, name)))
            .collect();
        runs.into_iter().map(|run| run.join().expect("a study that is sound")).collect::<Vec<_>>()
    });
    println!("{}", rows.join("\n"));
}
