//! Errors of the metrics of pouring, bed and extraction on simulated brews of the usual level at 10 Hz.
//!
//! In: seeds. Out: figures, each with its bar. An undefined number counts in figures of the share given or found; if
//! the bar is on the largest error, it counts as missed.

use crate::levels::Figure;
use pourline::simulate::TruePour;
use pourline::{Brew, Estimate, Level, Maybe, Options, PourMetrics, Recipe, Truth, analyze_many, simulate};

/// Shorter pours are not informative about their unsteadiness, s.
const LONG_S: f64 = 6.0;
/// Largest error of a correct frequency, Hz.
const RIGHT_HZ: f64 = 0.05;
/// Slower beats pass through the lag of a kitchen scale.
const SLOW_HZ: f64 = 1.0;

pub fn all(first_seed: u64, brews: u64) -> Vec<(String, Vec<Figure>)> {
    let seeds = || first_seed..first_seed + brews;
    let usual = Level::Usual.recipe();
    let mut out = Vec::new();
    let found = pairs(|_| usual.clone(), seeds());
    out.push((format!("the hand, usual: {brews} brews, {} pours", rows(&found).len()), hand(&found)));
    out.push((format!("the bed and the cup, usual: {brews} brews"), bed(&found)));

    // The seed sets the frequency of the pulsing.
    let beating = pairs(|seed| beat(&usual, hz_of(seed)), seeds());
    let mut steady = usual.clone();
    steady.hand.tremor = [0.0; 2];
    let steady = pairs(|_| steady.clone(), seeds());
    let long = |found: &[Pair]| rows(found).iter().filter(|r| is_long(r)).count();
    let title = format!(
        "pulsing, usual, pours of {LONG_S} s and longer: {} with a beat of 6 to 12 %, {} without",
        long(&beating),
        long(&steady)
    );
    out.push((title, pulsing(&beating, &steady)));
    out
}

struct Pair {
    brew: Option<Brew>,
    truth: Truth,
    /// Frequency of the pulsing, if there is only one, Hz.
    hz: f64,
    /// Yield of the stated strength and dose with the true beverage, percent.
    yield_pct: f64,
}

struct Row<'a> {
    truth: &'a TruePour,
    of: &'a Truth,
    found: Option<&'a PourMetrics>,
    hz: f64,
}

fn hz_of(seed: u64) -> f64 {
    0.4 + 1.6 * (seed as f64 * 0.618_034).fract()
}

fn beat(usual: &Recipe, hz: f64) -> Recipe {
    let mut recipe = usual.clone();
    (recipe.hand.tremor, recipe.hand.tremor_waves, recipe.hand.tremor_hz) = ([0.06, 0.12], [1; 2], [hz; 2]);
    recipe
}

fn pairs(recipe: impl Fn(u64) -> Recipe, seeds: std::ops::Range<u64>) -> Vec<Pair> {
    let (logs, truths): (Vec<_>, Vec<_>) =
        seeds.clone().map(|seed| simulate(&recipe(seed), seed).expect("the recipe is sound")).unzip();
    let yields: Vec<f64> = logs
        .iter()
        .zip(&truths)
        .map(|(log, truth)| {
            let last_g = truth.beverage_g.last().copied().unwrap_or(f64::NAN);
            log.meta.tds_pct.unwrap_or(f64::NAN) * last_g / truth.dose_g
        })
        .collect();
    analyze_many(&logs, &Options::default())
        .into_iter()
        .zip(truths)
        .zip(seeds.zip(yields))
        .map(|((brew, truth), (seed, yield_pct))| Pair { brew: brew.ok(), truth, hz: hz_of(seed), yield_pct })
        .collect()
}

/// Every true pour with the detected one.
fn rows(pairs: &[Pair]) -> Vec<Row<'_>> {
    let of = |pair: &'_ Pair, truth: &TruePour| {
        let brew = pair.brew.as_ref()?;
        let near = |k: &usize| (brew.segments.pours[*k].start_s.value - truth.start_s).abs() < 0.5;
        (0..brew.segments.pours.len()).find(near)
    };
    let row = |pair| move |truth| (pair, truth);
    pairs
        .iter()
        .flat_map(|pair| pair.truth.pours.iter().map(row(pair)))
        .map(|(pair, truth): (&Pair, &TruePour)| {
            let found = of(pair, truth).and_then(|k| pair.brew.as_ref()?.metrics.pours.get(k));
            Row { truth, of: &pair.truth, found, hz: pair.hz }
        })
        .collect()
}

