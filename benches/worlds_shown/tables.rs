//! One line per kind of hand.

use super::Tally;
use super::tally::Errors;
use crate::judged::SCORED;
use std::collections::BTreeMap;

/// Heads of the numbers, as in `SCORED`.
const HEADS: [&str; 9] = ["start", "end", "rise", "fall", "mass", "mean", "plateau", "peak", "cv"];

/// All tables of one rate.
pub fn full(tallies: &[Tally]) {
    println!("Mean absolute error: edges s, mass and flow %, cv as it is.");
    head("");
    for t in tallies {
        line(t, |e, k| absolute(e, SCORED[k]));
        println!();
    }
    println!(
        "\nTruth within 2 sd, percent; cv: within its 95 % interval; bound: at most the 97.5 % bound of flow_cv."
    );
    head(&format!("{:>8}{:>8}{:>8}", "bound", "defined", "excess"));
    for t in tallies {
        line(t, |_, k| percent(covered(t, k)));
        println!("{}", bound(t));
    }
    println!(
        "\nMean sd over rms error; plateau and mass: mean error over mean sd; cv: truth and mean error."
    );
    head(&format!("{:>8}{:>8}{:>8}{:>8}", "plateau", "mass", "cv true", "cv off"));
    for t in tallies {
        line(t, |e, _| format!("{:.2}", e.sd_over_rms));
        let (plateau, mass) = (t.error("plateau_flow_g_per_s").bias_in_sd, t.error("mass_g").bias_in_sd);
        println!("{plateau:8.2}{mass:8.2}{:8.3}{:8.3}", t.cv_true, t.cv_bias);
    }
    println!(
        "\n{:14}{:>6}{:>6}{:>7}{:>7}{:>8}{:>7}{:>7}{:>9}  metric that is least often defined",
        "", "logs", "pours", "missed", "extra", "pk<mean", "broken", "warned", "defined"
    );
    for t in tallies {
        let (share, name, why) = &t.least_defined;
        println!(
            "{:14}{:6}{:6}{:7}{:7}{:8}{:7}{:7}{:9.1}  {}",
            t.name,
            t.logs,
            t.pours,
            t.missed,
            t.extra,
            t.peak_below_mean,
            t.broken_logs,
            t.warned,
            100.0 * share,
            if name.is_empty() { String::new() } else { format!("{name}: {why}") }
        );
    }
    println!();
    examples(tallies);
}

/// One table of one rate.
pub fn short(tallies: &[Tally]) {
    println!(
        "Mean absolute errors; the number that is least often within 2 sd, percent; counts of logs and pours."
    );
    println!(
        "{:14}{:>6}{:>7}{:>6}{:>7}{:>7}{:>8}{:>8}{:>8}{:>8}{:>8}{:>8}{:>8}{:>8}{:>8}  {:>5}",
        "",
        "pours",
        "missed",
        "extra",
        "broken",
        "warned",
        "fall",
        "mean",
        "plateau",
        "peak",
        "cv",
        "cv in",
        "bound",
        "defined",
        "excess",
        "least"
    );
    for t in tallies {
        let cells: String =
            ["half_fall_s", "mean_flow_g_per_s", "plateau_flow_g_per_s", "peak_flow_g_per_s", "flow_cv"]
                .map(|name| format!("{:>8}", absolute(t.error(name), name)))
                .concat();
        let least = (0..SCORED.len() - 1)
            .filter(|&k| t.errors[k].n > 0)
            .min_by(|&a, &b| covered(t, a).total_cmp(&covered(t, b)))
            .map_or(String::new(), |k| format!("{:>5} {}", percent(covered(t, k)), HEADS[k]));
        println!(
            "{:14}{:6}{:7}{:6}{:7}{:7}{cells}{:>8}{}  {least}",
            t.name,
            t.pours,
            t.missed,
            t.extra,
            t.broken_logs,
            t.warned,
            percent(t.cv_interval),
            bound(t)
        );
    }
}

fn absolute(e: &Errors, name: &str) -> String {
    match name {
        _ if e.n == 0 => "-".into(),
        "flow_cv" => format!("{:.4}", e.absolute),
        "start_s" | "end_s" | "half_rise_s" | "half_fall_s" => format!("{:.3}", e.absolute),
        _ => format!("{:.2}", e.absolute),
    }
}

fn covered(t: &Tally, k: usize) -> f64 {
    if SCORED[k] == "flow_cv" { t.cv_interval } else { t.errors[k].within_2_sd }
}

fn percent(share: f64) -> String {
    if share.is_nan() { "-".into() } else { format!("{:.1}", 100.0 * share) }
}

fn bound(t: &Tally) -> String {
    let excess = if t.bound_excess.is_nan() { "-".into() } else { format!("{:.3}", t.bound_excess) };
    format!("{:>8}{:>8}{excess:>8}", percent(t.bound_holds), percent(t.bound_defined))
}

/// The broken invariants and the warnings, each with an example.
fn examples(tallies: &[Tally]) {
    for name in crate::judged::INVARIANTS {
        let all: Vec<_> = tallies.iter().filter_map(|t| Some((t.name, t.broken.get(name)?))).collect();
        let count: usize = all.iter().map(|(_, (n, _))| n).sum();
        if let Some((kind, (_, says))) = all.iter().max_by_key(|(_, (n, _))| *n) {
            println!("broken {count} times: {name}; most in {kind}: {says}");
        }
    }
    let mut warnings: BTreeMap<&str, Vec<(usize, &str, &str)>> = BTreeMap::new();
    for t in tallies {
        for (bare, (logs, says)) in &t.warnings {
            warnings.entry(bare).or_default().push((*logs, t.name, says));
        }
    }
    for all in warnings.values() {
        let logs: usize = all.iter().map(|w| w.0).sum();
        if let Some((_, kind, says)) = all.iter().max_by_key(|w| w.0) {
            println!("warned {logs} times, in {} kinds; most in {kind}: {says}", all.len());
        }
    }
}

fn head(more: &str) {
    let heads: String = HEADS.iter().map(|h| format!("{h:>8}")).collect();
    println!("{:14}{:>6}{heads}{more}", "", "pours");
}

fn line(t: &Tally, of: impl Fn(&Errors, usize) -> String) {
    let cells: String = t
        .errors
        .iter()
        .enumerate()
        .map(|(k, e)| format!("{:>8}", if e.n == 0 { "-".into() } else { of(e, k) }))
        .collect();
    print!("{:14}{:6}{cells}", t.name, t.pours - t.missed);
}
