//! In: a brew with warnings. Out: one `pourline.PourlineWarning` for its log.

use crate::brew::result::Brew;
use pyo3::prelude::*;
use std::ffi::CString;

pyo3::import_exception!(pourline.errors, PourlineWarning);

/// Ends of the first words of a warning.
const ENDS: [&str; 3] = [": ", ". ", "; "];

/// Issues a `PourlineWarning` if the brew has warnings; `unnamed` stands for a missing name.
///
/// # Errors
/// The warning itself, if a filter turns it into an error.
pub(super) fn warn(py: Python<'_>, brew: &Brew, unnamed: impl Fn() -> String) -> PyResult<()> {
    if brew.warnings.is_empty() {
        return Ok(());
    }
    let name = brew.meta.name.clone().unwrap_or_else(unnamed);
    PyErr::warn(py, &py.get_type::<PourlineWarning>(), &message(&name, &brew.warnings), 1)
}

fn message(name: &str, warnings: &[String]) -> CString {
    let first: Vec<&str> = warnings.iter().map(|warning| first_words(warning)).collect();
    let text = format!("{name}: {} (more in brew.warnings)", first.join("; "));
    // A name comes from a file.
    let plain: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    CString::new(plain).unwrap_or_default()
}

fn first_words(warning: &str) -> &str {
    let end = ENDS.iter().filter_map(|end| warning.find(end)).min().unwrap_or(warning.len());
    &warning[..end]
}
