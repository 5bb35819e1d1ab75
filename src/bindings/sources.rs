//! In: a `Log`, a path, or a table that speaks Arrow. Out: a `Log`.

use super::arrays::short;
use super::error::argument;
use super::log::PyLog;
use pyo3::prelude::*;

/// The log itself, or what `read` makes of the source.
pub(super) fn log_of<'py>(source: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyLog>> {
    match source.cast::<PyLog>() {
        Ok(log) => Ok(log.clone()),
        Err(_) => Err(argument("log", format!("a Log is needed, not {}", short(source)))),
    }
}
