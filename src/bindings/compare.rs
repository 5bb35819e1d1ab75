//! `compare` and `Comparison`: whether groups of brews differ.

use super::contrast::PyContrast;
use super::error::argument;
use super::estimate::maybe;
use super::json::from_dict;
use super::study::{PyStudy, gather, missing_table, names, study_from};
use super::table::table;
use crate::study::compare::comparison::Comparison;
use crate::study::compare::contrast_options::ContrastOptions;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// Whether kettles, grinders, brewers or people differ in one measure.
///
/// >>> import pourline
/// >>> flow = [6.1, 6.9, 6.3, 7.0, 5.2, 6.1, 5.5, 6.3, 6.0, 7.2, 5.4, 6.0]
/// >>> person = ["Ada"] * 4 + ["Bo"] * 4 + ["Ada"] * 2 + ["Bo"] * 2
/// >>> own = pourline.Table({"kettle": ["Fernspout", "Broadlip"] * 6, "person": person, "flow": flow}, units={"flow": "g/s"})
/// >>> found = pourline.compare(pourline.Study(own), "flow", by="kettle", blocks=["person"])
/// >>> print(found)
/// Broadlip is 0.833 g/s above Fernspout in flow (95 % interval +0.639 to +1.028 g/s): more than chance explains (p 0.005).
/// >>> str(found.pairs[0].difference)
/// '0.833 ± 0.086'
#[pyclass(frozen, module = "pourline", name = "Comparison")]
pub(super) struct PyComparison {
    pub(super) inner: Comparison,
}

#[pymethods]
impl PyComparison {
    /// The measure.
    #[getter]
    fn measure(&self) -> &str {
        &self.inner.measure
    }

    /// Its unit, "" where it has none.
    #[getter]
    fn unit(&self) -> &str {
        &self.inner.unit
    }

    /// The factor whose levels are the groups.
    #[getter]
    fn by(&self) -> &str {
        &self.inner.by
    }

    /// The factors within whose levels the groups were compared.
    #[getter]
    fn blocks(&self) -> Vec<String> {
        self.inner.contrasts.blocks.clone()
    }

    /// What one independent unit is: "brew", or the factor whose levels carry the groups.
    #[getter]
    fn independent(&self) -> &str {
        &self.inner.contrasts.unit
    }

    /// Every pair of groups.
    #[getter]
    fn pairs(&self) -> Vec<PyContrast> {
        self.inner.contrasts.pairs.iter().map(|pair| PyContrast::from(pair.clone())).collect()
    }

    /// How often chance alone would make all groups differ as much.
    #[getter]
    fn overall_p(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.contrasts.overall_p)
    }

    /// Sd within groups and blocks, with its standard error.
    #[getter]
    fn within_sd(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.contrasts.within_sd)
    }

    /// Share of the variance within groups that the measurement itself brings, 0 to 1.
    #[getter]
    fn measurement_share(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.contrasts.measurement_share)
    }

    /// Share of intervals that hold the truth.
    #[getter]
    fn level(&self) -> f64 {
        self.inner.contrasts.level
    }

    /// What must be said with these numbers.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.inner.contrasts.warnings.clone()
    }

    /// The answer, a sentence for each pair of groups.
    #[getter]
    fn sentences(&self) -> Vec<String> {
        self.inner.sentences()
    }

    /// A row for each pair of groups; differences in the unit of the measure.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"brew": list("abcdefgh"), "kettle": ["x", "y"] * 4, "flow": [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]})
    /// >>> found = pourline.compare(pourline.Study(own), "flow", by="kettle")
    /// >>> found.table().columns[:5]
    /// ['measure', 'a', 'b', 'units_a', 'units_b']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    /// A row for each group: independent units, mean with standard error, sd.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"brew": list("abcdefgh"), "kettle": ["x", "y"] * 4, "flow": [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]})
    /// >>> found = pourline.compare(pourline.Study(own), "flow", by="kettle")
    /// >>> print(found.groups_table())
    /// kettle  units   mean  mean_sd     sd
    ///      x      4  5.075    0.085  0.171
    ///      y      4  6.175    0.085  0.171
    fn groups_table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.groups_table())
    }

    /// A row for each value that was compared: brew, group, levels of the blocks, value and its own sd.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"brew": list("abcdefgh"), "kettle": ["x", "y"] * 4, "flow": [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]})
    /// >>> found = pourline.compare(pourline.Study(own), "flow", by="kettle")
    /// >>> len(found.values_table())
    /// 8
    fn values_table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.values_table())
    }

    /// A row for each brew that could not take part, or lacks some pours, and why.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"brew": list("abcdefgh"), "kettle": ["x", "y"] * 4, "flow": [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]})
    /// >>> found = pourline.compare(pourline.Study(own), "flow", by="kettle")
    /// >>> len(found.missing_table())
    /// 0
    fn missing_table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        missing_table(py, &self.inner.taken)
    }

    fn __str__(&self) -> String {
        self.inner.sentences().join("\n")
    }

    fn __repr__(&self) -> String {
        let Comparison { measure, by, contrasts, .. } = &self.inner;
        format!("<Comparison of {measure} by {by}: {} groups>", contrasts.groups.len())
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.comparison_card")?.call_method1("comparison_card", (slf,))?.extract()
    }
}

/// Compares the levels of a factor in one measure, within the levels of the blocks, such as the same person on the same day.
///
/// `study` is a `Study`, brews, or a table; brews are gathered with `pours`, see `gather`. Keywords are the options: `level` (0.95), `margin` (the
/// largest difference that does not matter, for a test of equivalence), `power` (0.8), `seed`, `draws`, `resamples`, `exact_up_to`, and
/// `average_repeats` (rows of one brew are averaged in place of refusing their p).
/// `measure` is the name of one, `by` the factor whose levels are compared, `blocks` factors within whose levels that is done; returns a `Comparison`.
///
/// >>> import pourline
/// >>> names = [f"{kettle}-ada-{n:02}" for kettle, first in (("fernspout", 1), ("broadlip", 9)) for n in range(first, first + 4)]
/// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> found = pourline.compare(brews, "mean_flow_g_per_s", by="kettle", blocks=["coffee"])
/// >>> found.pairs[0].b, found.pairs[0].difference.value > 1
/// ('Broadlip', True)
#[pyfunction]
#[pyo3(signature = (study, measure, by, blocks = None, pours = None, **options))]
pub(super) fn compare(
    py: Python<'_>,
    study: &Bound<'_, PyAny>,
    measure: &str,
    by: &str,
    blocks: Option<&Bound<'_, PyAny>>,
    pours: Option<&Bound<'_, PyAny>>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyComparison> {
    let options = match options {
        Some(given) => from_dict("options", ContrastOptions::default(), given)?,
        None => ContrastOptions::default(),
    };
    let study = match pours {
        Some(_) if study.is_instance_of::<PyStudy>() => {
            return Err(argument(
                "pours",
                "the study was gathered already; give it brews, or leave this out",
            ));
        }
        Some(_) => gather(py, study, pours)?.inner,
        None => study_from(study)?,
    };
    let blocks = names(blocks)?;
    let blocks: Vec<&str> = blocks.iter().map(String::as_str).collect();
    let inner =
        py.detach(|| crate::study::compare::comparison::compare(&study, measure, by, &blocks, &options))?;
    Ok(PyComparison { inner })
}
