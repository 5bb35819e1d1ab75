//! The rules of the sources that no compiler checks: who may import whom, no circles, where Python
//! may be named, how large and how deep files are, and that every root name is shown in an example.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

#[path = "house/reader.rs"]
mod reader;
use reader::{examples, files, home, imports, sources, tokens, uses};

/// A room may import rooms of the lines above its own, never of the same line or below.
const LAW: [&[&str]; 10] = [
    &["error", "estimate", "rows", "table"],
    &["math"],
    &["log"],
    &["extraction", "model"],
    &["condition"],
    &["scale", "segment"],
    &["agitation", "bed", "metrics"],
    &["brew"],
    &["live", "plan", "study"],
    &["bindings"],
];
/// The simulator judges the stages: it shares none of their code, only the values in which they give their answer.
const SIMULATE_MAY_IMPORT: [&str; 8] =
    ["error", "estimate", "rows", "table", "math", "log", "condition/trace", "segment/pour"];
/// Only the bindings may import the simulator.
const MAY_IMPORT_SIMULATE: [&str; 1] = ["bindings"];

const MOST_FOLDERS: usize = 16;
const MOST_FLOORS: usize = 9;
const MOST_LINES: usize = 500;
const MOST_FOLDERS_DEEP: usize = 3;

#[test]
fn a_room_imports_only_what_stands_before_it() {
    let broken: Vec<String> = all_imports()
        .into_iter()
        .flat_map(|(from, to)| to.into_iter().map(move |to| (from.clone(), to)))
        .filter(|(from, to)| !allowed(from, to))
        .map(|(from, to)| format!("{from} imports {to}"))
        .collect();
    assert!(broken.is_empty(), "against the law of imports:\n{}", broken.join("\n"));
}

