//! Prints the effect of injected faults on results, one row per fault and strength: `cargo bench --bench faults --
//! 67`.
//!
//! `cargo bench --bench faults -- show "log cut" 2 13` shows one log: a kind by the beginning of its name, its strength
//! from 0 to 2, a seed.
//!
//! In: the number of logs per row (default 67: some 5,000 in all) and, optionally, the first seed and the beginnings
//! of the names of selected kinds. `tests/faulty` defines changed, told and silent.

#[path = "../tests/faulty/mod.rs"]
mod faulty;
#[path = "../tests/matched/mod.rs"]
mod matched;
#[path = "../tests/open/mod.rs"]
mod open;

use faulty::{Kind, Off, SDS, Twin, Verdict, judge, kinds, none};
use pourline::{Level, Options, Recipe, analyze, simulate};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Bar of a release: silent changes per 10,000 logs.
const MOST_IN_10_000: f64 = 3.0;
/// Share of a normal law beyond 4 sd on either side (NIST/SEMATECH e-Handbook, 1.3.6.7.1; more digits from memory).
const BEYOND: f64 = 6.334e-5;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    if let [show, name, strength, seed] = &arguments[..]
        && show == "show"
    {
        return show_one(name, strength.parse().expect("0 to 2"), seed.parse().expect("a seed"));
    }
    let mut numbers = arguments.iter().filter_map(|a| a.parse::<u64>().ok());
    let named: Vec<&String> = arguments.iter().filter(|a| a.parse::<u64>().is_err()).collect();
    let wanted =
        |kind: &Kind| named.is_empty() || named.iter().any(|name| kind.name.starts_with(name.as_str()));
    let (logs, first_seed) = (numbers.next().unwrap_or(67), numbers.next().unwrap_or(0));
    let seeds: Vec<u64> = (first_seed..first_seed + logs).collect();
    let twins: Vec<Twin> = seeds.par_iter().map(|&seed| Twin::new(&Recipe::default(), seed)).collect();
    let (mut all, mut silent, mut numbers) = (0, 0, 0);
    let mut details = Vec::new();
    println!("\n## What each fault did\n\n{HEAD}");
    let base: Vec<Verdict> = seeds
        .par_iter()
        .zip(&twins)
        .map(|(&seed, twin)| {
            let blind = Twin::blind(&twin.truth);
            judge(&none(), &(none().make)(seed, 0, &blind), &blind)
        })
        .collect();
    println!("{}", row(&none(), "-", &base));
    for kind in kinds().into_iter().filter(wanted) {
        for (k, strength) in kind.strengths.into_iter().enumerate() {
            let verdicts: Vec<Verdict> = seeds
                .par_iter()
                .zip(&twins)
                .map(|(&seed, twin)| judge(&kind, &(kind.make)(seed, k, twin), twin))
                .collect();
            println!("{}", row(&kind, strength, &verdicts));
            all += verdicts.len();
            silent += verdicts.iter().filter(|v| !v.silent.is_empty()).count();
            numbers += verdicts.iter().map(compared).sum::<usize>();
            details.extend(detail(&kind, strength, &seeds, &verdicts));
        }
    }
    println!(
        "\n{silent} of {all} logs with a fault were changed beyond {SDS} sd in silence; the goal is none. For scale: {numbers} numbers were compared, and were they off \
         by chance alone, each as the normal law has it, {:.0} of them would lie beyond {SDS} sd. A release has at most {MOST_IN_10_000} such logs in 10,000.\n",
        numbers as f64 * BEYOND
    );
    println!("## What was silent\n");
    if details.is_empty() {
        println!("Nothing.");
    }
    details.iter().for_each(|d| println!("{d}"));
    if !named.is_empty() {
        return;
    }
    println!(
        "\n## False warnings\n\nLogs of each level, with no other faults than those of the level, and in how many a warning on the log as a whole was raised. That its zero does not hold still is no false one where it drifts:\n"
    );
    let many: Vec<u64> = (first_seed..first_seed + 4 * logs).collect();
    Level::ALL.into_iter().for_each(|level| println!("{}", false_cautions(level, &many)));
    let share = silent as f64 * 1e4 / all as f64;
    let key = "faults: logs changed in silence, of 10,000";
    if let Err(why) = open::judged(key, &[share], &(..=MOST_IN_10_000)) {
        eprintln!("{key}: {why}");
        std::process::exit(1);
    }
}

/// Number of values of a log that were compared with the true ones.
fn compared(v: &Verdict) -> usize {
    v.edges_s.len() + v.masses_g.len() + v.whole.iter().flatten().count()
}

