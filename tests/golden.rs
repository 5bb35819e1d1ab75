//! The bundled brews give the numbers in `golden/brews.json` to the last bit, in every profile and whatever the number of threads. The file was written through
//! Python by the profile `release` (`.ci/golden.py`, `make golden`), whose digests are those of another implementation of SHA-256.
//!
//! IEEE 754 fixes the four operations and the root, not sine or logarithm. Where the system's library has other last digits of those, the numbers are held within
//! `APART`, and the bits against what one thread gives here.

use pourline::gather::Pours;
use pourline::{Brew, Log, Meta, Options, ReadOptions, Table, Values, analyze, analyze_many, gather};
use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
#[path = "../src/math/digest.rs"]
mod digest;
use digest::of_columns;

fn home() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn kept() -> Value {
    serde_json::from_str(&fs::read_to_string(home().join("tests/golden/brews.json")).unwrap()).unwrap()
}

/// The bundled logs, in the order of their index, which is that of the file kept.
fn logs() -> Vec<Log> {
    let mut index = csv::Reader::from_path(home().join("datasets/index.csv")).unwrap();
    let place = index.headers().unwrap().iter().position(|name| name == "file").unwrap();
    let files: Vec<PathBuf> =
        index.records().map(|row| home().join("datasets").join(&row.unwrap()[place])).collect();
    let read = |file: &PathBuf| {
        Log::read_bytes(&fs::read(file).unwrap(), &ReadOptions::default(), Meta::default()).unwrap()
    };
    files.iter().map(read).collect()
}

/// The columns of numbers of tables one below the other, a digest each.
fn columns(tables: &[Table]) -> Value {
    let numbers = |values: &Values| match values {
        Values::Number(numbers) => numbers.clone(),
        Values::Whole(numbers) => numbers.iter().map(|number| *number as f64).collect(),
        Values::Text(_) => unreachable!("texts are left out"),
    };
    let is_number = |values: &Values| !matches!(values, Values::Text(_));
    let mut found = Map::new();
    for column in tables[0].columns.iter().filter(|column| is_number(&column.values)) {
        let of_one = |table: &Table| numbers(&table.column(&column.name).unwrap().values);
        let all: Vec<f64> = tables.iter().flat_map(of_one).collect();
        found.insert(column.name.clone(), of_columns([(column.name.as_str(), all.as_slice())]).into());
    }
    found.into()
}

fn of_brew(brew: &Brew) -> Value {
    let (trace, flow, table) = (&brew.trace, brew.flow.as_ref().unwrap(), brew.table());
    let mass_g = |channel: &Option<pourline::ChannelTrace>| channel.as_ref().unwrap().mass_g.clone();
    let text = serde_json::to_vec(&Brew { version: String::new(), ..brew.clone() }).unwrap();
    let text: String = Sha256::digest(text).iter().map(|byte| format!("{byte:02x}")).collect();
    let mut found = json!({
        "log": brew.log_digest,
        "masses": of_columns([
            ("time_s", trace.time_s.as_slice()),
            ("water_g", &mass_g(&trace.water)),
            ("beverage_g", &mass_g(&trace.beverage)),
        ]),
        "flow": of_columns([
            ("time_s", flow.time_s.as_slice()),
            ("flow_g_per_s", &flow.flow_g_per_s),
            ("flow_sd_g_per_s", &flow.flow_sd_g_per_s),
            ("water_g", &flow.water_g),
            ("water_sd_g", &flow.water_sd_g),
        ]),
        "json": text,
    });
    for (name, whole) in [
        ("half_rise_s", false),
        ("half_fall_s", false),
        ("mass_g", false),
        ("water_g", true),
        ("beverage_g", true),
        ("yield_pct", true),
    ] {
        let Values::Number(numbers) = &table.column(name).unwrap().values else { unreachable!() };
        found[name] = if whole { json!(numbers[0]) } else { json!(numbers) };
    }
    found
}

fn found(brews: &[Brew]) -> Value {
    let by_name = |brew: &Brew| (brew.meta.name.clone().unwrap(), of_brew(brew));
    json!({
        "mathematics": mathematics(),
        "rows a pour": columns(&brews.iter().map(Brew::table).collect::<Vec<_>>()),
        "rows a brew": columns(&[gather(brews, Pours::Mean).unwrap().table()]),
        "brews": brews.iter().map(by_name).collect::<Map<_, _>>(),
    })
}

