//! In: the lines of a text that has more in it than comments, a header and samples. Out: its separator, the line of the
//! header, and the columns.
//!
//! A line of samples has at least two cells that are readings: numbers, perhaps with a unit, or stamps. The separator is
//! the one under which most lines are such, with one number of fields. The header is the first line above samples
//! whose names settle all parts.

use crate::error::Error;
use crate::log::columns::{Chosen, choose, lacking};
use crate::log::day_clock::DayClock;
use crate::log::fields::{SEPARATORS, Separator, split};
use crate::log::guess;
use crate::log::options::ReadOptions;
use crate::log::quantity::{Decimal, Quantity};
use crate::log::roles::TIME;
use crate::log::stamps::Clock;
use crate::log::units::TimeUnit;
use crate::log::words;
use std::ops::Range;

/// Lines that are used to find separator, header and equal columns.
const SURVEYED_LINES: usize = 2000;
/// A header stands among the first lines.
const HEADER_LINES: usize = 200;
/// Lines between a header and the first sample: units, a rule.
const BELOW_HEADER: usize = 3;
/// Lines that one record may span by a quoted field.
const MAX_RECORD_LINES: usize = 100;
/// Fewer are no log, and no evidence for anything.
const MIN_SAMPLES: usize = 3;

/// A line with its number from 1.
pub(super) type Line<'a> = (usize, &'a str);

/// How a text is laid out.
#[derive(Debug)]
pub(super) struct Survey {
    pub(super) separator: Separator,
    /// The number of the line of the header; 0 if there is none.
    pub(super) header: usize,
    pub(super) chosen: Chosen,
    /// Number of fields of most samples.
    pub(super) width: usize,
    /// What was concluded.
    pub(super) notes: Vec<String>,
}

/// The lines of a text, without blank ones. A quoted field may hold the end of a line.
pub(super) fn lines(text: &str) -> Vec<Line<'_>> {
    let (mut lines, mut number, mut rest) = (Vec::new(), 1, text);
    while !rest.is_empty() {
        let (mut length, mut spanned, mut quotes) = (0, 0, 0);
        loop {
            let to = rest[length..].find('\n').map_or(rest.len(), |at| length + at + 1);
            quotes += rest[length..to].bytes().filter(|b| *b == b'"').count();
            (length, spanned) = (to, spanned + 1);
            if quotes % 2 == 0 || spanned == MAX_RECORD_LINES || length == rest.len() {
                break;
            }
        }
        let line = rest[..length].trim_end_matches('\n');
        if !line.trim().is_empty() {
            lines.push((number, line));
        }
        (number, rest) = (number + spanned, &rest[length..]);
    }
    lines
}

/// The cells of a line, without quotes and blanks around them.
pub(super) fn cells<'a>(line: &'a str, separator: Separator, fields: &mut Vec<Range<usize>>) -> Vec<&'a str> {
    split(line.as_bytes(), separator, fields);
    fields.iter().map(|field| cell(line.get(field.clone()).unwrap_or_default())).collect()
}

/// A cell without blanks around it, and without the apostrophe by which a spreadsheet marks a number as text.
fn cell(text: &str) -> &str {
    let text = text.trim();
    text.strip_prefix('\'')
        .filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit() || c == '-'))
        .unwrap_or(text)
}

pub(super) fn is_comment(line: &str) -> bool {
    line.trim_start().starts_with(['#', '%'])
}

/// Whether a line is a comment that names no columns.
fn is_note(line: &str) -> bool {
    is_comment(line) && line.contains([':', '='])
}

/// Whether a cell is a stamp of any kind, or a number.
pub(super) fn is_reading(cell: &str) -> bool {
    let begins = cell.starts_with(|c: char| c.is_ascii_digit() || "+-.\u{2212}".contains(c));
    begins
        && (Quantity::parse(cell).is_some()
            || DayClock::start(cell).is_some()
            || Clock::start(cell).is_some())
}

