//! `Meta`: metadata of a brew.

use super::json::{from_dict, to_json, to_python};
use super::show::class;
use crate::log::meta::Meta;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use serde_json::Value;

Meta! { class
/// Numbers: `dose_g`, `dose_sd_g`, `tds_pct`, `tds_sd_pct`, `brix_pct`, `brix_sd_pct`, `water_c`. Texts: `name`,
/// `coffee`, `roast`, `grinder`, `grinder_setting`, `kettle`, `brewer`, `person`, `device`, `note`, `started_at`.
/// Further factors: `factors`, a dict of texts.
///
/// >>> import pourline
/// >>> meta = pourline.Meta(dose_g=15, kettle="Fernspout", factors={"day": "2"})
/// >>> meta.dose_g, meta.kettle, meta.roast
/// (15.0, 'Fernspout', None)
/// >>> meta
/// Meta(dose_g=15.0, factors={'day': '2'}, kettle='Fernspout')
PyMeta("pourline", "Meta") {
    #[new]
    #[pyo3(signature = (**meta))]
    fn new(meta: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        Ok(meta_from(meta)?.into())
    }

    /// The given metadata, as a dict.
    ///
    /// >>> import pourline
    /// >>> pourline.Meta(dose_g=15, kettle="Broadlip").to_dict()
    /// {'dose_g': 15.0, 'kettle': 'Broadlip'}
    pub(super) fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let mut all = to_json("meta", &self.inner)?;
        if let Value::Object(all) = &mut all {
            all.retain(|_, value| !value.is_null() && value.as_object().is_none_or(|o| !o.is_empty()));
        }
        to_python(py, &all)
    }

    /// The metadata except the name, in a line: numbers first.
    #[getter(_known)]
    fn known(&self) -> String {
        self.inner.summary()
    }

    pub(super) fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let known = self.to_dict(py)?.cast_into::<PyDict>()?;
        let pairs = known.iter().map(|(key, value)| Ok(format!("{key}={}", value.repr()?)));
        Ok(format!("Meta({})", pairs.collect::<PyResult<Vec<_>>>()?.join(", ")))
    }
}}

/// Metadata from keyword arguments. A number given for a text, such as a grinder setting, is taken as its text.
pub(super) fn meta_from(given: Option<&Bound<'_, PyDict>>) -> PyResult<Meta> {
    let Some(given) = given else { return Ok(Meta::default()) };
    let written = given.copy()?;
    for (key, value) in given {
        let is_text = |key: String| serde_json::from_value::<Meta>(serde_json::json!({ key: "" })).is_ok();
        if value.extract::<f64>().is_ok() && key.extract().is_ok_and(is_text) {
            written.set_item(key, value.str()?)?;
        }
    }
    from_dict("", Meta::default(), &written)
}
