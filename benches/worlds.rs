//! Prints how right the library is on worlds in which its assumptions are false, one line per kind of hand, and each
//! bar with its worst kind: `cargo bench --bench worlds -- 200`.
//!
//! In: the least number of pours per kind at 10 readings a second (default 200; half of it at other rates) and,
//! optionally, `quick` (40 pours), `10hz` (that rate alone), `first=SEED`, `full` (all tables at each rate), `force` or
//! `noforce` (the stream weighs in every log, or in none), and the names of selected kinds. Exits with 1 if a bar is
//! missed; with `quick` and `10hz`, which have a line in `tests/open_bars.txt`, if more are missed than that says.
//!
//! `scales` prints one line per kind of scale instead, each under a level, a sloped, a wobbling and a stepped hand. The
//! number is that of the logs per kind of scale and hand. `scale=NAME` selects a kind of scale, `dose` or `vessel` puts
//! one on before the first pour, `rim`, `table` or `shaking` lets something else press on it. With `calibrated` the
//! scale of each log is calibrated before, by ten masses, and the analysis is given what that found.
//!
//! `show KIND SEED [RATE]` prints one log, with `csv` as a file of its readings, or of those of the calibration;
//! `scale=NAME` and the other words hold there too.

#[path = "../tests/judged/mod.rs"]
mod judged;
#[path = "../tests/matched/mod.rs"]
mod matched;
#[path = "../tests/open/mod.rs"]
mod open;
#[path = "../tests/worlds/mod.rs"]
mod worlds;
mod worlds_shown;

use judged::{Judged, judge};
use rayon::prelude::*;
use std::process::ExitCode;
use worlds::{Around, Kind, Put, Scale, Setting, kinds, log, scales};
use worlds_shown::{Tally, bars, show, tables};

const RATES_HZ: [f64; 5] = [10.0, 1.0, 2.0, 5.0, 50.0];

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    let is = |word: &str| arguments.iter().any(|a| a == word);
    let number = |a: &String| a.parse::<usize>().ok();
    let wanted_scale = arguments.iter().find_map(|a| a.strip_prefix("scale="));
    let scale: Option<&'static Scale> = wanted_scale
        .map(|name| scales().iter().find(|s| s.name == name).expect("a kind of scale of that name"));
    let force = if is("force") { Some(true) } else { is("noforce").then_some(false) };
    let put = if is("dose") { Some(Put::Dose) } else { is("vessel").then_some(Put::Vessel) };
    let around = [("rim", Around::Rim), ("table", Around::Table), ("shaking", Around::Shaking)];
    let around = around.into_iter().find(|(word, _)| is(word)).map(|(_, around)| around);
    let setting = Setting { force, scale, put, around, ..Setting::default() };
    if is("show") {
        let kind = kinds().iter().find(|k| is(k.name)).expect("a kind of that name");
        let mut numbers = arguments.iter().filter_map(number);
        let seed = numbers.next().unwrap_or(0) as u64;
        let rate_hz = numbers.next().map_or(10.0, |rate| rate as f64);
        let shown = if is("csv") { show::csv } else { show::one };
        shown(kind, &Setting { rate_hz, ..setting }, seed, is("calibrated"));
        return ExitCode::SUCCESS;
    }
    let first = arguments.iter().find_map(|a| a.strip_prefix("first=")?.parse().ok()).unwrap_or(0);
    let any = kinds().iter().any(|kind| is(kind.name));
    let wanted = |kind: &&Kind| !any || is(kind.name);
    let rates_hz: Vec<f64> = RATES_HZ.into_iter().filter(|&rate_hz| rate_hz == 10.0 || !is("10hz")).collect();
    let missed = if is("scales") {
        let logs = arguments.iter().find_map(number).unwrap_or(if is("quick") { 4 } else { 20 });
        let hands = worlds_shown::scales::hands(any.then_some(wanted));
        let setting = Setting { force: Some(is("force")), ..setting };
        let rates_hz = rates_hz.into_iter().filter(|&rate_hz| rate_hz >= 5.0);
        rates_hz
            .map(|rate_hz| {
                let setting = Setting { rate_hz, ..setting.clone() };
                worlds_shown::scales::judged(&hands, &setting, is("calibrated"), first..first + logs as u64)
            })
            .sum()
    } else {
        let pours = arguments.iter().find_map(number).unwrap_or(if is("quick") { 40 } else { 200 });
        let wanted: Vec<&Kind> = kinds().iter().filter(wanted).collect();
        by_hand(&wanted, &setting, &rates_hz, (first, pours), is("full"))
    };
    println!("\n{missed} bars missed");
    let key = format!("worlds {}: bars missed", arguments.join(" "));
    if let Err(why) = open::judged(&key, &[missed as f64], &(..=0.0)) {
        eprintln!("{key}: {why}");
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}

/// Prints the tables of all kinds of hands. Returns how many bars are missed.
fn by_hand(
    wanted: &[&Kind],
    setting: &Setting,
    rates_hz: &[f64],
    (first, pours): (u64, usize),
    full: bool,
) -> usize {
    let mut missed = 0;
    for &rate_hz in rates_hz {
        let setting = Setting { rate_hz, ..setting.clone() };
        let wants = if rate_hz == 10.0 { pours } else { pours.div_ceil(2) };
        let tallies: Vec<Tally> =
            wanted.iter().map(|kind| Tally::new(kind, &judged(kind, &setting, first, wants))).collect();
        println!(
            "\n## {rate_hz} readings a second, {} pours\n",
            tallies.iter().map(|t| t.pours).sum::<usize>()
        );
        if rate_hz == 10.0 || full {
            tables::full(&tallies)
        } else {
            tables::short(&tallies)
        }
        println!();
        for figure in bars::all(&tallies, rate_hz) {
            missed += usize::from(!figure.met());
            println!("{}", figure.says());
        }
    }
    missed
}

/// Logs of a kind, at least until there are that many pours.
fn judged(kind: &Kind, setting: &Setting, first: u64, pours: usize) -> Vec<Judged> {
    let mut all: Vec<Judged> = Vec::new();
    let count = |all: &[Judged]| all.iter().map(|j| j.rows.len() + j.missed).sum::<usize>();
    while count(&all) < pours {
        let from = first + all.len() as u64;
        let more: Vec<Judged> =
            (from..from + 16).into_par_iter().map(|seed| judge(&log(kind, setting, seed), seed)).collect();
        all.extend(more);
    }
    all
}
