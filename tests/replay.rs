//! Seeds and former findings of the fuzzer are read and analysed again, within its bounds of time and memory
//! (`fuzz/targets.rs`).

#[path = "fuzz/targets.rs"]
mod targets;

use std::fs;
use std::path::Path;
use std::sync::Mutex;

/// Memory is counted for the whole process.
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

/// Each input of a target. A panic names the file, whose bytes are what breaks the bound.
#[track_caller]
fn replay(target: &str, fewest: usize, run: fn(&[u8])) {
    let _alone = ONE_AT_A_TIME.lock().unwrap_or_else(|broken| broken.into_inner());
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let listed = fs::read_dir(&folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let mut paths: Vec<_> = listed.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    assert!(paths.len() >= fewest, "{} holds {} inputs", folder.display(), paths.len());
    for path in paths {
        let data = fs::read(&path).unwrap();
        if let Err(broken) = std::panic::catch_unwind(|| run(&data)) {
            eprintln!("{} breaks a bound", path.display());
            std::panic::resume_unwind(broken);
        }
    }
}

#[test]
fn any_text_is_read_or_refused_within_its_bounds() {
    replay("text", 12, targets::text);
}

#[test]
fn any_json_is_read_or_refused_within_its_bounds() {
    replay("json", 7, targets::json);
}

#[test]
fn any_plan_is_read_or_refused_within_its_bounds() {
    replay("plan", 6, targets::plan);
}

#[test]
fn any_labels_are_read_or_refused_within_their_bounds() {
    replay("labels", 6, targets::labels);
}

#[test]
fn any_kept_brew_serves_or_is_refused_within_its_bounds() {
    replay("brew", 5, targets::brew);
}

#[test]
fn any_samples_are_analysed_or_refused_within_their_bounds() {
    replay("analyze", 15, targets::analyze);
}

#[test]
fn any_samples_one_by_one_are_followed_or_refused_within_their_bounds() {
    replay("live", 12, targets::live);
}
