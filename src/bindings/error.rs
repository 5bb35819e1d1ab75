//! In: the library's [`Error`]. Out: `pourline.PourlineError`, with its kind, row and column.

use crate::error::Error;
use pyo3::prelude::*;

pyo3::import_exception!(pourline.errors, PourlineError);
pyo3::import_exception!(pourline.errors, Interrupted);

/// A `PourlineError` about an argument or option.
pub(super) fn argument(name: impl Into<String>, message: impl Into<String>) -> PyErr {
    Error::Argument { name: name.into(), message: message.into() }.into()
}

fn row_and_column(error: &Error) -> (Option<usize>, Option<String>) {
    let named = |row: usize| (row > 0).then_some(row);
    match error {
        Error::UnequalLength { column, .. } => (None, Some(column.clone())),
        Error::NotFinite { column, row, .. } | Error::NotANumber { column, row, .. } => {
            (named(*row), Some(column.clone()))
        }
        Error::Time { row, .. } => (named(*row), Some("time_s".into())),
        Error::OutOfRange { name, row, .. } => (named(*row), Some(name.clone())),
        Error::Argument { name, .. } => (None, Some(name.clone())),
        Error::Format { row, .. } => (named(*row), None),
        _ => (None, None),
    }
}

impl From<Error> for PyErr {
    fn from(error: Error) -> Self {
        let (row, column) = row_and_column(&error);
        PourlineError::new_err((error.to_string(), error.kind(), row, column))
    }
}
