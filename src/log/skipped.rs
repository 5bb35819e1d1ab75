//! In: the lines of a file that hold no sample. Out: notes that list them.

use crate::log::units::cut;

/// Notes of one log; the last one counts the rest.
const MOST: usize = 20;

/// Lines without a sample, in runs.
#[derive(Debug, Default)]
pub(super) struct Skipped {
    runs: Vec<Run>,
    pub(super) count: usize,
}

#[derive(Debug)]
struct Run {
    first: usize,
    last: usize,
    text: String,
    why: &'static str,
}

impl Skipped {
    /// Adds a line by its number, from 1. It continues a run if nothing but blank lines lies between.
    pub(super) fn add(&mut self, line: usize, after: usize, text: &str, why: &'static str) {
        self.count += 1;
        match self.runs.last_mut() {
            Some(run) if run.last == after && run.why == why => run.last = line,
            _ => self.runs.push(Run { first: line, last: line, text: cut(text.trim()).into(), why }),
        }
    }

    /// One note per run.
    pub(super) fn notes(self) -> Vec<String> {
        let lines: usize = self.runs.iter().skip(MOST).count();
        let mut notes: Vec<String> = self.runs.into_iter().take(MOST).map(|run| run.note()).collect();
        if lines > 0 {
            notes.push(format!("{lines} further groups of lines hold no samples and were skipped"));
        }
        notes
    }
}

impl Run {
    fn note(self) -> String {
        let Self { first, last, text, why } = self;
        if first == last {
            format!("line {first} ({text:?}) {why} and was skipped")
        } else {
            format!("lines {first} to {last} (the first is {text:?}) hold no samples and were skipped")
        }
    }
}
