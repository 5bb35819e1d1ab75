//! `contrast` and its results: comparisons of plain numbers.

use super::error::argument;
use super::estimate::maybe_from;
use super::json::{options_of, text};
use super::run::run;
use super::show::{Show, class};
use crate::study::compare::blocks::Block;
use crate::study::compare::contrasted::{Contrast, Contrasts, GroupSummary};
use pyo3::prelude::*;
use pyo3::types::PyDict;

GroupSummary! { class
/// >>> import pourline
/// >>> found = pourline.contrast([5.1, 5.4, 4.9, 5.3, 5.8, 6.1, 5.7, 6.4], ["a"] * 4 + ["b"] * 4)
/// >>> [(group.group, group.units, f"{group.mean}") for group in found.groups]
/// [('a', 4, '5.17 ± 0.11'), ('b', 4, '6.00 ± 0.16')]
PyGroupSummary("pourline", "GroupSummary") {
    fn __repr__(&self) -> String {
        let GroupSummary { group, units, mean, .. } = &self.inner;
        format!("<GroupSummary: {group}, {units}, {mean}>")
    }
}}

Contrast! { class
/// >>> import pourline
/// >>> found = pourline.contrast([5.1, 5.4, 4.9, 5.3, 5.8, 6.1, 5.7, 6.4], ["a"] * 4 + ["b"] * 4)
/// >>> pair = found.pairs[0]
/// >>> f"{pair.difference}", f"{pair.p.value:.3f}"
/// ('0.82 ± 0.19', '0.029')
PyContrast("pourline", "Contrast") {
    fn __repr__(&self) -> String {
        format!("<Contrast: {}>", in_short(&self.inner))
    }
}}

Contrasts! { class
/// >>> import pourline
/// >>> found = pourline.contrast([5.1, 5.4, 4.9, 5.8, 6.1, 5.7], ["a"] * 3 + ["b"] * 3)
/// >>> found.pairs[0].p.reason
/// 'too few units: the smallest possible p of the 20 permutations is 0.10, above 0.05; add brews'
PyContrasts("pourline", "Contrasts")
[
    /// Warnings: what limits these numbers.
    warnings: Vec<String> = Contrasts::warnings;
] {
    /// One row per pair. Undefined values are NaN; the column `p_reason` has the reason for no p.
    ///
    /// >>> import pourline
    /// >>> found = pourline.contrast([5.1, 6.2, 4.9, 6.0, 5.3, 6.4], ["x", "y"] * 3)
    /// >>> round(float(found.table()["difference"][0]), 6)
    /// 1.1
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    /// Everything as JSON text; a number that is not finite is null.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> found = pourline.contrast([5.1, 6.2, 4.9, 6.0, 5.3, 6.4], ["x", "y"] * 3)
    /// >>> json.loads(found.to_json())["pairs"][0]["b"]
    /// 'y'
    fn to_json(&self) -> PyResult<String> {
        text("contrasts", &self.inner)
    }

    fn __repr__(&self) -> String {
        format!("<Contrasts: {}>", self.inner.pairs.iter().map(in_short).collect::<Vec<_>>().join("; "))
    }
}}

fn in_short(pair: &Contrast) -> String {
    let p = pair.p.as_ref().map_or_else(ToString::to_string, |p| format!("{:.3}", p.value));
    format!("{} less {}: {}, p {p}", pair.b, pair.a, pair.difference)
}

/// Differences between groups, within blocks, of plain numbers; `compare` is the same for brews.
///
/// `values` are numbers or `Estimate`s, `group` their labels. `blocks` names blocking factors, such as
/// `{"person": [...], "day": [...]}`, and `unit` the brew of each value if several may be of one brew. Keywords are the
/// options: `level`, `measures`, `margin`, `power`, `exact_up_to`, `draws`, `seed`, `average_repeats`.
///
/// >>> import pourline
/// >>> flow = [6.1, 6.9, 6.3, 7.0, 5.2, 6.1, 5.5, 6.3, 6.0, 7.2, 5.4, 6.0]
/// >>> person = ["Ada"] * 4 + ["Bo"] * 4 + ["Ada"] * 2 + ["Bo"] * 2
/// >>> found = pourline.contrast(flow, ["Fernspout", "Broadlip"] * 6, blocks={"person": person})
/// >>> f"{found.pairs[0].difference}", found.pairs[0].p.value
/// ('0.833 ± 0.086', 0.005)
#[pyfunction]
#[pyo3(signature = (values, group, *, blocks = None, unit = None, **options))]
pub(super) fn contrast(
    py: Python<'_>,
    values: &Bound<'_, PyAny>,
    group: Vec<String>,
    blocks: Option<&Bound<'_, PyDict>>,
    unit: Option<Vec<String>>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyContrasts> {
    let options = options_of("options", options)?;
    let mut numbers = Vec::new();
    for (i, value) in values.try_iter()?.enumerate() {
        let number = maybe_from("values", &value?)?;
        let why = |why| argument("values", format!("number {} is {why}; leave it and its labels out", i + 1));
        numbers.push(number.map_err(why)?);
    }
    let mut named: Vec<(String, Vec<String>)> = Vec::new();
    for (name, labels) in blocks.into_iter().flatten() {
        named.push((name.extract()?, labels.extract()?));
    }
    let unit = unit.unwrap_or_default();
    let found = run(py, move || {
        let blocks: Vec<Block> = named.iter().map(|(name, labels)| Block { name, labels }).collect();
        crate::study::compare::contrast::contrast(&numbers, &group, &blocks, &unit, &options)
    })??;
    Ok(found.into())
}
