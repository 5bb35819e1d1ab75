//! In: the path or the bytes of a file, and the caller's options. Out: a [`Log`].
//!
//! The first bytes identify the kind of text: JSON begins with a bracket; everything else is read as columns.

use crate::error::{Error, Result};
use crate::log::json::MAX_DOCUMENT;
use crate::log::lines::{Lines, io, peek};
use crate::log::meta::Meta;
use crate::log::options::ReadOptions;
use crate::log::record::Log;
use crate::log::{decode, delimited, foreign, json};
use std::fs::File;
use std::io::{BufRead, BufReader, Cursor, Read, Seek};
use std::path::Path;

impl Log {
    /// Reads a log from a text file in UTF-8: columns separated by comma, semicolon, tab, bar or blanks, or JSON (one
    /// object per line, an array of objects, or an object of arrays).
    ///
    /// Separator and header are detected. Without a header the options give the columns by number. A comment line
    /// directly above the data counts as header if it has as many names as there are columns. A row of units below
    /// the header is recognised. A comma is a decimal comma if the file is consistent with it (`1,000` alone is
    /// ambiguous). Empty cells, `NaN`, `NA`, `null` and `none` are missing readings. Blank lines are ignored but
    /// counted in the row of an error. Stamps are numbers, or dates and times by ISO 8601; the first of those becomes
    /// `meta.started_at` and counts as 0 s.
    ///
    /// A text that does not follow these rules, of up to 16 MiB, is surveyed as a whole. The header may then stand
    /// below other lines; lines without a sample are skipped; a cell may have its unit, a stamp may be a clock such as
    /// `1:05.2`, and points or commas may separate thousands if the file shows it. UTF-16 and Latin-1 are read too.
    /// [`Log::notes`] lists what was skipped and concluded.
    ///
    /// Comment lines `# dose_g: 15` fill the field of [`Meta`] of that name (`# factors.day: 3`, `# time_unit: ms`
    /// and `# mass_unit: kg` too); `meta` and the options take precedence. The name of a brew defaults to that of its
    /// file.
    ///
    /// A line may have 1 MiB, a file 50 million rows and 4096 columns. Parquet and Arrow files are for the Python
    /// package.
    ///
    /// ```no_run
    /// use pourline::{Log, Meta, ReadOptions};
    /// let log = Log::read("brew.csv", &ReadOptions::default(), Meta::default())?;
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// - `io`: the file cannot be read, or is a directory or a device.
    /// - `format`: not a text, a line too long, a row with too few or too many fields, an open quote, broken JSON,
    ///   decimal points and commas mixed.
    /// - `column`: no column, or more than one, for a part; `argument`: a unit that is stated nowhere, or in two ways.
    /// - `not_a_number`: a cell that is no number, or a stamp that cannot be read.
    /// - Further as [`Log::with_missing`].
    pub fn read(path: impl AsRef<Path>, options: &ReadOptions, meta: Meta) -> Result<Self> {
        let path = path.as_ref();
        let label = path.display().to_string();
        let file = regular(path, &label)?;
        let mut log = read(BufReader::with_capacity(1 << 16, file), &label, options, meta)?;
        if log.meta.name.is_none() {
            log.meta.name = path.file_stem().map(|name| name.to_string_lossy().into_owned());
        }
        Ok(log)
    }

    /// Reads a log from the bytes of such a file.
    ///
    /// ```
    /// use pourline::{Log, Meta, ReadOptions};
    /// let text = "# dose_g: 15\ntime_s,water_g,cup_g\n0.0,0.0,0.0\n0.1,0.4,0.0\n0.2,1.1,0.1\n";
    /// let log = Log::read_bytes(text.as_bytes(), &ReadOptions::default(), Meta::default())?;
    /// assert_eq!(log.beverage_g(), Some(&[0.0, 0.0, 0.1][..]));
    /// assert_eq!(log.meta.dose_g, Some(15.0));
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// See [`Log::read`].
    pub fn read_bytes(bytes: &[u8], options: &ReadOptions, meta: Meta) -> Result<Self> {
        read(Cursor::new(bytes), "the bytes given", options, meta)
    }
}

/// The text of a small file that a person wrote, such as a plan: 16 MiB at most.
pub(crate) fn small_text(path: &Path) -> Result<String> {
    let label = path.display().to_string();
    let mut bytes = Vec::new();
    let file = regular(path, &label)?;
    file.take(MAX_DOCUMENT as u64 + 1).read_to_end(&mut bytes).map_err(|e| io(&label, &e))?;
    if bytes.len() > MAX_DOCUMENT {
        return Err(Error::Format { row: 0, message: format!("{label}: more than 16 MiB") });
    }
    String::from_utf8(bytes)
        .map_err(|_| Error::Format { row: 0, message: format!("{label}: this is not text in UTF-8") })
}

