//! In: a source of bytes. Out: its lines one at a time, none longer than 1 MiB, so that a source without line ends
//! cannot fill the memory. Line ends are LF, CR LF or CR; a UTF-8 byte order mark is skipped.

use crate::error::{Error, Result};
use std::io::{BufRead, Read};

/// The longest line, and the longest record over several lines.
pub(super) const MAX_LINE: usize = 1 << 20;

pub(super) struct Lines<R> {
    source: R,
    /// Name of the source in messages.
    label: String,
    end: u8,
    buffer: Vec<u8>,
    number: usize,
}

/// The bytes that are buffered before anything is read.
pub(super) fn peek<'a>(source: &'a mut impl BufRead, label: &str) -> Result<&'a [u8]> {
    const SAMPLE: usize = 1 << 16;
    let buffered = source.fill_buf().map_err(|e| io(label, &e))?;
    Ok(&buffered[..buffered.len().min(SAMPLE)])
}

pub(super) fn io(label: &str, error: &std::io::Error) -> Error {
    Error::Io { path: label.into(), message: error.to_string() }
}

impl<R: BufRead> Lines<R> {
    pub(super) fn new(mut source: R, label: &str) -> Result<Self> {
        if peek(&mut source, label)?.starts_with(b"\xef\xbb\xbf") {
            source.consume(3);
        }
        let sample = peek(&mut source, label)?;
        let end = if sample.contains(&b'\r') && !sample.contains(&b'\n') { b'\r' } else { b'\n' };
        Ok(Self { source, label: label.into(), end, buffer: Vec::new(), number: 0 })
    }

    /// Name of the source in messages.
    pub(super) fn label(&self) -> &str {
        &self.label
    }

    /// The byte that ends a line.
    pub(super) fn end(&self) -> u8 {
        self.end
    }

    /// The buffered part of the next lines.
    pub(super) fn peek(&mut self) -> Result<&[u8]> {
        peek(&mut self.source, &self.label)
    }

    /// Number of the last line read, from 1.
    pub(super) fn number(&self) -> usize {
        self.number
    }

    /// The last line read, without its end.
    pub(super) fn line(&self) -> &[u8] {
        &self.buffer
    }

    /// Passes buffered lines to `each` until it returns None. `each` gets the buffer from a line on and the number of
    /// that line. It returns the length of the line with its end; None leaves the line to be read as usual.
    pub(super) fn take_while(&mut self, mut each: impl FnMut(&[u8], usize) -> Option<usize>) -> Result<()> {
        let buffered = self.source.fill_buf().map_err(|e| io(&self.label, &e))?;
        // A line that does not end within the limit is left to the ordinary reader, which checks its length.
        let buffered = &buffered[..buffered.len().min(MAX_LINE)];
        let mut at = 0;
        while let Some(length) = each(&buffered[at..], self.number + 1) {
            at += length;
            self.number += 1;
        }
        self.source.consume(at);
        Ok(())
    }

    /// Reads the next line; false at the end of the source.
    pub(super) fn advance(&mut self) -> Result<bool> {
        self.buffer.clear();
        self.read()
    }

    /// Adds the next line to the last one, for a quoted field over several lines; false at the end of the source.
    pub(super) fn extend(&mut self) -> Result<bool> {
        self.buffer.push(b'\n');
        self.read()
    }

    fn read(&mut self) -> Result<bool> {
        let before = self.buffer.len();
        // Two bytes more than the longest line, for its end.
        let room = (MAX_LINE + 2).saturating_sub(before) as u64;
        let mut source = self.source.by_ref().take(room);
        let read = source.read_until(self.end, &mut self.buffer).map_err(|e| io(&self.label, &e))?;
        if read == 0 && room > 0 {
            return Ok(false);
        }
        self.number += 1;
        for end in [self.end, b'\r'] {
            if self.buffer.len() > before && self.buffer.last() == Some(&end) {
                self.buffer.pop();
            }
        }
        if self.buffer.len() > MAX_LINE {
            return Err(self.too_long());
        }
        if self.buffer[before..].contains(&0) {
            return Err(self.error("holds a NUL byte, so this is not a text file or it is damaged"));
        }
        Ok(true)
    }

    fn too_long(&self) -> Error {
        let columns = |d: &u8| 1 + self.buffer.iter().filter(|b| *b == d).count();
        let columns = b",;\t|".iter().map(columns).max().unwrap_or(1);
        if columns > crate::log::columns::MAX_COLUMNS {
            let message = format!(
                "line {} has {columns} columns in its first 1 MiB, but a log has a time and one or two weights",
                self.number
            );
            return Error::Column { message };
        }
        self.error("is longer than 1 MiB")
    }

    fn error(&self, what: &str) -> Error {
        Error::Format { row: 0, message: format!("{}: line {} {what}", self.label, self.number) }
    }
}

#[cfg(test)]
mod tests {
    use super::{Lines, MAX_LINE};
    use std::io::{BufReader, Read};

    #[test]
    fn a_line_of_2_gb_is_given_up_after_its_first_mebibyte() {
        let endless = std::io::repeat(b'7').take(2_000_000_000);
        let mut lines = Lines::new(BufReader::new(endless), "a line").unwrap();
        let error = lines.advance().unwrap_err();
        assert_eq!(error.kind(), "format");
        assert_eq!(error.to_string(), "a line: line 1 is longer than 1 MiB");
        assert!(lines.buffer.capacity() <= 2 * (MAX_LINE + 2), "{}", lines.buffer.capacity());
    }

    #[test]
    fn a_line_of_just_1_mib_is_read_whatever_its_end() {
        for end in ["\n", "\r\n", "\r", ""] {
            let text = format!("{}{end}", "7".repeat(MAX_LINE));
            let mut lines = Lines::new(text.as_bytes(), "a line").unwrap();
            assert!(lines.advance().unwrap());
            assert_eq!(lines.line().len(), MAX_LINE);
            assert!(!lines.advance().unwrap());
        }
    }
}
