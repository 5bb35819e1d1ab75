//! In: the text of one cell. Out: its number, NaN for an empty cell, or an error that names row, column and text.
//!
//! Numbers are read by the standard library, correctly rounded. A comma is a decimal comma if the whole source is
//! consistent with it: no number has a decimal point, and not all commas could separate thousands (`1,000`).

use crate::error::{Error, Result};
use crate::log::units::cut;

/// Evidence for the decimal sign in the cells read so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Numbers {
    point_row: Option<usize>,
    comma_row: Option<usize>,
    comma_proven: bool,
}

impl Numbers {
    /// The number in a cell; NaN for an empty one and for `nan`, `na`, `n/a`, `null` and `none`.
    pub(super) fn read(&mut self, cell: &[u8], column: &str, row: usize) -> Result<f64> {
        let cell = cell.trim_ascii();
        let text = std::str::from_utf8(cell).unwrap_or("?");
        if let Ok(value) = text.parse() {
            if self.point_row.is_none() && cell.contains(&b'.') {
                self.point_row = Some(row);
                self.one_sign(row)?;
            }
            return Ok(value);
        }
        if is_missing(cell) {
            return Ok(f64::NAN);
        }
        if let Some(value) = with_comma(text) {
            if self.comma_row.is_none() {
                self.comma_row = Some(row);
                self.one_sign(row)?;
            }
            self.comma_proven |= !like_thousands(text);
            return Ok(value);
        }
        let text = String::from_utf8_lossy(cell);
        Err(Error::NotANumber { column: column.into(), row, text: cut(&text).into() })
    }

    /// Whether a decimal point has occurred.
    pub(super) fn has_point(&self) -> bool {
        self.point_row.is_some()
    }

    fn one_sign(&self, row: usize) -> Result<()> {
        match (self.point_row, self.comma_row) {
            (Some(point), Some(comma)) => Err(Error::Format {
                row,
                message: format!(
                    "a decimal point in row {point} and a decimal comma in row {comma}: write one of them \
                     throughout, and nothing between thousands"
                ),
            }),
            _ => Ok(()),
        }
    }

    /// Checks the commas against the rule after the last cell.
    pub(super) fn finish(&self) -> Result<()> {
        match self.comma_row {
            Some(row) if !self.comma_proven => Err(Error::Format {
                row,
                message: "every comma is followed by three digits and could separate thousands: \
                          write a decimal point, or no separator"
                    .into(),
            }),
            _ => Ok(()),
        }
    }
}

/// Whether a cell can be data: a number or nothing.
pub(super) fn is_number_or_missing(cell: &[u8]) -> bool {
    let cell = cell.trim_ascii();
    let text = std::str::from_utf8(cell).unwrap_or("?");
    is_missing(cell) || text.parse::<f64>().is_ok() || with_comma(text).is_some()
}

pub(super) fn is_missing(cell: &[u8]) -> bool {
    const WORDS: [&[u8]; 5] = [b"nan", b"na", b"n/a", b"null", b"none"];
    cell.is_empty() || WORDS.iter().any(|w| cell.eq_ignore_ascii_case(w))
}

fn with_comma(text: &str) -> Option<f64> {
    let (whole, rest) = text.split_once(',')?;
    // A comma with a point or a second comma in the same number is no decimal comma.
    if text.len() > 64 || rest.contains(',') || text.contains('.') {
        return None;
    }
    format!("{whole}.{rest}").parse().ok()
}

/// One to three digits that do not begin with 0, a comma, three digits.
fn like_thousands(text: &str) -> bool {
    let digits = text.trim_start_matches(['+', '-']);
    digits.split_once(',').is_some_and(|(whole, rest)| {
        rest.len() == 3
            && (1..=3).contains(&whole.len())
            && !whole.starts_with('0')
            && (whole.bytes().chain(rest.bytes())).all(|b| b.is_ascii_digit())
    })
}