/// True values, result, events and warnings of one log.
fn show_one(name: &str, strength: usize, seed: u64) {
    let kind = kinds().into_iter().find(|k| k.name.starts_with(name)).expect("a kind of that name");
    let twin = Twin::new(&Recipe::default(), seed);
    let made = (kind.make)(seed, strength, &twin);
    for p in &made.pours {
        println!("true  {:8.2} to {:8.2} s {:7.2} g", p.start_s, p.end_s, p.mass_g);
    }
    let verdict = judge(&kind, &made, &twin);
    if let Ok(brew) =
        made.log.as_ref().map_err(Clone::clone).and_then(|log| analyze(log, &Options::default()))
    {
        for p in &brew.segments.pours {
            println!("found {} to {} s, {} g", p.start_s, p.end_s, p.mass_g);
        }
        let (lag, lead) = (brew.segments.response.delay_s, &brew.segments.stream_lead_s);
        println!(
            "lag {lag} s where {:.3} s; lead {:?}",
            twin.truth.scale_lag_s,
            lead.as_ref().map(ToString::to_string).ok()
        );
        for e in &brew.trace.events {
            println!(
                "{:?} {:?} {:.2} to {:.2} s, {:.2} g: {}",
                e.channel, e.kind, e.start_s, e.end_s, e.size_g, e.action
            );
        }
    }
    verdict.warnings.iter().for_each(|c| println!("warning: {c}"));
    println!("changed {:?}\nsilent {:?}", verdict.changed, verdict.silent);
}

/// False warnings: logs of a level without any fault but those that the level has, and those in which a warning was
/// raised on the log as a whole.
fn false_cautions(level: Level, seeds: &[u64]) -> String {
    let warnings: Vec<Vec<String>> = seeds
        .par_iter()
        .map(|&seed| {
            let (log, truth) = simulate(&level.recipe(), seed).expect("the recipe is sound");
            let brew = analyze(&log, &Options::default()).expect("a whole log");
            faulty::false_cautions(&brew, &truth)
        })
        .collect();
    let raised = warnings.iter().filter(|c| !c.is_empty()).count();
    let first = seeds.iter().zip(&warnings).find(|(_, c)| !c.is_empty());
    let example = first.map(|(seed, c)| format!(" (seed {seed}: {})", c.join("; "))).unwrap_or_default();
    format!("- {}: {raised} of {}{example}", level.name(), seeds.len())
}

const HEAD: &str = "| fault | strength | logs | pours missed | made up | edges, s: 95 %, worst | in sd | masses, g: 95 %, worst | in sd | beverage, worst g | flagged | changed | silent | told by |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|---|";

fn row(kind: &Kind, strength: &str, verdicts: &[Verdict]) -> String {
    let sum = |of: fn(&Verdict) -> usize| verdicts.iter().map(of).sum::<usize>();
    let edges: Vec<Off> = verdicts.iter().flat_map(|v| v.edges_s.iter().copied()).collect();
    let masses: Vec<Off> = verdicts.iter().flat_map(|v| v.masses_g.iter().copied()).collect();
    let beverages: Vec<Off> = verdicts.iter().filter_map(|v| v.whole[1]).collect();
    format!(
        "| {} | {strength} | {} | {} of {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |",
        kind.name,
        verdicts.len(),
        sum(|v| v.missed),
        sum(|v| v.pours),
        sum(|v| v.invented),
        two(&edges, |o| o.error.abs(), 2),
        two(&edges, |o| o.error.abs() / o.sd, 1),
        two(&masses, |o| o.error.abs(), 2),
        two(&masses, |o| o.error.abs() / o.sd, 1),
        worst(&beverages, |o| o.error.abs(), 1),
        sum(|v| usize::from(v.flagged)),
        sum(|v| usize::from(!v.changed.is_empty())),
        sum(|v| usize::from(!v.silent.is_empty())),
        told(verdicts),
    )
}

fn sorted(offs: &[Off], of: fn(&Off) -> f64) -> Vec<f64> {
    let mut values: Vec<f64> = offs.iter().map(of).collect();
    values.sort_by(f64::total_cmp);
    values
}

fn worst(offs: &[Off], of: fn(&Off) -> f64, digits: usize) -> String {
    sorted(offs, of).last().map_or_else(|| "-".into(), |w| format!("{w:.digits$}"))
}

fn two(offs: &[Off], of: fn(&Off) -> f64, digits: usize) -> String {
    let values = sorted(offs, of);
    match values.len() {
        0 => "-".into(),
        n => format!("{:.digits$}, {:.digits$}", values[(n * 95).div_ceil(100) - 1], values[n - 1]),
    }
}

/// Reports of the change, the most frequent first, with the share of the logs.
fn told(verdicts: &[Verdict]) -> String {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    verdicts.iter().flat_map(|v| &v.told).for_each(|word| *counts.entry(word).or_default() += 1);
    let mut counts: Vec<(&str, usize)> = counts.into_iter().collect();
    counts.sort_by_key(|c| std::cmp::Reverse(c.1));
    let share = |c: &(&str, usize)| format!("{} {:.0} %", c.0, 100.0 * c.1 as f64 / verdicts.len() as f64);
    counts.iter().take(3).map(share).collect::<Vec<_>>().join(", ")
}

/// The silently changed numbers, and the logs that show them.
fn detail(kind: &Kind, strength: &str, seeds: &[u64], verdicts: &[Verdict]) -> Option<String> {
    let mut counts: BTreeMap<&str, Vec<u64>> = BTreeMap::new();
    for (seed, v) in seeds.iter().zip(verdicts) {
        for what in &v.silent {
            counts.entry(what).or_default().push(*seed);
        }
    }
    let told = |(what, seeds): (&&str, &Vec<u64>)| format!("{what} in seeds {seeds:?}");
    let all: Vec<String> = counts.iter().map(told).collect();
    (!all.is_empty()).then(|| format!("- {}, {strength}: {}", kind.name, all.join("; ")))
}
