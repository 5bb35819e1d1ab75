//! What the library makes of a log of the worlds, compared with the truth: shared by the test and the table.
//!
//! In: a made log. Out: each true pour with the detected one and its numbers, and what the result breaks. Numbers are
//! read by their names from the rows of the result, so that a number that does not exist yet is one that is undefined.

#![allow(dead_code, unused_imports, reason = "each program that includes this module uses a part of it")]

mod invariants;

use crate::matched::pairs;
use crate::worlds::{Made, TruePour};
pub use invariants::{
    APART, BOUND, INTEGRAL, INVARIANTS, MEAN_PEAK, MINIMUM_PLATEAU_PEAK, NUMBERS, ORDER, SHARES, broken,
};
use pourline::{Brew, Estimate, EventKind, Log, Meta, Options, analyze};
use serde_json::{Map, Value};

/// Numbers that have a true value, in the order of the tables.
pub const SCORED: [&str; 9] = [
    "start_s",
    "end_s",
    "half_rise_s",
    "half_fall_s",
    "mass_g",
    "mean_flow_g_per_s",
    "plateau_flow_g_per_s",
    "peak_flow_g_per_s",
    "flow_cv",
];
/// Further metrics that must be defined for every usual pour.
const DEFINED: [&str; 7] = [
    "flow_cv_upper",
    "peak_s",
    "rise_s",
    "fall_s",
    "time_near_plateau_pct",
    "first_half_water_pct",
    "smoothness",
];
/// Half-edges are undefined below this mean flow, g/s.
const LEAST_FLOW_OF_HALVES_G_PER_S: f64 = 1.2;
/// An event this near to a pour is one of the pour, s.
const NEAR_S: f64 = 1.0;
/// Pours this long have every metric, s.
const LONG_S: f64 = 6.0;

/// One number of a pour.
#[derive(Debug, Clone)]
pub struct Number {
    /// None if the definition gives none for this pour.
    pub truth: Option<f64>,
    /// None if it is undefined.
    pub found: Option<Estimate>,
}

