//! In: a brew and the seconds of its stages. Out: records of the logger `pourline`, and one `PourlineWarning` for
//! a log with warnings.

use crate::brew::result::Brew;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use std::ffi::CString;

pyo3::import_exception!(pourline.errors, PourlineWarning);

/// Seconds of each stage of an analysis.
pub(super) type Seconds = Vec<(&'static str, f64)>;

/// Ends of the first words of a warning.
const ENDS: [&str; 3] = [": ", ". ", "; "];

/// Logs the brew and issues a `PourlineWarning` if it has warnings; `unnamed` stands for a missing name.
///
/// # Errors
/// The warning itself, if a filter turns it into an error.
pub(super) fn tell(
    py: Python<'_>,
    brew: &Brew,
    seconds: &Seconds,
    unnamed: impl Fn() -> String,
) -> PyResult<()> {
    let name = plain(&brew.meta.name.clone().unwrap_or_else(unnamed));
    // A program that never imported `logging` has no handler.
    if py.import("sys")?.getattr("modules")?.cast_into::<PyDict>()?.contains("logging")? {
        let told = (&name, brew.segments.pours.len(), seconds.clone(), brew.warnings.clone());
        py.import("pourline._io.logged")?.call_method1("tell", told)?;
    }
    if brew.warnings.is_empty() {
        return Ok(());
    }
    PyErr::warn(py, &py.get_type::<PourlineWarning>(), &message(&name, &brew.warnings), 1)
}

fn message(name: &str, warnings: &[String]) -> CString {
    let first: Vec<&str> = warnings.iter().map(|warning| first_words(warning)).collect();
    CString::new(plain(&format!("{name}: {} (more in brew.warnings)", first.join("; ")))).unwrap_or_default()
}

/// A text without control characters: a name comes from a file.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

fn first_words(warning: &str) -> &str {
    let end = ENDS.iter().filter_map(|end| warning.find(end)).min().unwrap_or(warning.len());
    &warning[..end]
}
