//! In: lines whose fields are separated by a comma, semicolon, tab, bar or blanks. Out: a [`Log`].
//!
//! Rows are lines, counted from 1 after the header. Ignored lines (blank, without content, comments) count, so that a
//! row can be found in an editor.

use crate::error::{Error, Result};
use crate::log::columns::{Chosen, Pick, choose};
use crate::log::decode;
use crate::log::fields::{Separator, is_reading, sniff, split};
use crate::log::lines::Lines;
use crate::log::meta::Meta;
use crate::log::notes::Notes;
use crate::log::options::ReadOptions;
use crate::log::plain::Plain;
use crate::log::record::Log;
use crate::log::rows::{Cell, Rows};
use crate::log::units::{MassUnit, TimeUnit, Unit};
use std::io::BufRead;
use std::ops::Range;

/// Lines that one record may span by a quoted field.
const MAX_RECORD_LINES: usize = 100;
/// Lines that are used to find the separator.
const SNIFFED_LINES: usize = 50;

/// The records of a source, without comments and empty ones.
struct Records<R> {
    lines: Lines<R>,
    separator: Separator,
    fields: Vec<Range<usize>>,
    notes: Notes,
    last_comment: Vec<u8>,
}

pub(super) fn read<R: BufRead>(lines: Lines<R>, options: &ReadOptions, meta: Meta) -> Result<Log> {
    let mut records = Records::new(lines)?;
    let empty = Error::Empty { what: records.lines.label().into() };
    let Some(first) = records.next()? else { return Err(empty) };
    let is_header = records.is_header(options);
    let names = if is_header {
        records.names(records.lines.line(), &records.fields)
    } else {
        records.commented_names()
    };
    let width = names.len();

    let mut rows = Rows::new(choose(&names, options)?);
    let before_data = if is_header { records.lines.number() } else { first - 1 };
    let mut pending = if is_header { None } else { Some(first) };
    let mut may_be_units = is_header;
    let plain = records.plain(width, rows.chosen());
    while let Some(at) = pending.take().map_or_else(|| records.next(), |at| Ok(Some(at)))? {
        let row = at - before_data;
        if std::mem::take(&mut may_be_units) && records.is_units(rows.chosen())? {
            continue;
        }
        records.fit(row, width, rows.chosen())?;
        rows.push(row, |i| Cell::Text(records.field(i)))?;
        if let Some(plain) = &plain {
            records.lines.take_while(|text, line| {
                let (numbers, length) = plain.line(text, rows.takes_plain()?)?;
                rows.push_plain(line - before_data, numbers);
                Some(length)
            })?;
        }
    }
    if rows.is_empty() {
        return Err(empty);
    }
    let (options, meta) = records.notes.apply(options, meta)?;
    rows.finish(&options, meta)
}

impl<R: BufRead> Records<R> {
    fn new(mut lines: Lines<R>) -> Result<Self> {
        let end = lines.end();
        let sample = lines.peek()?;
        let mut seen: Vec<&[u8]> =
            sample.split(|b| *b == end).map(|l| l.strip_suffix(b"\r").unwrap_or(l)).collect();
        // The last line may be incomplete.
        if seen.len() > 2 {
            seen.pop();
        }
        seen.retain(|l| !l.trim_ascii().is_empty() && !is_comment(l));
        seen.truncate(SNIFFED_LINES);
        let separator = sniff(&seen);
        let notes = Notes::default();
        Ok(Self { lines, separator, fields: Vec::new(), notes, last_comment: Vec::new() })
    }

    /// Finds the next record and gives the number of the line on which it begins.
    fn next(&mut self) -> Result<Option<usize>> {
        while self.lines.advance()? {
            if is_comment(self.lines.line()) {
                let line = self.lines.line().trim_ascii_start();
                self.last_comment = line[1..].to_vec();
                self.notes.comment(&line[1..])?;
                continue;
            }
            let at = self.lines.number();
            while !split(self.lines.line(), self.separator, &mut self.fields) {
                if self.lines.number() - at == MAX_RECORD_LINES || !self.lines.extend()? {
                    return Err(self.error(at, "opens a quote that is not closed"));
                }
            }
            if self.fields.iter().any(|f| !self.lines.line()[f.clone()].trim_ascii().is_empty()) {
                return Ok(Some(at));
            }
        }
        Ok(None)
    }

    /// The fast path for plain lines, if the source allows it.
    fn plain(&self, width: usize, chosen: &Chosen) -> Option<Plain> {
        match self.separator {
            Separator::Byte(separator) if self.lines.end() == b'\n' => {
                Some(Plain::new(separator, width, chosen))
            }
            _ => None,
        }
    }

