//! `compare` and `Comparison`: differences between groups of brews.

use super::error::argument;
use super::json::options_of;
use super::run::run;
use super::show::{Show, class};
use super::study::{PyStudy, gather, missing_table, names, study_from};
use crate::estimate::Maybe;
use crate::study::compare::comparison::Comparison;
use crate::study::compare::contrasted::Contrast;
use crate::study::compare::inference::Inference;
use crate::study::guards::caution::Caution;
use pyo3::prelude::*;
use pyo3::types::PyDict;

Caution! { class
/// >>> import pourline
/// >>> own = pourline.Table({"kettle": ["x", "y"] * 4, "person": ["Ada", "Bo"] * 4, "flow": [5.1, 6.2, 4.9, 6.0] * 2})
/// >>> first = pourline.compare(own, "flow", by="kettle").cautions[0]
/// >>> first.kind, first.about
/// ('confounded', 'person')
PyCaution("pourline", "Caution") {
    fn __str__(&self) -> String {
        self.inner.text.clone()
    }

    fn __repr__(&self) -> String {
        let Caution { kind, about, .. } = &self.inner;
        format!("<Caution: {}{}{about}>", kind.name(), if about.is_empty() { "" } else { ", " })
    }
}}

Comparison! { class
/// >>> import pourline
/// >>> flow = [6.1, 6.9, 6.3, 7.0, 5.2, 6.1, 5.5, 6.3, 6.0, 7.2, 5.4, 6.0]
/// >>> person = ["Ada"] * 4 + ["Bo"] * 4 + ["Ada"] * 2 + ["Bo"] * 2
/// >>> kettle = ["Fernspout", "Broadlip"] * 6
/// >>> own = pourline.Table({"kettle": kettle, "person": person, "flow": flow}, units={"flow": "g/s"})
/// >>> found = pourline.compare(pourline.Study(own), "flow", by="kettle", blocks=["person"])
/// >>> print(found)  # doctest: +NORMALIZE_WHITESPACE
/// Broadlip is 0.833 g/s above Fernspout in flow: shown (95 % interval +0.600 to +1.050 g/s, p 0.005).
/// It rests on 12 brews (Fernspout 6, Broadlip 6); 2 people; days not stated.
/// >>> str(found.pairs[0].difference)
/// '0.833 ± 0.086'
PyComparison("pourline", "Comparison")
[
    /// The blocking factors within whose levels the groups were compared.
    blocks: Vec<String> = |of| of.contrasts.blocks.clone();
    /// The experimental unit: "brew", or the factor whose levels carry the groups.
    independent: String = |of| of.contrasts.unit.clone();
    /// Method of p and interval: "dealing", "games_howell" (unequal counts without blocks) or "people".
    inference: Inference = |of| of.contrasts.inference;
    /// Every pair of groups.
    pairs: Vec<Contrast> = |of| of.contrasts.pairs.clone();
    /// p by permutation of all groups, against no difference between any.
    overall_p: Maybe = |of| of.contrasts.overall_p.clone();
    /// Sd within groups and blocks, with its standard error.
    within_sd: Maybe = |of| of.contrasts.within_sd.clone();
    /// Share of the variance within groups that is measurement uncertainty, 0 to 1.
    measurement_share: Maybe = |of| of.contrasts.measurement_share.clone();
    /// Confidence level of the intervals.
    level: f64 = |of| of.contrasts.level;
    /// Number of measures that are tested together: p and intervals hold for all of them.
    measures: usize = |of| of.contrasts.measures;
    /// Warnings: what limits these numbers.
    warnings: Vec<String> = |of| of.contrasts.warnings();
    /// The same warnings, each with its kind and what it is about.
    cautions: Vec<Caution> = |of| of.contrasts.cautions.clone();
    /// The result, one sentence per pair of groups.
    sentences: Vec<String> = Comparison::sentences;
] {
    /// One row per pair of groups; differences in the unit of the measure.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"kettle": ["x", "y"] * 4, "flow": [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]})
    /// >>> pourline.compare(own, "flow", by="kettle").table().columns[:5]
    /// ['measure', 'a', 'b', 'units_a', 'units_b']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    /// One row per group: experimental units, mean with standard error, sd.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"kettle": ["x", "y"] * 4, "flow": [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]})
    /// >>> print(pourline.compare(own, "flow", by="kettle").groups_table())
    /// kettle  units   mean  mean_sd     sd
    ///      x      4  5.075    0.085  0.171
    ///      y      4  6.175    0.085  0.171
    fn groups_table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.groups_table().show(py)
    }

    /// One row per compared value: brew, group, levels of the blocks, value and its sd.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"kettle": ["x", "y"] * 4, "flow": [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]})
    /// >>> len(pourline.compare(own, "flow", by="kettle").values_table())
    /// 8
    fn values_table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.values_table().show(py)
    }

    /// One row per brew that is excluded, or lacks some pours, with the reason.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"kettle": ["x", "y"] * 4, "flow": [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]})
    /// >>> len(pourline.compare(own, "flow", by="kettle").missing_table())
    /// 0
    fn missing_table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        missing_table(py, &self.inner.taken)
    }

    fn __str__(&self) -> String {
        [self.inner.sentences(), vec![format!("It rests on {}.", self.inner.basis)]].concat().join("\n")
    }

    fn __repr__(&self) -> String {
        let Comparison { measure, by, contrasts, .. } = &self.inner;
        format!("<Comparison of {measure} by {by}: {} groups>", contrasts.groups.len())
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.comparison_card")?.call_method1("comparison_card", (slf,))?.extract()
    }
}}

