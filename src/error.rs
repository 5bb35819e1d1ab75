//! Errors: one enum whose variants hold the numbers that broke the rule.

use std::fmt::{self, Write as _};

/// The library's result.
///
/// ```
/// use pourline::{Log, Meta, Result};
/// let nothing_weighed: Result<Log> = Log::new(vec![0.0, 0.1], None, None, Meta::default());
/// assert_eq!(nothing_weighed.unwrap_err().kind(), "column");
/// ```
pub type Result<T> = std::result::Result<T, Error>;

/// Every failure of a call. [`Error::kind`] gives a short stable word for each.
///
/// Rows are counted from 1 in the data (a header is not counted); for arrays the row is the index plus one.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Error {
    /// There are no samples.
    Empty {
        /// The empty input, such as a path or "time_s".
        what: String,
    },
    /// Too few samples.
    TooShort {
        /// Samples found.
        samples: usize,
        /// Samples needed.
        needed: usize,
    },
    /// Two columns of one log differ in length.
    UnequalLength {
        /// The column that differs.
        column: String,
        /// Its length.
        found: usize,
        /// The length of the time column.
        expected: usize,
    },
    /// A number that is NaN or infinite but must be finite.
    NotFinite {
        /// The column.
        column: String,
        /// Row, from 1.
        row: usize,
        /// The value found.
        value: f64,
    },
    /// A cell that is not a number, or a stamp that cannot be read.
    NotANumber {
        /// The column.
        column: String,
        /// Row, from 1.
        row: usize,
        /// The text found, cut at 80 characters.
        text: String,
    },
    /// The time column cannot order the samples: all equal, or running backwards throughout.
    Time {
        /// First row that breaks the rule, from 1.
        row: usize,
        /// The stamp there, in seconds.
        value_s: f64,
        /// The rule.
        rule: &'static str,
    },
    /// A value outside its valid range.
    OutOfRange {
        /// Name of the value, with its unit.
        name: String,
        /// The value given.
        value: f64,
        /// The rule it breaks.
        rule: String,
        /// Row of the value in a log, from 1; 0 for an option or a piece of metadata.
        row: usize,
    },
    /// A column is missing, duplicated or ambiguous.
    Column {
        /// The problem and the columns of the log.
        message: String,
    },
    /// An option or argument that does not exist or contradicts the others.
    Argument {
        /// Name of the option.
        name: String,
        /// The problem and the remedy.
        message: String,
    },
    /// The bytes are not in the stated format.
    Format {
        /// Row or line, from 1; 0 for the whole source.
        row: usize,
        /// The problem.
        message: String,
    },
    /// The source cannot be read.
    Io {
        /// The path.
        path: String,
        /// The message of the system.
        message: String,
    },
}

impl Error {
    /// A short stable word for the kind of failure, for programs.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Empty { .. } => "empty",
            Self::TooShort { .. } => "too_short",
            Self::UnequalLength { .. } => "unequal_length",
            Self::NotFinite { .. } => "not_finite",
            Self::NotANumber { .. } => "not_a_number",
            Self::Time { .. } => "time",
            Self::OutOfRange { .. } => "out_of_range",
            Self::Column { .. } => "column",
            Self::Argument { .. } => "argument",
            Self::Format { .. } => "format",
            Self::Io { .. } => "io",
        }
    }
}

impl Error {
    fn describe(&self, f: &mut impl fmt::Write) -> fmt::Result {
        match self {
            Self::Empty { what } => write!(f, "{what} holds no samples"),
            Self::TooShort { samples, needed } => {
                let s = if *samples == 1 { "" } else { "s" };
                write!(
                    f,
                    "{samples} sample{s}, and at least {needed} are needed: was the recording or the file cut off?"
                )
            }
            Self::UnequalLength { column, found, expected } => {
                write!(f, "column {column} has {found} values, but time has {expected}")
            }
            Self::NotFinite { column, row, value } if value.is_nan() => write!(
                f,
                "column {column}, row {row}: no reading (NaN or an empty cell); \
                 missing=\"flag\" lets a missing weight (never a stamp) through as a flagged gap"
            ),
            Self::NotFinite { column, row, value } => {
                write!(f, "column {column}, row {row}: {value} is not a finite number")
            }
            Self::NotANumber { column, row, text } => {
                write!(
                    f,
                    "column {column}, row {row}: {text:?} is not a number (nor a clock such as 1:30.5, nor a date and \
                     time such as 2041-05-04T09:30:00.5): correct the cell, or name another column"
                )
            }
            Self::Time { row, value_s, rule } => {
                write!(f, "time at row {row} is {value_s} s: {rule}")
            }
            Self::OutOfRange { name, value, rule, row: 0 } => {
                write!(f, "{name} is {value}: {rule}")
            }
            Self::OutOfRange { name, value, rule, row } => {
                write!(f, "{name}, row {row}, is {value}: {rule}")
            }
            Self::Column { message } => f.write_str(message),
            Self::Argument { name, message } => write!(f, "{name}: {message}"),
            Self::Format { row: 0, message } => f.write_str(message),
            Self::Format { row, message } => write!(f, "row {row}: {message}"),
            Self::Io { path, message } => write!(f, "{path}: {message}"),
        }
    }
}

/// Longest message, in characters.
const LONGEST: usize = 1500;

/// Names and cells come from untrusted files: characters that control a terminal or the direction of reading are
/// escaped, and long messages are cut.
impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.describe(&mut Shown { f, left: LONGEST })
    }
}

struct Shown<'a, 'b> {
    f: &'a mut fmt::Formatter<'b>,
    left: usize,
}

impl Shown<'_, '_> {
    fn put(&mut self, c: char) -> fmt::Result {
        match self.left {
            0 => return Ok(()),
            1 => self.f.write_str("...")?,
            _ => self.f.write_char(c)?,
        }
        self.left -= 1;
        Ok(())
    }
}

impl fmt::Write for Shown<'_, '_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        text.chars().try_for_each(|c| self.write_char(c))
    }

    fn write_char(&mut self, c: char) -> fmt::Result {
        if steers(c) { c.escape_unicode().try_for_each(|c| self.put(c)) } else { self.put(c) }
    }
}

/// Controls, marks of the direction of reading, separators of lines and paragraphs: the same as in `_escape.py` for
/// pages.
fn steers(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

impl std::error::Error for Error {}
