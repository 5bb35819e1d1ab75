//! The rules of the house that no compiler holds, read from the sources: who may import whom, no circles, where Python
//! may be named, how large and how deep files are, and that every root name is shown in an example.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

#[path = "house/reader.rs"]
mod reader;
use reader::{Source, examples, files, floors, home, reaches, sources, tokens, uses};

/// A stage may import what stands in a line above its own, never across and never down.
const LAW: [&[&str]; 13] = [
    &["error", "estimate", "table", "math"],
    &["water"],
    &["log"],
    &["extraction"],
    &["condition"],
    &["segment"],
    &["flow"],
    &["agitation", "bed", "measures"],
    &["doubts"],
    &["brew"],
    &["gather"],
    &["compare", "dial_in", "live", "plan", "profile", "repeatability"],
    &["bindings"],
];
/// The simulator is judge of the stages: it shares none of their code, only the values in which they give their answer.
const SIMULATE_MAY_IMPORT: [&str; 5] = ["error", "estimate", "table", "math", "log"];
const SIMULATE_MAY_NAME: [&str; 4] = ["Pour", "Channel", "Event", "EventKind"];
/// Only the bindings may import the simulator.
const MAY_IMPORT_SIMULATE: [&str; 1] = ["bindings"];

const MOST_LINES: usize = 500;
const MOST_FLOORS: usize = 2;

#[test]
fn a_stage_imports_only_what_stands_before_it() {
    let (sources, root) = (sources(), root_names());
    let stages: BTreeSet<&str> = sources.iter().map(|source| source.stage.as_str()).collect();
    let mut broken = Vec::new();
    for (source, name) in outward(&sources) {
        let to = if stages.contains(name.as_str()) { Some(&name) } else { root.get(&name) };
        let fine = to.is_some_and(|to| allowed(&source.stage, to, &name));
        if !fine {
            let to = to.map_or("an unknown place", String::as_str);
            broken.push(format!("{} imports {name} of {to}", source.path.display()));
        }
    }
    assert!(broken.is_empty(), "against the law of imports:\n{}", broken.join("\n"));
}

#[test]
fn every_stage_has_its_place_in_the_law() {
    let placed = |stage: &str| stage == "simulate" || rank(stage).is_some();
    let strays: Vec<_> =
        sources().into_iter().filter(|source| !placed(&source.stage)).map(|s| s.path).collect();
    assert!(strays.is_empty(), "in no line of the law: {strays:?}");
}

#[test]
fn no_circle_of_imports_between_stages_or_inside_one() {
    let (sources, root) = (sources(), root_names());
    let mut between: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (source, name) in outward(&sources) {
        let to = root.get(&name).unwrap_or(&name).clone();
        if to != source.stage {
            between.entry(source.stage.clone()).or_default().insert(to);
        }
    }
    assert_eq!(circle(&between), BTreeSet::new(), "stages that import each other");

    for stage in sources.iter().filter(|source| source.path.ends_with("mod.rs")) {
        // What the stage's front takes from a file of it is that file's, by whichever name a neighbour reaches it.
        let given = uses(&stage.tokens);
        let mut inside: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for source in sources.iter().filter(|s| s.stage == stage.stage && s.path != stage.path) {
            let file = source.path.file_stem().unwrap().to_string_lossy().into_owned();
            for (floor, path) in reaches(&source.tokens, floors(&source.path)) {
                let name =
                    if floor == 1 { path.first() } else { path.get(1).filter(|_| path[0] == stage.stage) };
                let Some(name) = name else { continue };
                let to = given.get(name).unwrap_or(name).clone();
                if to != file {
                    inside.entry(file.clone()).or_default().insert(to);
                }
            }
        }
        assert_eq!(circle(&inside), BTreeSet::new(), "files of {} that import each other", stage.stage);
    }
}

#[test]
fn python_is_named_only_in_the_bindings_and_unsafe_nowhere() {
    for source in sources() {
        let outside = source.stage != "bindings";
        for word in source.tokens.iter().filter(|word| ["pyo3", "numpy", "unsafe"].contains(&word.as_str())) {
            assert!(!outside && word != "unsafe", "{} names {word}", source.path.display());
        }
    }
}

#[test]
fn files_are_short_and_lie_two_floors_deep_at_most() {
    for folder in ["src", "tests", "benches", "python"] {
        for path in files(Path::new(folder), &["rs", "py", "pyi"]) {
            let lines = fs::read_to_string(home().join(&path)).unwrap().lines().count();
            // A stub mirrors one compiled module and cannot be parted.
            let stub = path.extension().is_some_and(|ending| ending == "pyi");
            assert!(stub || lines <= MOST_LINES, "{} has {lines} lines", path.display());
            let floors = path.components().count() - 1;
            assert!(floors <= MOST_FLOORS, "{} lies {floors} floors deep", path.display());
        }
    }
}

#[test]
fn every_file_opens_with_what_it_is_and_every_stage_with_in_and_out() {
    for source in sources() {
        let head: String = source.text.lines().take_while(|line| line.starts_with("//!")).collect();
        assert!(!head.is_empty(), "{} has no head", source.path.display());
        let is_stage =
            source.path.ends_with("mod.rs") && !["math", "bindings"].contains(&source.stage.as_str());
        let told = head.contains("In: ") && head.contains("Out: ");
        assert!(told || !is_stage, "the head of {} lacks In: or Out:", source.path.display());
    }
}

#[test]
fn every_root_name_is_shown_in_an_example_that_runs() {
    let mut shown = BTreeSet::new();
    for path in files(Path::new("src"), &["rs"]) {
        shown.extend(tokens(&examples(&fs::read_to_string(home().join(path)).unwrap())));
    }
    let unseen: Vec<_> = root_names().into_keys().filter(|name| !shown.contains(name)).collect();
    assert!(unseen.is_empty(), "no example shows {unseen:?}");
}

#[test]
fn a_circle_is_found_and_a_loose_end_is_none() {
    let of = |to: &[&str]| to.iter().map(|name| (*name).into()).collect::<BTreeSet<String>>();
    let ring =
        BTreeMap::from([("a".into(), of(&["b"])), ("b".into(), of(&["a", "c"])), ("c".into(), of(&["d"]))]);
    assert_eq!(circle(&ring), of(&["a", "b"]));
}

fn rank(stage: &str) -> Option<usize> {
    LAW.iter().position(|line| line.contains(&stage))
}

fn allowed(from: &str, to: &str, name: &str) -> bool {
    if from == to {
        return true;
    }
    match (from, to) {
        ("simulate", _) => SIMULATE_MAY_IMPORT.contains(&to) || SIMULATE_MAY_NAME.contains(&name),
        (_, "simulate") => MAY_IMPORT_SIMULATE.contains(&from),
        _ => rank(from).zip(rank(to)).is_some_and(|(from, to)| to < from),
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

/// Each name that a file takes from the crate's root, with the file.
fn outward(sources: &[Source]) -> Vec<(&Source, String)> {
    let of = |source: &Source| reaches(&source.tokens, floors(&source.path));
    let names = |source| {
        of(source).into_iter().filter(|(floor, _)| *floor == 0).map(move |(_, path)| path[0].clone())
    };
    sources.iter().flat_map(|source| names(source).map(move |name| (source, name))).collect()
}

/// What lib.rs gives out, and the stage that it takes it from.
fn root_names() -> BTreeMap<String, String> {
    uses(&tokens(&fs::read_to_string(home().join("src/lib.rs")).unwrap()))
}
