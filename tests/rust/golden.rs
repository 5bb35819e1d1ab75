//! The bundled brews give the numbers in `golden/brews.json` to the last bit, in every profile and with any number
//! of threads. The file was written through Python by the profile `release` (`.ci/golden.py`, `make golden`), with
//! another implementation of SHA-256. A digest is over values alone: no name counts.
//!
//! IEEE 754 fixes the four operations and the root, not sine or logarithm. If the system's library has other last
//! digits of those, the numbers are held within `APART`, and the bits against what one thread gives here.

use pourline::Pours;
use pourline::{Brew, Log, Meta, Options, ReadOptions, Table, Values, analyze, analyze_many, gather};
use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Digest of values as IEEE 754 doubles, the least significant byte first. A negative zero counts as zero, any missing
/// value as `0x7ff8_0000_0000_0000`.
fn of_values<'a>(columns: impl IntoIterator<Item = &'a [f64]>) -> String {
    let mut hashed = Sha256::new();
    for value in columns.into_iter().flatten() {
        let bits = if value.is_nan() { 0x7ff8_0000_0000_0000 } else { (value + 0.0).to_bits() };
        hashed.update(bits.to_le_bytes());
    }
    hashed.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The numbers of a JSON tree.
fn numbers(tree: &Value, into: &mut Vec<f64>) {
    match tree {
        Value::Number(number) => into.push(number.as_f64().unwrap()),
        Value::Array(branches) => branches.iter().for_each(|branch| numbers(branch, into)),
        Value::Object(branches) => branches.values().for_each(|branch| numbers(branch, into)),
        Value::Null | Value::Bool(_) | Value::String(_) => {}
    }
}

/// Digest of the numbers of a JSON tree in ascending order.
fn of_tree(tree: &Value) -> String {
    let mut all = Vec::new();
    numbers(tree, &mut all);
    all.sort_by(f64::total_cmp);
    of_values([all.as_slice()])
}

fn home() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn kept() -> Value {
    serde_json::from_str(&fs::read_to_string(home().join("tests/golden/brews.json")).unwrap()).unwrap()
}

/// The bundled logs, in the order of their index, which is that of the stored file.
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
        found.insert(column.name.clone(), of_values([all.as_slice()]).into());
    }
    found.into()
}

fn of_brew(brew: &Brew) -> Value {
    let (trace, flow, table) = (&brew.trace, brew.flow.as_ref().unwrap(), brew.table(true));
    let mass_g = |channel: &Option<pourline::ChannelTrace>| channel.as_ref().unwrap().mass_g.clone();
    let mut found = json!({
        "log": brew.log_digest,
        "masses": of_values([trace.time_s.as_slice(), &mass_g(&trace.water), &mass_g(&trace.beverage)]),
        "flow": of_values([
            flow.time_s.as_slice(),
            &flow.flow_g_per_s,
            &flow.flow_sd_g_per_s,
            &flow.water_g,
            &flow.water_sd_g,
        ]),
        "json": of_tree(&serde_json::from_str(&serde_json::to_string(brew).unwrap()).unwrap()),
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
        "rows a pour": columns(&brews.iter().map(|brew| brew.table(true)).collect::<Vec<_>>()),
        "rows a brew": columns(&[gather(brews, Pours::Mean).unwrap().table()]),
        "brews": brews.iter().map(by_name).collect::<Map<_, _>>(),
    })
}

/// The names at which two values differ.
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

/// Tolerance under another mathematical library: s, g and percentage points.
const APART: f64 = 1e-9;

/// What this system's library makes of 4,000 numbers each.
fn mathematics() -> String {
    let functions: [fn(f64) -> f64; 10] = [
        f64::exp,
        f64::ln,
        f64::sin,
        f64::cos,
        f64::tan,
        |x| x.powf(0.3),
        f64::exp_m1,
        f64::ln_1p,
        f64::log2,
        f64::log10,
    ];
    let of =
        |function: fn(f64) -> f64| (1..=4000).map(|k| function(f64::from(k) / 128.0)).collect::<Vec<_>>();
    let columns = functions.map(of);
    of_values(columns.iter().map(Vec::as_slice))
}

/// The stored values if the mathematical library is the same; else what one thread gives here, once its numbers are
/// held.
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
#[ignore = "slow"]
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

#[test]
fn a_name_or_an_order_moves_no_digest_and_a_bit_does() {
    let of = |tree: Value| of_tree(&tree);
    let tree = json!({"mass_g": {"value": 2.0, "sd": 0.5}, "all": [1, null, true, "3"]});
    assert_eq!(of(tree), of(json!({"a": 0.5, "b": 1.0, "c": [[2.0]], "d": "4"})));
    assert_ne!(of(json!([2.0, 0.5])), of(json!([2.0_f64.next_up(), 0.5])));
    assert_ne!(of(json!([2.0, 0.5])), of(json!([2.0, 0.5, 0.5])));
}

/// FIPS 180-4, of the eight bytes of 1.0; made with coreutils' sha256sum.
#[test]
fn a_digest_is_that_of_the_bytes() {
    let bytes = "6c3c396ed6b5c36dcae172271f462051b1266b851e92df3deea8ac65478fd712";
    assert_eq!(of_values([[1.0].as_slice()]), bytes);
    assert_eq!(of_values([[-0.0].as_slice()]), of_values([[0.0].as_slice()]));
}