    fn error(&self, line: usize, what: &str) -> Error {
        Error::Format { row: 0, message: format!("{}: line {line} {what}", self.lines.label()) }
    }

    fn field(&self, index: usize) -> &[u8] {
        self.fields.get(index).map_or(&[], |f| &self.lines.line()[f.clone()])
    }

    /// Whether this first record names the columns: some cell cannot be data. If all columns are given by number,
    /// only their cells count, so that a row with a remark is not lost as a header.
    fn is_header(&self, options: &ReadOptions) -> bool {
        let wanted = [&options.time, &options.water, &options.beverage].into_iter().flatten();
        let numbers: Option<Vec<usize>> = wanted.map(|w| w.parse().ok()).collect();
        match numbers {
            Some(numbers) if options.time.is_some() && numbers.len() > 1 => {
                numbers.iter().any(|n| !is_reading(self.field(n.wrapping_sub(1))))
            }
            _ => (0..self.fields.len()).any(|i| !is_reading(self.field(i))),
        }
    }

    fn names(&self, line: &[u8], fields: &[Range<usize>]) -> Vec<String> {
        let name = |f: &Range<usize>| decode::text(&line[f.clone()]).0.replace("\"\"", "\"");
        fields.iter().map(name).collect()
    }

    /// The names in the last comment above the data, if it has as many as there are columns: some loggers write the
    /// header so.
    fn commented_names(&self) -> Vec<String> {
        let mut fields = Vec::new();
        let line = self.last_comment.trim_ascii();
        split(line, self.separator, &mut fields);
        let is_note = line.iter().any(|b| matches!(b, b':' | b'='));
        if fields.len() == self.fields.len() && !is_note {
            self.names(line, &fields)
        } else {
            vec![String::new(); self.fields.len()]
        }
    }

    /// Whether this record, the first below the header, states the units of the columns; if so, they are adopted.
    fn is_units(&self, chosen: &mut Chosen) -> Result<bool> {
        let time: Option<TimeUnit> = word(self.field(chosen.time.index));
        let water: Option<MassUnit> = chosen.water.as_ref().and_then(|p| word(self.field(p.index)));
        let beverage: Option<MassUnit> = chosen.beverage.as_ref().and_then(|p| word(self.field(p.index)));
        let unit_or_nothing = |known: bool, index: usize| known || self.field(index).trim_ascii().is_empty();
        let fits = |known: bool, p: &Option<Pick<MassUnit>>| {
            p.as_ref().is_none_or(|p| unit_or_nothing(known, p.index))
        };
        if !(unit_or_nothing(time.is_some(), chosen.time.index)
            && fits(water.is_some(), &chosen.water)
            && fits(beverage.is_some(), &chosen.beverage)
            && (time.is_some() || water.is_some() || beverage.is_some()))
        {
            return Ok(false);
        }
        adopt_unit(&mut chosen.time, time)?;
        for (pick, unit) in [(&mut chosen.water, water), (&mut chosen.beverage, beverage)] {
            if let Some(pick) = pick {
                adopt_unit(pick, unit)?;
            }
        }
        Ok(true)
    }

    /// A record that is too short for a chosen column, or has content beyond the header, is truncated or split.
    fn fit(&self, row: usize, width: usize, chosen: &Chosen) -> Result<()> {
        let mass = |p: &Option<Pick<MassUnit>>| p.as_ref().map_or(0, |p| p.index);
        let needed = 1 + chosen.time.index.max(mass(&chosen.water)).max(mass(&chosen.beverage));
        let found = self.fields.len();
        let excess = (width..found).any(|i| !self.field(i).trim_ascii().is_empty());
        if found >= needed && !excess {
            return Ok(());
        }
        let hint = match self.separator {
            Separator::Byte(b',') if excess => {
                "; a decimal comma needs semicolons or tabs between the columns"
            }
            Separator::Blanks => "; an empty cell needs another separator than blanks",
            _ => "",
        };
        let message = format!("{found} fields, but the first line has {width}{hint}");
        Err(Error::Format { row, message })
    }
}

fn is_comment(line: &[u8]) -> bool {
    line.trim_ascii_start().starts_with(b"#")
}

/// The unit in a cell such as `g` or `[ms]`.
fn word<U: Unit>(cell: &[u8]) -> Option<U> {
    let text = std::str::from_utf8(cell).ok()?;
    U::from_word(&text.trim_matches(|c: char| c.is_whitespace() || "()[]".contains(c)).to_lowercase())
}

fn adopt_unit<U: Unit>(pick: &mut Pick<U>, unit: Option<U>) -> Result<()> {
    if let Some(unit) = unit {
        pick.unit = Some(crate::log::columns::settle(Some(unit), pick)?);
    }
    Ok(())
}