/// One true pour and what was stated of it.
#[derive(Debug, Clone)]
pub struct Row {
    pub seed: u64,
    /// As in `SCORED`.
    pub numbers: Vec<Number>,
    pub cv_upper: Option<f64>,
    pub cv_resolved: bool,
    /// The true `flow_cv` up to the frequency that the log resolves; all of it if none is stated.
    pub cv_resolvable: Option<f64>,
    pub regimes: Option<usize>,
    pub peak_below_mean: bool,
    /// Whether the pour is long enough for every metric to be defined.
    pub long: bool,
    /// The metrics that are undefined though the pour is long, with the reasons.
    pub undefined: Vec<(&'static str, String)>,
    /// Whether a warning gives the number of this pour, or an event lies within `NEAR_S` of it.
    pub named: bool,
}

/// What became of one log.
#[derive(Debug, Default)]
pub struct Judged {
    pub rows: Vec<Row>,
    pub missed: usize,
    pub extra: usize,
    pub warnings: Vec<String>,
    /// The kinds of the events.
    pub events: Vec<EventKind>,
    /// Broken invariants: name, and what was found.
    pub broken: Vec<(&'static str, String)>,
    /// The error of a log that was refused.
    pub refused: Option<String>,
}

/// The analysis of a made log.
pub fn analysed(made: &Made, options: &Options) -> pourline::Result<Brew> {
    let log = Log::new(made.time_s.clone(), Some(made.water_g.clone()), None, Meta::default())?;
    analyze(&log, options)
}

/// The rows of all pours of a brew: edges and masses, and metrics, by name.
pub fn rows(brew: &Brew) -> Vec<Map<String, Value>> {
    let of = |value: serde_json::Result<Value>| match value.expect("a result has a JSON") {
        Value::Object(row) => row,
        other => unreachable!("a row is an object, not {other}"),
    };
    let metrics = brew.metrics.pours.iter().map(|row| of(serde_json::to_value(row)));
    brew.segments
        .pours
        .iter()
        .zip(metrics)
        .map(|(pour, metrics)| {
            let mut row = of(serde_json::to_value(pour));
            row.extend(metrics);
            row
        })
        .collect()
}

/// A number of a row, or why it is undefined.
pub fn number(row: &Map<String, Value>, name: &str) -> Result<Estimate, String> {
    let written = row.get(name).ok_or_else(|| format!("there is no {name}"))?;
    if let Some(value) = written.as_f64() {
        return Ok(Estimate::exact(value));
    }
    let part = |key: &str| written.get(key).and_then(Value::as_f64);
    match (part("value"), part("sd")) {
        (Some(value), Some(sd)) => Ok(Estimate::new(value, sd)),
        _ => Err(written.get("reason").and_then(Value::as_str).unwrap_or("no number").to_string()),
    }
}

/// With the default options.
pub fn judge(made: &Made, seed: u64) -> Judged {
    judge_with(made, &Options::default(), seed)
}

pub fn judge_with(made: &Made, options: &Options, seed: u64) -> Judged {
    let brew = match analysed(made, options) {
        Ok(brew) => brew,
        Err(error) => {
            return Judged {
                missed: made.pours.len(),
                refused: Some(error.to_string()),
                ..Judged::default()
            };
        }
    };
    let found = rows(&brew);
    let spans: Vec<(f64, f64)> =
        brew.segments.pours.iter().map(|p| (p.start_s.value, p.end_s.value)).collect();
    let truths: Vec<(f64, f64)> = made.pours.iter().map(|p| (p.start_s, p.end_s)).collect();
    let pairs = pairs(&truths, &spans);
    Judged {
        rows: pairs
            .iter()
            .map(|&(t, f)| Row { named: named(&brew, f), ..row(&made.pours[t], &found[f], seed) })
            .collect(),
        missed: made.pours.len() - pairs.len(),
        extra: spans.len() - pairs.len(),
        warnings: brew.warnings.clone(),
        events: brew.trace.events.iter().map(|e| e.kind).collect(),
        broken: broken(&brew, made),
        refused: None,
    }
}

/// Whether a warning or an event concerns a detected pour.
fn named(brew: &Brew, pour: usize) -> bool {
    let number = format!("pour {} (", pour + 1);
    let (from_s, to_s) = (brew.segments.pours[pour].start_s.value, brew.segments.pours[pour].end_s.value);
    brew.warnings.iter().any(|w| w.contains(&number))
        || brew.trace.events.iter().any(|e| e.start_s < to_s + NEAR_S && e.end_s > from_s - NEAR_S)
}

fn row(truth: &TruePour, found: &Map<String, Value>, seed: u64) -> Row {
    let halves = truth.mean_flow_g_per_s >= LEAST_FLOW_OF_HALVES_G_PER_S;
    let truths = [
        Some(truth.start_s),
        Some(truth.end_s),
        halves.then_some(truth.half_rise_s),
        halves.then_some(truth.half_fall_s),
        Some(truth.mass_g),
        Some(truth.mean_flow_g_per_s),
        truth.plateau_flow_g_per_s,
        Some(truth.peak_flow_g_per_s),
        truth.flow_cv,
    ];
    let one = |name: &str, truth| Number { truth, found: number(found, name).ok() };
    let numbers: Vec<Number> = SCORED.iter().zip(truths).map(|(name, truth)| one(name, truth)).collect();
    let long = truth.duration_s() >= LONG_S;
    let wanted = SCORED.iter().zip(truths).filter(|(_, truth)| truth.is_some()).map(|(name, _)| *name);
    let mut undefined = Vec::new();
    for name in wanted.chain(DEFINED).filter(|_| long) {
        undefined.extend(number(found, name).err().map(|why| (name, why)));
    }
    let value = |name: &str| number(found, name).ok().map(|e| e.value);
    let cv_resolvable = match value("resolved_to_hz") {
        Some(hz) if truth.flow_cv.is_some_and(|cv| cv >= 0.06) => {
            truth.flow_cv_between(0.0, hz).map(|cv| cv.hypot(truth.flow_cv_trend.unwrap_or(0.0)))
        }
        _ => truth.flow_cv,
    };
    Row {
        seed,
        numbers,
        cv_upper: value("flow_cv_upper"),
        cv_resolved: found.get("flow_cv_resolved").and_then(Value::as_bool).unwrap_or(false),
        cv_resolvable,
        regimes: found.get("flow_regimes").and_then(Value::as_array).map(Vec::len),
        peak_below_mean: value("peak_flow_g_per_s")
            .zip(value("mean_flow_g_per_s"))
            .is_some_and(|(p, m)| p < m),
        long,
        undefined,
        named: false,
    }
}