/// Opens a file that has an end: a device or a pipe may never come to one.
fn regular(path: &Path, label: &str) -> Result<File> {
    let found = path.metadata().map_err(|e| io(label, &e))?;
    if !found.is_file() {
        let message = if found.is_dir() {
            "this is a directory; pourline.read_many in Python reads all logs in it"
        } else {
            "this is not a regular file"
        };
        return Err(Error::Io { path: label.into(), message: message.into() });
    }
    File::open(path).map_err(|e| io(label, &e))
}

fn read<R: BufRead + Seek>(mut source: R, label: &str, options: &ReadOptions, meta: Meta) -> Result<Log> {
    let sample = peek(&mut source, label)?;
    if decode::is_utf16(sample) {
        let bytes = document(source, label)?
            .ok_or_else(|| format(label, "text in UTF-16 of more than 16 MiB: save it as UTF-8"))?;
        let text = decode::utf16(&bytes).ok_or_else(|| format(label, "this is no whole text in UTF-16"))?;
        return read(Cursor::new(text.as_bytes()), label, options, meta);
    }
    if let Some(message) = not_text(sample) {
        return Err(format(label, message));
    }
    if json::is_json(sample) {
        return json::read(source, label, options, meta);
    }
    let refused = match delimited::read(Lines::new(&mut source, label)?, options, meta.clone()) {
        Err(error) if foreign::may_help(&error) => error,
        settled => return settled,
    };
    // The text has more in it than comments, a header and plain numbers: it is surveyed as a whole.
    source.rewind().map_err(|e| io(label, &e))?;
    match document(source, label)? {
        Some(bytes) => foreign::read(&bytes, options, meta).map_err(|error| error.unwrap_or(refused)),
        None => Err(refused),
    }
}

/// All bytes of a source; None if they are more than 16 MiB.
fn document<R: Read>(source: R, label: &str) -> Result<Option<Vec<u8>>> {
    let mut bytes = Vec::new();
    source.take(MAX_DOCUMENT as u64 + 1).read_to_end(&mut bytes).map_err(|e| io(label, &e))?;
    Ok((bytes.len() <= MAX_DOCUMENT).then_some(bytes))
}

fn format(label: &str, message: &str) -> Error {
    Error::Format { row: 0, message: format!("{label}: {message}") }
}

/// A message for a source that is no text.
fn not_text(sample: &[u8]) -> Option<&'static str> {
    const TABLE: &str =
        "this is a Parquet or Arrow file: read it with pourline.read in Python, or save it as CSV";
    const PACKED: &str = "this file is packed: unpack it first";
    const BEGINNINGS: [(&[u8], &str); 9] = [
        (b"PAR1", TABLE),
        (b"ARROW1", TABLE),
        (b"FEA1", TABLE),
        (b"\xff\xff\xff\xff", TABLE),
        (b"\x1f\x8b", PACKED),
        (b"\x28\xb5\x2f\xfd", PACKED),
        (b"\xfd7zXZ", PACKED),
        (
            b"PK\x03\x04",
            "this is a zip archive or a spreadsheet: pourline.read in Python reads .xlsx; or save the sheet as CSV",
        ),
        (b"\xd0\xcf\x11\xe0", "this is a spreadsheet: save the sheet as CSV"),
    ];
    if let Some((_, message)) = BEGINNINGS.iter().find(|(beginning, _)| sample.starts_with(beginning)) {
        return Some(message);
    }
    let control = |b: &u8| *b < b' ' && !matches!(b, b'\t' | b'\n' | b'\r' | b'\x0c');
    sample
        .iter()
        .any(control)
        .then_some("this is a binary file, or text in UTF-16 without its mark: save the log as text in UTF-8")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_no_text_is_refused_as_a_whole_and_in_no_row() {
        let path = std::env::temp_dir().join(format!("pourline_no_text_{}", std::process::id()));
        std::fs::write(&path, b"name = \"\xff\"").unwrap();
        let found = small_text(&path);
        std::fs::remove_file(&path).unwrap();
        let Err(Error::Format { row: 0, message }) = found else { panic!("{found:?}") };
        assert!(message.ends_with("this is not text in UTF-8"), "{message}");
    }
}