/// Compares the levels of a factor in one measure, within the levels of the blocks, such as one person on one day.
///
/// `study` is a `Study`, brews, or a table; brews are gathered with `pours`, see `gather`. `measure` is the name of
/// one, `by` the factor whose levels are compared, `blocks` the blocking factors; returns a `Comparison`. Keywords are
/// the options: `level` (0.95), `measures` (1; the number of measures tested together), `margin` (the equivalence
/// margin), `over` ("these people", or "people like these" for other hands, which needs the block "person"), `power`
/// (0.8), `seed`, `draws`, `exact_up_to`, and `average_repeats` (rows of one brew are averaged; without it p is
/// undefined for them).
///
/// >>> import pourline
/// >>> first = {"fernspout": 1, "broadlip": 9}
/// >>> names = [f"{kettle}-ada-{n:02}" for kettle in first for n in range(first[kettle], first[kettle] + 4)]
/// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> found = pourline.compare(brews, "mean_flow_g_per_s", by="kettle", blocks=["coffee"])
/// >>> found.pairs[0].b, found.pairs[0].difference.value > 1
/// ('Broadlip', True)
#[pyfunction]
#[pyo3(signature = (study, measure, by, blocks = None, pours = None, **options))]
pub(super) fn compare(
    py: Python<'_>,
    study: &Bound<'_, PyAny>,
    measure: String,
    by: String,
    blocks: Option<&Bound<'_, PyAny>>,
    pours: Option<&Bound<'_, PyAny>>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyComparison> {
    let options = options_of("options", options)?;
    let study = match pours {
        Some(_) if study.is_instance_of::<PyStudy>() => {
            let message = "the study was gathered already; give it brews, or leave this out";
            return Err(argument("pours", message));
        }
        Some(_) => gather(py, study, pours, "keep")?.inner,
        None => study_from(study)?,
    };
    let blocks = names(blocks)?;
    let found = run(py, move || {
        let blocks: Vec<&str> = blocks.iter().map(String::as_str).collect();
        crate::study::compare::comparison::compare(&study, &measure, &by, &blocks, &options)
    })?;
    Ok(found?.into())
}
