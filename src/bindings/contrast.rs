//! `contrast` and its results: comparisons of plain numbers.

use super::equivalence::PyEquivalence;
use super::error::argument;
use super::estimate::{maybe, maybe_from};
use super::interval::ends;
use super::json::from_dict;
use super::table::table;
use crate::estimate::Estimate;
use crate::study::compare::blocks::Block;
use crate::study::compare::contrast_options::ContrastOptions;
use crate::study::compare::contrasted::{Contrast, Contrasts, GroupSummary};
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// One group of a contrast.
///
/// >>> import pourline
/// >>> found = pourline.contrast([5.1, 5.4, 4.9, 5.3, 5.8, 6.1, 5.7, 6.4], ["a"] * 4 + ["b"] * 4)
/// >>> [(group.group, group.units, f"{group.mean}") for group in found.groups]
/// [('a', 4, '5.17 ± 0.11'), ('b', 4, '6.00 ± 0.16')]
#[pyclass(frozen, module = "pourline", name = "GroupSummary")]
pub(super) struct PyGroupSummary {
    pub(super) inner: GroupSummary,
}

#[pymethods]
impl PyGroupSummary {
    /// Its name.
    #[getter]
    fn group(&self) -> &str {
        &self.inner.group
    }

    /// Independent units that it has: brews, or people or days where these are the unit.
    #[getter]
    fn units(&self) -> usize {
        self.inner.units
    }

    /// Plain mean of them, with its standard error (NaN for a single one).
    #[getter]
    fn mean(&self) -> Estimate {
        self.inner.mean
    }

    /// Their sd; what differs between blocks is part of it.
    #[getter]
    fn sd(&self) -> f64 {
        self.inner.sd
    }

    fn __repr__(&self) -> String {
        let GroupSummary { group, units, mean, .. } = &self.inner;
        format!("<GroupSummary: {group}, {units}, {mean}>")
    }
}

/// One pair of groups: the second less the first.
///
/// >>> import pourline
/// >>> found = pourline.contrast([5.1, 5.4, 4.9, 5.3, 5.8, 6.1, 5.7, 6.4], ["a"] * 4 + ["b"] * 4)
/// >>> pair = found.pairs[0]
/// >>> f"{pair.difference}", f"{pair.p.value:.3f}"
/// ('0.82 ± 0.19', '0.029')
#[pyclass(frozen, module = "pourline", name = "Contrast")]
pub(super) struct PyContrast {
    pub(super) inner: Contrast,
}

#[pymethods]
impl PyContrast {
    /// The first group.
    #[getter]
    fn a(&self) -> &str {
        &self.inner.a
    }

    /// The second group.
    #[getter]
    fn b(&self) -> &str {
        &self.inner.b
    }

    /// Independent units of the two that can be compared: those in cells that hold both.
    #[getter]
    fn units(&self) -> (usize, usize) {
        self.inner.units.into()
    }

    /// b less a within cells, with its standard error (NaN where nothing is known of the scatter).
    #[getter]
    fn difference(&self) -> Estimate {
        self.inner.difference
    }

    /// Interval of the difference, for this pair alone.
    #[getter]
    fn interval(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        ends(py, &self.inner.interval)
    }

    /// Interval of the difference by the bootstrap, which does not ask for normal scatter.
    #[getter]
    fn bootstrap_interval(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        ends(py, &self.inner.bootstrap_interval)
    }

    /// Interval by Tukey and Kramer: the intervals of all pairs hold together.
    #[getter]
    fn tukey_interval(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        ends(py, &self.inner.tukey_interval)
    }

    /// The difference in percent of the mean of a.
    #[getter]
    fn difference_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.difference_pct)
    }

    /// Interval of that, for this pair alone, percent.
    #[getter]
    fn interval_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        ends(py, &self.inner.interval_pct)
    }

    /// The difference over the sd within groups and cells, corrected for few values.
    #[getter]
    fn hedges_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.hedges_g)
    }

    /// Its interval.
    #[getter]
    fn hedges_g_interval(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        ends(py, &self.inner.hedges_g_interval)
    }

    /// Difference over standard error.
    #[getter]
    fn t(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.t)
    }

    /// Degrees of freedom of that.
    #[getter]
    fn degrees(&self) -> f64 {
        self.inner.degrees
    }

    /// How often chance alone would make the groups differ as much: by dealing the groups anew within cells. The sd is that of the drawing.
    #[getter]
    fn p(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.p)
    }

    /// The same, corrected for the number of pairs (Holm).
    #[getter]
    fn p_holm(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.p_holm)
    }

    /// The same, by Student's t, which asks for normal scatter.
    #[getter]
    fn p_model(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.p_model)
    }

    /// In how many ways the groups could have been dealt.
    #[getter]
    fn arrangements(&self) -> f64 {
        self.inner.arrangements
    }

    /// p for the difference being the same at every level of the first blocking factor.
    #[getter]
    fn p_interaction(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.p_interaction)
    }

    /// Whether the two are alike within the margin, where one was stated.
    #[getter]
    fn equivalence(&self) -> Option<PyEquivalence> {
        self.inner.equivalence.clone().map(|inner| PyEquivalence { inner })
    }

    /// The smallest true difference that this study finds with the power asked for.
    #[getter]
    fn minimum_detectable_difference(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.minimum_detectable_difference)
    }

    fn __repr__(&self) -> String {
        format!("<Contrast: {}>", Self::told(&self.inner))
    }
}