/// Surveys a text. None as error: there is no evidence for any other layout than the one that was refused.
pub(super) fn survey(lines: &[Line], options: &ReadOptions) -> Result<Survey, Option<Error>> {
    let seen = &lines[..lines.len().min(SURVEYED_LINES)];
    let (separator, width) = stated(seen).or_else(|| sniff(seen)).ok_or(None)?;
    let mut fields = Vec::new();
    let table: Vec<(usize, Vec<&str>, bool)> = seen
        .iter()
        .filter(|(_, line)| !is_note(line))
        .map(|&(number, line)| {
            let cells = cells(line.trim_start_matches(['#', '%', ' ']), separator, &mut fields);
            let readings = cells.iter().filter(|cell| is_reading(cell)).count();
            (number, cells, readings >= 2 && !is_comment(line))
        })
        .collect();
    let samples: Vec<&[&str]> = table
        .iter()
        .filter(|(_, cells, is_sample)| *is_sample && cells.len() == width)
        .map(|(_, cells, _)| &cells[..])
        .collect();
    if samples.len() < MIN_SAMPLES {
        return Err(None);
    }
    let found = |header, chosen, notes| Survey { separator, header, chosen, width, notes };
    let candidates = || {
        let above = |i: &usize| {
            let below = &table[i + 1..table.len().min(i + 1 + BELOW_HEADER)];
            table[*i].1.len() > 1 && !table[*i].2 && below.iter().any(|(_, _, is_sample)| *is_sample)
        };
        (0..table.len().min(HEADER_LINES)).filter(above).map(|i| (table[i].0, &table[i].1))
    };
    for (header, names) in candidates() {
        if let Ok(chosen) = choose(&names_of(names), options) {
            return Ok(found(header, chosen, Vec::new()));
        }
    }
    let twins = twins(&samples, width);
    for (header, names) in candidates().filter(|_| !twins.is_empty()) {
        let (mut names, mut notes) = (names_of(names), Vec::new());
        for &(first, second) in &twins {
            if second < names.len() {
                let both = (&names[first], &names[second]);
                notes.push(format!("columns {:?} and {:?} are equal, so the first was read", both.0, both.1));
                names[second].clear();
            }
        }
        if let Ok(chosen) = choose(&names, options) {
            return Ok(found(header, chosen, notes));
        }
    }
    let nearest = candidates().next_back().map(|(_, names)| names_of(names));
    let names = nearest.unwrap_or_else(|| vec![String::new(); width]);
    match choose(&names, options) {
        Ok(chosen) => Ok(found(0, chosen, Vec::new())),
        Err(error) => Err(Some(guessed(error, &names, options, &samples, width))),
    }
}

fn names_of(cells: &[&str]) -> Vec<String> {
    cells.iter().map(|cell| cell.replace("\"\"", "\"")).collect()
}

/// The separator of a first line `sep=;`, with the number of fields of most samples.
fn stated(lines: &[Line]) -> Option<(Separator, usize)> {
    let (_, first) = lines.first()?;
    let sign = first.trim().to_lowercase().strip_prefix("sep=")?.bytes().next()?;
    let separator = SEPARATORS.into_iter().find(|separator| *separator == Separator::Byte(sign))?;
    Some((separator, score(lines, separator)?.1))
}

fn sniff(lines: &[Line]) -> Option<(Separator, usize)> {
    let mut best: Option<(Separator, usize, f64)> = None;
    for separator in SEPARATORS {
        if let Some((score, width)) = score(lines, separator)
            && best.is_none_or(|(_, _, highest)| score > highest)
        {
            best = Some((separator, width, score));
        }
    }
    best.map(|(separator, width, _)| (separator, width))
}

/// How many lines are samples under a separator, each by the share of its cells that are readings, and their number of
/// fields.
fn score(lines: &[Line], separator: Separator) -> Option<(f64, usize)> {
    let (mut fields, mut by_width) = (Vec::new(), std::collections::BTreeMap::new());
    for (_, line) in lines.iter().filter(|(_, line)| !is_comment(line)) {
        let cells = cells(line, separator, &mut fields);
        let full = cells.iter().filter(|cell| !cell.is_empty()).count();
        let readings = cells.iter().filter(|cell| is_reading(cell)).count();
        if readings >= 2 {
            *by_width.entry(cells.len()).or_insert(0.0) += readings as f64 / full as f64;
        }
    }
    by_width.into_iter().map(|(width, score)| (score, width)).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Pairs of columns of readings with the same cells in all samples.
fn twins(samples: &[&[&str]], width: usize) -> Vec<(usize, usize)> {
    let same = |a: usize, b: usize| samples.iter().all(|cells| cells[a] == cells[b] && is_reading(cells[a]));
    let first = |b: usize| (0..b).find(|a| same(*a, b)).map(|a| (a, b));
    (1..width.min(MOST_COMPARED)).filter_map(first).collect()
}

/// A table with more columns is not compared pair by pair.
const MOST_COMPARED: usize = 32;

/// The error, with what the columns could be.
fn guessed(
    error: Error,
    names: &[String],
    options: &ReadOptions,
    samples: &[&[&str]],
    width: usize,
) -> Error {
    let missing = lacking(names, options);
    let Error::Column { message } = error else { return error };
    let is_time = |index: &usize| {
        let name = names.get(*index).map(String::as_str).unwrap_or_default();
        let by_name = TIME.fits::<TimeUnit>(&words::meaning(name));
        options.time.as_ref().map_or(by_name, |time| time == name || *time == (index + 1).to_string())
    };
    let columns: Vec<(usize, Vec<f64>)> = (0..width.min(MOST_COMPARED))
        .filter(|index| missing.0 || !is_time(index))
        .filter_map(|index| Some((index, column(samples, index)?)))
        .collect();
    match guess::parts(&columns, missing).filter(|_| missing.0 || missing.1) {
        Some(guess) => Error::Column { message: format!("{message}; {guess}") },
        None => Error::Column { message },
    }
}

fn column(samples: &[&[&str]], index: usize) -> Option<Vec<f64>> {
    let value = |cell: &str| {
        let quantity = Quantity::parse(cell);
        quantity.and_then(|q| q.value(Decimal::Point).or_else(|| q.value(Decimal::Comma)))
    };
    samples.iter().map(|cells| value(cells[index])).collect()
}
