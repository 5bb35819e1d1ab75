//! In: JSON. Out: a [`Log`].
//!
//! Four forms: JSON Lines (one object per line, one key per column), an array of such objects, one object that holds
//! such an array, or one object with one array per column. Rows are lines, blank ones counted, or indices in the array,
//! from 1. A key that an object lacks is a missing reading. In the last two forms a text or number next to the samples
//! is metadata if its key is the name of a field, such as `"dose_g": 15`. The parser stops at 128 levels; a document that is not in lines may have
//! 16 MiB.

use crate::error::{Error, Result};
use crate::log::columns::{MAX_COLUMNS, choose};
use crate::log::item::Item;
use crate::log::lines::{Lines, io};
use crate::log::meta::Meta;
use crate::log::notes::Notes;
use crate::log::options::ReadOptions;
use crate::log::record::Log;
use crate::log::rows::Rows;
use std::borrow::Cow;
use std::collections::BTreeSet;
use std::io::{BufRead, Read, Seek};

/// A document that is not in lines is held in memory as a whole.
pub(super) const MAX_DOCUMENT: usize = 16 << 20;

type Object<'a> = Vec<(Cow<'a, str>, Item<'a>)>;

/// Whether the first byte of a source is a bracket of JSON.
pub(super) fn is_json(sample: &[u8]) -> bool {
    let text = sample.strip_prefix(b"\xef\xbb\xbf").unwrap_or(sample);
    matches!(text.trim_ascii_start().first(), Some(b'{' | b'['))
}

pub(super) fn read<R: BufRead + Seek>(
    mut source: R,
    label: &str,
    options: &ReadOptions,
    meta: Meta,
) -> Result<Log> {
    let mut lines = Lines::new(&mut source, label)?;
    let first_line = lines.peek()?.trim_ascii_start().split(|b| *b == b'\n').next().unwrap_or_default();
    // In lines if the first one is a whole object whose values are no columns.
    if let Ok(Item::Object(items)) = serde_json::from_slice(first_line)
        && !items.iter().any(|(_, item)| matches!(item, Item::List(_)))
    {
        let mut names = Names::default();
        by_line(&mut source, label, |_, object| names.add(object))?;
        source.rewind().map_err(|e| io(label, &e))?;
        let mut rows = Rows::new(choose(&names.names, options)?);
        by_line(&mut source, label, |row, object| push(&mut rows, &names, row, object))?;
        return rows.finish(options, meta);
    }
    let mut bytes = Vec::new();
    source.take(MAX_DOCUMENT as u64 + 1).read_to_end(&mut bytes).map_err(|e| io(label, &e))?;
    if bytes.len() > MAX_DOCUMENT {
        return Err(format(0, format!("{label}: JSON beyond 16 MiB must be in lines, one object each")));
    }
    document(&bytes, label, options, meta)
}

/// Passes each line on as an object, with its row.
fn by_line<R: BufRead>(
    source: R,
    label: &str,
    mut take: impl FnMut(usize, &Object) -> Result<()>,
) -> Result<()> {
    let mut lines = Lines::new(source, label)?;
    while lines.advance()? {
        let row = lines.number();
        if !lines.line().trim_ascii().is_empty() {
            take(row, parse(lines.line(), row)?.object(row)?)?;
        }
    }
    Ok(())
}

fn document(bytes: &[u8], label: &str, options: &ReadOptions, meta: Meta) -> Result<Log> {
    match parse(bytes, 0)? {
        Item::List(items) => listed(&items, label, options, meta),
        item => {
            let object = item.object(0)?;
            let Some(items) = samples(object) else { return columns(object, label, options, meta) };
            Names::default().add(object)?;
            let (options, meta) = notes(object)?.apply(options, meta)?;
            listed(items, label, &options, meta)
        }
    }
}