/// Every pair of groups, and what must be said with it.
///
/// >>> import pourline
/// >>> found = pourline.contrast([5.1, 5.4, 4.9, 5.8, 6.1, 5.7], ["a"] * 3 + ["b"] * 3)
/// >>> found.pairs[0].p.reason
/// 'so few that even the most extreme of the 20 arrangements has a p of 0.10, and 0.05 is asked for'
#[pyclass(frozen, module = "pourline", name = "Contrasts")]
pub(super) struct PyContrasts {
    pub(super) inner: Contrasts,
}

#[pymethods]
impl PyContrasts {
    /// The groups, in the order of their first rows.
    #[getter]
    fn groups(&self) -> Vec<PyGroupSummary> {
        self.inner.groups.iter().cloned().map(|inner| PyGroupSummary { inner }).collect()
    }

    /// The pairs.
    #[getter]
    fn pairs(&self) -> Vec<PyContrast> {
        self.inner.pairs.iter().cloned().map(|inner| PyContrast { inner }).collect()
    }

    /// How often chance alone would make all groups differ as much, by dealing them anew within cells.
    #[getter]
    fn overall_p(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.overall_p)
    }

    /// F of all groups: Welch's without blocks, that of least squares with them.
    #[getter]
    fn overall_f(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.overall_f)
    }

    /// p of that F.
    #[getter]
    fn overall_p_model(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.overall_p_model)
    }

    /// Sd within groups and cells, with its standard error.
    #[getter]
    fn within_sd(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.within_sd)
    }

    /// Share of the variance within groups and cells that the measurement itself brings, 0 to 1.
    #[getter]
    fn measurement_share(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.measurement_share)
    }

    /// What one independent unit is: "brew", or the factor whose levels carry the groups.
    #[getter]
    fn unit(&self) -> &str {
        &self.inner.unit
    }

    /// The blocking factors within whose combinations the groups were compared.
    #[getter]
    fn blocks(&self) -> Vec<String> {
        self.inner.blocks.clone()
    }

    /// Share of intervals that hold the truth.
    #[getter]
    fn level(&self) -> f64 {
        self.inner.level
    }

    /// What must be said with these numbers.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.inner.warnings.clone()
    }

    /// A row for each pair. What is undefined is NaN; why there is no p stands in the column `p_reason`.
    ///
    /// >>> import pourline
    /// >>> found = pourline.contrast([5.1, 6.2, 4.9, 6.0, 5.3, 6.4], ["x", "y"] * 3)
    /// >>> round(float(found.table()["difference"][0]), 6)
    /// 1.1
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    /// Everything as JSON text; a number that is not finite is null.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> found = pourline.contrast([5.1, 6.2, 4.9, 6.0, 5.3, 6.4], ["x", "y"] * 3)
    /// >>> json.loads(found.to_json())["pairs"][0]["b"]
    /// 'y'
    fn to_json(&self) -> PyResult<String> {
        serde_json::to_string(&self.inner).map_err(|e| argument("contrasts", e.to_string()))
    }

    fn __repr__(&self) -> String {
        let told = self.inner.pairs.iter().map(PyContrast::told);
        format!("<Contrasts: {}>", told.collect::<Vec<_>>().join("; "))
    }
}

impl From<Contrast> for PyContrast {
    fn from(inner: Contrast) -> Self {
        Self { inner }
    }
}

impl PyContrast {
    fn told(pair: &Contrast) -> String {
        let p = pair.p.as_ref().map_or_else(ToString::to_string, |p| format!("{:.3}", p.value));
        format!("{} less {}: {}, p {p}", pair.b, pair.a, pair.difference)
    }
}

/// Differences between groups, within blocks, of plain numbers; `compare` does the same for brews.
///
/// `values` are numbers or `Estimate`s, `group` their labels. `blocks` names blocking factors, such as `{"person": [...], "day": [...]}`, and `unit`
/// the brew of each value where several may be of one brew. Keywords are the options: `level`, `margin`, `power`, `exact_up_to`, `draws`,
/// `resamples`, `seed`, `average_repeats`.
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
    let options = match options {
        Some(given) => from_dict("options", ContrastOptions::default(), given.as_any())?,
        None => ContrastOptions::default(),
    };
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
    let inner = py.detach(|| {
        let blocks: Vec<Block> = named.iter().map(|(name, labels)| Block { name, labels }).collect();
        crate::study::compare::contrast::contrast(&numbers, &group, &blocks, &unit, &options)
    })?;
    Ok(PyContrasts { inner })
}