fn is_long(row: &Row) -> bool {
    row.truth.end_s - row.truth.start_s >= LONG_S
}

fn hand(pairs: &[Pair]) -> Vec<Figure> {
    let rows = rows(pairs);
    let flow: Vec<f64> = rows
        .iter()
        .filter_map(|r| {
            let found = r.found?.plateau_flow_g_per_s.as_ref().ok()?;
            Some(100.0 * (found.value / r.truth.plateau_flow_g_per_s - 1.0).abs())
        })
        .collect();
    let long: Vec<&Row> = rows.iter().filter(|r| is_long(r)).collect();
    let error = |r: &&Row| Some((r.found?.flow_cv.as_ref().ok()?.value - r.truth.flow_cv).abs());
    let of_all: Vec<f64> = long.iter().filter_map(error).collect();
    let is_resolved = |r: &&&Row| r.found.is_some_and(|m| m.flow_cv_resolved);
    let of_resolved: Vec<f64> = long.iter().filter(is_resolved).filter_map(error).collect();
    let of_seen: Vec<f64> = long.iter().filter(is_resolved).filter_map(seen_error).collect();
    // A bound that is undefined with its reason states nothing.
    let bounded: Vec<f64> = long
        .iter()
        .filter_map(|r| Some(r.found?.flow_cv_upper.as_ref().ok()?.value - r.truth.flow_cv))
        .collect();
    let holding = bounded.iter().filter(|above| **above >= 0.0).count();
    vec![
        at_most("plateau flow, mean absolute error %", mean(&flow), 1.0),
        at_most("flow CV if resolved, mean absolute error", mean(&of_resolved), 0.012),
        at_most("the same up to resolved_to_hz, mean absolute error", mean(&of_seen), 0.012),
        goal(at_most("flow CV of all pours, mean absolute error", mean(&of_all), 0.012)),
        goal(at_least("flow CV resolved, share of long pours", share(of_resolved.len(), long.len()), 0.5)),
        at_least("flow CV under its upper bound, share of those stated", share(holding, bounded.len()), 0.95),
        at_least(
            "upper bound of flow CV stated, share of long pours",
            share(bounded.len(), long.len()),
            0.97,
        ),
    ]
}

/// Error of the part of the flow CV that the readings resolve.
fn seen_error(row: &&Row) -> Option<f64> {
    let (seen, to_hz) = seen_cv(row.found?)?;
    Some((seen.value - true_cv(row.of, row.truth, to_hz)).abs())
}

/// The part of the flow CV that the readings resolve, and up to which frequency, Hz: its parts, added in quadrature.
fn seen_cv(found: &PourMetrics) -> Option<(Estimate, f64)> {
    let parts = [&found.flow_cv_trend, &found.flow_cv_slow, &found.flow_cv_fast];
    let known = || parts.into_iter().filter_map(|part: &Maybe| part.as_ref().ok());
    let value = known().fold(0.0_f64, |all, part| all.hypot(part.value));
    let sd = known().fold(0.0_f64, |all, part| all.hypot(part.value * part.sd)) / value;
    Some((Estimate::new(value, sd), found.resolved_to_hz.as_ref().ok()?.value))
}