#[test]
fn an_import_names_the_file_and_neither_a_folder_nor_the_root() {
    let folders: BTreeSet<String> =
        sources().iter().filter(|s| s.is_front()).map(|s| s.module.clone()).collect();
    let broken: Vec<String> = all_imports()
        .into_iter()
        .filter(|(from, _)| !folders.contains(from))
        .flat_map(|(from, to)| to.into_iter().map(move |to| (from.clone(), to)))
        .filter(|(_, to)| to.is_empty() || folders.contains(to))
        .map(|(from, to)| format!("{from} imports the front of {to:?}"))
        .collect();
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

#[test]
fn no_circle_of_imports_between_files() {
    let mut edges = all_imports();
    for front in sources().iter().filter(|source| source.is_front()) {
        let children = uses(&front.tokens).into_values().map(|child| format!("{}/{child}", front.module));
        edges.entry(front.module.clone()).or_default().extend(children);
    }
    assert_eq!(circle(&edges), BTreeSet::new(), "files that import each other");
}

#[test]
fn a_folder_only_declares_its_files_and_re_exports_names() {
    for front in sources().iter().filter(|source| source.is_front() && source.room() != "bindings") {
        let items = ["fn", "struct", "enum", "impl", "const", "static", "trait", "type"];
        let found = front.tokens.iter().find(|token| items.contains(&token.as_str()));
        assert_eq!(found, None, "{} holds more than declarations", front.path.display());
    }
}

#[test]
fn a_room_has_few_floors_and_the_house_few_rooms() {
    let edges = all_imports();
    let rooms: BTreeSet<String> =
        sources().iter().filter(|source| source.is_front()).map(|source| source.room().to_string()).collect();
    assert!(rooms.len() <= MOST_FOLDERS, "{} folders: {rooms:?}", rooms.len());
    // The inside of these two is to be rebuilt on another model of flow and scale.
    for room in rooms.iter().filter(|room| !["segment", "metrics"].contains(&room.as_str())) {
        let inside = |module: &String| module.split('/').next() == Some(room.as_str());
        let floors =
            edges.keys().filter(|module| inside(module)).map(|module| height(module, &edges, &inside));
        let floors = floors.max().unwrap_or(0);
        assert!(floors <= MOST_FLOORS, "{room} has {floors} floors");
    }
}

#[test]
fn python_is_named_only_in_the_bindings_and_unsafe_nowhere() {
    for source in sources() {
        let outside = source.room() != "bindings";
        for word in source.tokens.iter().filter(|word| ["pyo3", "numpy", "unsafe"].contains(&word.as_str())) {
            assert!(!outside && word != "unsafe", "{} names {word}", source.path.display());
        }
    }
}

#[test]
fn files_are_short_and_lie_three_folders_deep_at_most() {
    for folder in ["src", "tests", "benches", "python"] {
        for path in files(Path::new(folder), &["rs", "py"]) {
            let lines = fs::read_to_string(home().join(&path)).unwrap().lines().count();
            assert!(lines <= MOST_LINES, "{} has {lines} lines", path.display());
            let folders = path.components().count() - 1;
            assert!(folders <= MOST_FOLDERS_DEEP, "{} lies {folders} folders deep", path.display());
        }
    }
}

#[test]
fn every_file_opens_with_what_it_is_and_every_room_with_in_and_out() {
    for source in sources() {
        let head: String = source.text.lines().take_while(|line| line.starts_with("//!")).collect();
        assert!(!head.is_empty(), "{} has no head", source.path.display());
        let in_and_out = head.contains("In: ") && head.contains("Out: ");
        let exempt = ["math", "bindings"].contains(&source.room());
        assert!(
            in_and_out || exempt || !source.is_front(),
            "the head of {} lacks In: or Out:",
            source.path.display()
        );
    }
}

#[test]
fn every_root_name_is_shown_in_an_example_that_runs() {
    let mut shown = BTreeSet::new();
    for path in files(Path::new("src"), &["rs"]) {
        shown.extend(tokens(&examples(&fs::read_to_string(home().join(path)).unwrap())));
    }
    let root = uses(&tokens(&fs::read_to_string(home().join("src/lib.rs")).unwrap()));
    let unseen: Vec<_> = root.into_keys().filter(|name| !shown.contains(name)).collect();
    assert!(unseen.is_empty(), "no example shows {unseen:?}");
}

#[test]
fn a_circle_is_found_and_a_loose_end_is_none() {
    let of = |to: &[&str]| to.iter().map(|name| (*name).into()).collect::<BTreeSet<String>>();
    let ring =
        BTreeMap::from([("a".into(), of(&["b"])), ("b".into(), of(&["a", "c"])), ("c".into(), of(&["d"]))]);
    assert_eq!(circle(&ring), of(&["a", "b"]));
    assert!(allowed("bed/held", "model/trend") && !allowed("model/trend", "bed/held"));
    assert!(!allowed("bed/held", "metrics/result") && !allowed("brew/rows", "simulate/make"));
}

/// What each file imports, tests aside.
fn all_imports() -> BTreeMap<String, BTreeSet<String>> {
    let sources = sources();
    let modules: BTreeSet<&str> = sources.iter().map(|source| source.module.as_str()).collect();
    sources.iter().map(|source| (source.module.clone(), imports(source, &modules))).collect()
}

fn allowed(from: &str, to: &str) -> bool {
    let room = |module: &str| module.split('/').next().unwrap_or_default().to_string();
    let rank = |module: &str| LAW.iter().position(|line| line.contains(&room(module).as_str()));
    match (room(from).as_str(), room(to).as_str()) {
        (from, to) if from == to => true,
        ("simulate", _) => SIMULATE_MAY_IMPORT.iter().any(|may| to == *may || room(to) == *may),
        (from, "simulate") => MAY_IMPORT_SIMULATE.contains(&from),
        _ => rank(from).zip(rank(to)).is_some_and(|(from, to)| to < from || (to, from) == (0, 0)),
    }
}

/// The nodes that lie on a circle, or on a way between two: what is left when loose ends are cut off again and again.
fn circle(edges: &BTreeMap<String, BTreeSet<String>>) -> BTreeSet<String> {
    let mut left = edges.clone();
    loop {
        let entered: BTreeSet<String> = left.values().flatten().cloned().collect();
        let before = left.len();
        let keys: BTreeSet<String> = left.keys().cloned().collect();
        left.retain(|node, to| entered.contains(node) && to.iter().any(|to| keys.contains(to)));
        if left.len() == before {
            return keys;
        }
    }
}

/// The depth of imports inside a room, up to this file.
fn height(
    module: &str,
    edges: &BTreeMap<String, BTreeSet<String>>,
    inside: &dyn Fn(&String) -> bool,
) -> usize {
    let below = edges.get(module).into_iter().flatten().filter(|to| inside(to) && to.as_str() != module);
    1 + below.map(|to| height(to, edges, inside)).max().unwrap_or(0)
}