/// An array of objects, one per sample.
fn listed(items: &[Item], label: &str, options: &ReadOptions, meta: Meta) -> Result<Log> {
    if items.is_empty() {
        return Err(Error::Empty { what: label.into() });
    }
    let mut names = Names::default();
    for (i, item) in items.iter().enumerate() {
        names.add(item.object(i + 1)?)?;
    }
    let mut rows = Rows::new(choose(&names.names, options)?);
    for (i, item) in items.iter().enumerate() {
        push(&mut rows, &names, i + 1, item.object(i + 1)?)?;
    }
    rows.finish(options, meta)
}

/// The samples of an object that holds one array of objects.
fn samples<'a, 'b>(object: &'b Object<'a>) -> Option<&'b [Item<'a>]> {
    let mut arrays = object.iter().filter_map(|(_, item)| match item {
        Item::List(items) if matches!(items.first(), Some(Item::Object(_))) => Some(&items[..]),
        _ => None,
    });
    arrays.next().filter(|_| arrays.next().is_none())
}

/// The texts and numbers of an object as metadata.
fn notes(object: &Object) -> Result<Notes> {
    let mut notes = Notes::default();
    for (key, item) in object {
        match item {
            Item::Text(text) => notes.put(key, text)?,
            Item::Number(number) => notes.put(key, &number.to_string())?,
            _ => {}
        }
    }
    Ok(notes)
}

/// One object: arrays are columns, the rest is metadata.
fn columns(object: &Object, label: &str, options: &ReadOptions, meta: Meta) -> Result<Log> {
    Names::default().add(object)?;
    let (mut names, mut lists) = (Vec::new(), Vec::new());
    for (key, item) in object {
        if let Item::List(list) = item {
            names.push(key);
            lists.push(list);
        }
    }
    let chosen = choose(&names, options)?;
    let samples = lists[chosen.time.index].len();
    for pick in [&chosen.water, &chosen.beverage].into_iter().flatten() {
        let found = lists[pick.index].len();
        if found != samples {
            return Err(Error::UnequalLength { column: pick.name.clone(), found, expected: samples });
        }
    }
    if samples == 0 {
        return Err(Error::Empty { what: label.into() });
    }
    let mut rows = Rows::new(chosen);
    for row in 1..=samples {
        rows.push(row, |column| lists[column][row - 1].cell())?;
    }
    let (options, meta) = notes(object)?.apply(options, meta)?;
    rows.finish(&options, meta)
}

/// The keys of all objects, in the order in which they appear.
#[derive(Default)]
struct Names {
    names: Vec<String>,
    known: BTreeSet<String>,
}

impl Names {
    fn add(&mut self, object: &Object) -> Result<()> {
        let mut here = BTreeSet::new();
        for (key, _) in object {
            if !here.insert(key) {
                return Err(Error::Column { message: format!("the key {key:?} is twice in one object") });
            }
            if !self.known.contains(key.as_ref()) {
                self.known.insert(key.to_string());
                self.names.push(key.to_string());
            }
            if self.names.len() > MAX_COLUMNS {
                let message =
                    format!("more than {MAX_COLUMNS} keys, but a log has a time and one or two weights");
                return Err(Error::Column { message });
            }
        }
        Ok(())
    }
}

fn push(rows: &mut Rows, names: &Names, row: usize, object: &Object) -> Result<()> {
    rows.push(row, |column| {
        let item = object.iter().find(|(key, _)| *key == names.names[column]);
        item.map_or(crate::log::rows::Cell::Missing, |(_, item)| item.cell())
    })
}

fn parse(bytes: &[u8], row: usize) -> Result<Item<'_>> {
    serde_json::from_slice(bytes).map_err(|e| {
        let text = e.to_string();
        // Within a line, the parser's own "line 1" is wrong.
        let text = if row == 0 { &text } else { text.split(" at line ").next().unwrap_or(&text) };
        format(row, format!("this is not JSON: {text}"))
    })
}

fn format(row: usize, message: String) -> Error {
    Error::Format { row, message }
}