/// True flow CV on the plateau up to a frequency: the variance of the straight line, and of the discrete Fourier
/// transform of what is left, by the trapezoid rule.
fn true_cv(truth: &Truth, pour: &TruePour, to_hz: f64) -> f64 {
    let at = |t: f64| truth.time_s.partition_point(|u| *u < t);
    let within = at(pour.plateau_start_s)..at(pour.plateau_end_s);
    let (time, flow) = (&truth.time_s[within.clone()], &truth.flow_g_per_s[within]);
    let n = time.len();
    let weight: Vec<f64> =
        (0..n).map(|i| 0.5 * (time[(i + 1).min(n - 1)] - time[i.saturating_sub(1)])).collect();
    let total_s: f64 = weight.iter().sum();
    let over = |of: &dyn Fn(usize) -> f64| (0..n).map(|i| weight[i] * of(i)).sum::<f64>() / total_s;
    let (middle_s, mean) = (over(&|i| time[i]), over(&|i| flow[i]));
    let square = over(&|i| (time[i] - middle_s).powi(2));
    let slope = over(&|i| (time[i] - middle_s) * (flow[i] - mean)) / square;
    let rest = |i: usize| flow[i] - mean - slope * (time[i] - middle_s);
    let mut variance = slope * slope * square;
    for k in (1..).take_while(|k| f64::from(*k) <= to_hz * total_s) {
        let angle = |i: usize| std::f64::consts::TAU * f64::from(k) * (time[i] - time[0]) / total_s;
        let (re, im) = (over(&|i| rest(i) * angle(i).cos()), over(&|i| rest(i) * angle(i).sin()));
        variance += 2.0 * (re * re + im * im);
    }
    variance.sqrt() / mean
}

fn bed(pairs: &[Pair]) -> Vec<Figure> {
    type Of = fn(&Brew) -> &Maybe;
    let largest = |of: Of, truth: fn(&Pair) -> f64| {
        let off = |pair: &Pair| {
            let found = pair.brew.as_ref().and_then(|brew| of(brew).as_ref().ok());
            let off = found.map_or(f64::INFINITY, |e| (e.value - truth(pair)).abs());
            if off.is_nan() { f64::INFINITY } else { off }
        };
        pairs.iter().map(off).fold(0.0, f64::max)
    };
    let end = largest(|b| &b.bed.drawdown_end_s, |p| p.truth.beverage_end_s.unwrap_or(f64::NAN));
    vec![
        at_most("drawdown end, largest error s", end, 2.0),
        at_most(
            "retention, largest error g/g",
            largest(|b| &b.bed.retention_g_per_g, |p| p.truth.retention_g_per_g),
            0.02,
        ),
        at_most("yield, largest error points", largest(|b| &b.extraction.yield_pct, |p| p.yield_pct), 0.02),
    ]
}

fn pulsing(beating: &[Pair], steady: &[Pair]) -> Vec<Figure> {
    let (beating, steady) = (rows(beating), rows(steady));
    let hz = |r: &Row| r.found.and_then(|f| f.pulsing_hz.as_ref().ok()).map(|e| e.value);
    let long = |rows: &[Row]| rows.iter().filter(|r| is_long(r)).count();
    let found: Vec<f64> =
        beating.iter().filter(|r| is_long(r)).filter_map(|r| Some((hz(r)? - r.hz).abs())).collect();
    let right = found.iter().filter(|off| **off <= RIGHT_HZ).count();
    let of_beats = |slow: bool| {
        let these = || beating.iter().filter(|r| is_long(r) && (r.hz < SLOW_HZ) == slow);
        share(these().filter(|r| hz(r).is_some()).count(), these().count())
    };
    let false_alarms = steady.iter().filter(|r| is_long(r) && hz(r).is_some()).count();
    vec![
        at_least("pulsing found, beats slower than 1 Hz, share", of_beats(true), 0.9),
        goal(at_least("pulsing found, quicker beats, share", of_beats(false), 0.9)),
        goal(at_least("pulsing found, all beats, share", share(found.len(), long(&beating)), 0.9)),
        at_least("found within 0.05 Hz, share of those found", share(right, found.len()), 0.9),
        at_most("false alarms, share", share(false_alarms, long(&steady)), 0.02),
    ]
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn share(of: usize, all: usize) -> f64 {
    of as f64 / all as f64
}

fn at_most(name: &'static str, figure: f64, bar: f64) -> Figure {
    Figure { name, figure, bar, at_least: false, goal: false }
}

fn at_least(name: &'static str, figure: f64, bar: f64) -> Figure {
    Figure { name, figure, bar, at_least: true, goal: false }
}

fn goal(figure: Figure) -> Figure {
    Figure { goal: true, ..figure }
}
