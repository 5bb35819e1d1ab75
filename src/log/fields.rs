//! In: lines of text. Out: the separator of their fields, and the range of each field.
//!
//! A field may stand in double quotes, with a doubled quote inside for one, as RFC 4180 has it.

use crate::log::numbers::is_number_or_missing;
use crate::log::stamps::Clock;
use std::ops::Range;

/// Separator between two fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Separator {
    Byte(u8),
    /// Any run of blanks and tabs.
    Blanks,
}

/// In order of precedence among equals: a comma may also be a decimal sign, a blank also occurs in dates and names.
pub(super) const SEPARATORS: [Separator; 5] = [
    Separator::Byte(b'\t'),
    Separator::Byte(b';'),
    Separator::Byte(b'|'),
    Separator::Byte(b','),
    Separator::Blanks,
];

/// The separator under which most lines have as many fields as the first, at least two, and then the one that leaves
/// most cells readable. A comma if none separates anything.
pub(super) fn sniff(lines: &[&[u8]]) -> Separator {
    let mut best = (Separator::Byte(b','), (0, 0.0));
    let mut fields = Vec::new();
    for separator in SEPARATORS {
        let Some((first, rest)) = lines.split_first() else { break };
        split(first, separator, &mut fields);
        let width = fields.len();
        if width < 2 {
            continue;
        }
        let (mut alike, mut readable, mut cells) = (1, 0, 1);
        for line in rest {
            split(line, separator, &mut fields);
            alike += usize::from(fields.len() == width);
            cells += fields.len();
            readable += fields.iter().filter(|f| is_reading(&line[(*f).clone()])).count();
        }
        let score = (alike, readable as f64 / cells as f64);
        if score > best.1 {
            best = (separator, score);
        }
    }
    best.0
}

/// Whether a cell can be data.
pub(super) fn is_reading(cell: &[u8]) -> bool {
    is_number_or_missing(cell) || std::str::from_utf8(cell).is_ok_and(|text| Clock::start(text).is_some())
}

/// Finds the fields of a line. False if a quote is still open at its end.
pub(super) fn split(line: &[u8], separator: Separator, fields: &mut Vec<Range<usize>>) -> bool {
    fields.clear();
    let is_separator = |b: u8| match separator {
        Separator::Byte(s) => b == s,
        Separator::Blanks => b == b' ' || b == b'\t',
    };
    let mut at = 0;
    loop {
        if separator == Separator::Blanks {
            at += line[at..].iter().take_while(|b| is_separator(**b)).count();
            if at == line.len() {
                return true;
            }
        }
        let to_separator =
            |from: usize| line[from..].iter().position(|b| is_separator(*b)).map_or(line.len(), |n| from + n);
        let end = if line.get(at) == Some(&b'"') {
            let Some(close) = closing_quote(line, at + 1) else {
                fields.push(at + 1..line.len());
                return false;
            };
            let end = to_separator(close + 1);
            // Text after a closing quote is no part of a quoted field: the cell remains as it is, and is no number.
            let clean = line[close + 1..end].trim_ascii().is_empty();
            fields.push(if clean { at + 1..close } else { at..end });
            end
        } else {
            let end = to_separator(at);
            let in_brackets = separator == Separator::Blanks && matches!(line[at], b'(' | b'[');
            match fields.last_mut() {
                // `time (s)` is one name.
                Some(name) if in_brackets => name.end = end,
                _ => fields.push(at..end),
            }
            end
        };
        if end == line.len() {
            return true;
        }
        at = end + 1;
    }
}

fn closing_quote(line: &[u8], mut from: usize) -> Option<usize> {
    loop {
        let quote = from + line[from..].iter().position(|b| *b == b'"')?;
        if line.get(quote + 1) != Some(&b'"') {
            return Some(quote);
        }
        from = quote + 2;
    }
}
