//! `ReadRules` for the reader of folders: what a file of rules states for the name of a file.

use super::meta::PyMeta;
use crate::log::missing::Missing;
use crate::log::rules::ReadRules;
use crate::log::units::Unit;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// The rules of a folder. `text` is that of `rules.toml`.
#[pyclass(frozen, module = "pourline", name = "_Rules")]
pub(super) struct PyRules {
    inner: ReadRules,
}

#[pymethods]
impl PyRules {
    #[new]
    fn new(text: &str) -> PyResult<Self> {
        Ok(Self { inner: ReadRules::parse(text)? })
    }

    /// The patterns of the rules, in their order.
    #[getter]
    fn patterns(&self) -> Vec<&str> {
        self.inner.patterns()
    }

    /// The place of the rule for this `file_name`, whether it leaves the file out, and the keywords for `read`; or None.
    fn rule_for<'py>(
        &self,
        py: Python<'py>,
        file_name: &str,
    ) -> PyResult<Option<(usize, bool, Bound<'py, PyDict>)>> {
        let Some(rule) = self.inner.rule_for(file_name)? else { return Ok(None) };
        let keywords = PyMeta::from(rule.meta).to_dict(py)?.cast_into::<PyDict>()?;
        let options = rule.options;
        for (key, value) in [
            ("time", options.time),
            ("water", options.water),
            ("beverage", options.beverage),
            ("time_unit", options.time_unit.map(Unit::symbol)),
            ("mass_unit", options.mass_unit.map(Unit::symbol)),
            ("missing", (options.missing == Missing::Flag).then(|| "flag".into())),
        ] {
            if let Some(value) = value {
                keywords.set_item(key, value)?;
            }
        }
        Ok(Some((rule.index, rule.skip, keywords)))
    }
}