/// Where two differ, as far down as names go.
fn differ(path: &str, a: &Value, b: &Value, at: &mut Vec<String>) {
    match (a, b) {
        (Value::Object(left), Value::Object(right)) => {
            for name in left.keys().chain(right.keys()).collect::<BTreeSet<_>>() {
                differ(&format!("{path}/{name}"), &a[name], &b[name], at);
            }
        }
        _ if a != b => at.push(format!("{path}: {b} in place of {a}")),
        _ => {}
    }
}

fn held(reference: &Value, brews: &[Brew]) {
    let mut at = Vec::new();
    differ("", reference, &found(brews), &mut at);
    assert!(at.is_empty(), "if that is meant, run make golden:\n{}", at.join("\n"));
}

/// s, g and percentage points, where the mathematical library is another one.
const APART: f64 = 1e-9;

/// What this system's library makes of 4,000 numbers each.
fn mathematics() -> String {
    type Named = (&'static str, fn(f64) -> f64);
    let named: [Named; 10] = [
        ("exp", f64::exp),
        ("ln", f64::ln),
        ("sin", f64::sin),
        ("cos", f64::cos),
        ("tan", f64::tan),
        ("powf", |x| x.powf(0.3)),
        ("exp_m1", f64::exp_m1),
        ("ln_1p", f64::ln_1p),
        ("log2", f64::log2),
        ("log10", f64::log10),
    ];
    let of =
        |function: fn(f64) -> f64| (1..=4000).map(|k| function(f64::from(k) / 128.0)).collect::<Vec<_>>();
    let columns = named.map(|(name, function)| (name, of(function)));
    of_columns(columns.iter().map(|(name, values)| (*name, values.as_slice())))
}

/// What is kept, where the mathematical library is the same; else what one thread gives here, once its numbers are held.
fn reference(logs: &[Log]) -> Value {
    let kept = kept();
    if kept["mathematics"] == mathematics() {
        return kept;
    }
    let brews: Vec<Brew> =
        logs.iter().map(|log| analyze(log, &Options::default()).expect("the log is sound")).collect();
    let here = found(&brews);
    for (name, brew) in kept["brews"].as_object().unwrap() {
        assert_eq!(brew["log"], here["brews"][name]["log"]);
        for (what, value) in brew.as_object().unwrap().iter().filter(|(_, value)| !value.is_string()) {
            let numbers = |value: &Value| match value.as_array() {
                Some(all) => all.iter().map(|one| one.as_f64().unwrap()).collect(),
                None => vec![value.as_f64().unwrap()],
            };
            let (a, b) = (numbers(value), numbers(&here["brews"][name][what]));
            let near = a.len() == b.len() && a.iter().zip(&b).all(|(a, b)| (a - b).abs() < APART);
            assert!(near, "{name}, {what}: {b:?} in place of {a:?}");
        }
    }
    here
}

#[test]
fn the_bundled_brews_give_the_numbers_that_are_kept_to_the_last_bit() {
    let logs = logs();
    let brews: Vec<Brew> =
        logs.iter().map(|log| analyze(log, &Options::default()).expect("the log is sound")).collect();
    assert_eq!(brews.len(), kept()["brews"].as_object().unwrap().len());
    held(&reference(&logs), &brews);
}

#[test]
fn any_number_of_threads_gives_the_numbers_that_are_kept() {
    let logs = logs();
    let reference = reference(&logs);
    for threads in [1, 2, 5] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let brews = pool.install(|| analyze_many(&logs, &Options::default()));
        held(&reference, &brews.into_iter().map(|brew| brew.expect("the log is sound")).collect::<Vec<_>>());
    }
}

#[test]
fn a_number_that_moves_by_one_bit_is_told_with_its_place() {
    let (mut at, before) = (Vec::new(), kept());
    let mut after = before.clone();
    let name = after["brews"].as_object().unwrap().keys().next().unwrap().clone();
    let mass = after["brews"][&name]["water_g"].as_f64().unwrap();
    after["brews"][&name]["water_g"] = json!(mass.next_up());
    differ("", &before, &after, &mut at);
    assert_eq!(at, [format!("/brews/{name}/water_g: {} in place of {mass}", mass.next_up())]);
}
