//! `Options`: the options of all stages, checked by name, type and range.

use super::arrays::short;
use super::error::argument;
use super::json::{from_dict, to_json, to_python};
use super::show::Show;
use super::value::{over_inner, value};
use crate::brew::options::Options;
use crate::error::Result;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyMapping};
use serde_json::{Map, Value};

/// Options of all stages; missing ones have their default.
///
/// `condition`, `segment`, `metrics`, `agitation`, `bed` and `extraction` are dicts. `Options().to_dict()` has all
/// names with their defaults. Functions that take options take such a dict of dicts as well.
///
/// >>> import pourline
/// >>> options = pourline.Options(condition={"scale_lag_s": 0.25}, segment={"mass_g": 5})
/// >>> options
/// Options(condition={'scale_lag_s': 0.25}, segment={'mass_g': 5.0})
/// >>> options.to_dict()["segment"]["pause_s"]
/// 1.0
///
/// A scale is a `ScaleResponse`, a `Calibration` or the path of its file:
///
/// >>> pourline.Options(condition={"scale": pourline.ScaleResponse.average(0.6)}).changed()["condition"]["scale"]["average_s"]
/// 0.6
#[pyclass(frozen, module = "pourline", name = "Options")]
pub(super) struct PyOptions {
    pub(super) inner: Options,
}

impl Show for Options {
    fn hint() -> String {
        "Options".into()
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        Ok(Py::new(py, PyOptions { inner: self.clone() })?.into_any())
    }
}

/// The options given, as `Options` or as a mapping of its stages, or the defaults.
pub(super) fn options_from(given: Option<&Bound<'_, PyAny>>) -> PyResult<Options> {
    let Some(given) = given else { return Ok(Options::default()) };
    if let Ok(options) = given.cast::<PyOptions>() {
        return Ok(options.get().inner.clone());
    }
    if given.cast::<PyMapping>().is_err() {
        return Err(argument(
            "options",
            format!("Options or a dict of stages is needed, not {}", short(given)),
        ));
    }
    let stages = given.py().get_type::<PyDict>().call1((given,))?;
    let options = from_dict("", Options::default(), &stages)?;
    checked(&options)?;
    Ok(options)
}

/// An error for an option beyond its range.
fn checked(options: &Options) -> Result<()> {
    options.condition.check()?;
    options.segment.check()?;
    options.metrics.check()?;
    options.agitation.check()?;
    options.bed.check()?;
    options.extraction.check()
}

/// The options that differ from the defaults, by stage.
fn changed(all: &Value, default: &Value) -> Map<String, Value> {
    let mut found = Map::new();
    for (key, value) in all.as_object().into_iter().flatten() {
        let before = default.get(key);
        if value.is_object() {
            let within = changed(value, before.unwrap_or(&Value::Null));
            if !within.is_empty() {
                found.insert(key.clone(), within.into());
            }
        } else if Some(value) != before {
            found.insert(key.clone(), value.clone());
        }
    }
    found
}

impl From<Options> for PyOptions {
    fn from(inner: Options) -> Self {
        Self { inner }
    }
}

over_inner!(PyOptions, Options);

value! { PyOptions {
    #[new]
    #[pyo3(signature = (
        *, condition = None, segment = None, metrics = None, agitation = None, bed = None, extraction = None
    ))]
    fn new(
        condition: Option<&Bound<'_, PyAny>>,
        segment: Option<&Bound<'_, PyAny>>,
        metrics: Option<&Bound<'_, PyAny>>,
        agitation: Option<&Bound<'_, PyAny>>,
        bed: Option<&Bound<'_, PyAny>>,
        extraction: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let mut inner = Options::default();
        macro_rules! stages {
            ($($stage:ident),*) => { $(
                if let Some(given) = $stage {
                    inner.$stage = from_dict(stringify!($stage), inner.$stage, given)?;
                }
            )* };
        }
        stages!(condition, segment, metrics, agitation, bed, extraction);
        checked(&inner)?;
        Ok(Self { inner })
    }

    /// All options with their values: a dict of six dicts.
    ///
    /// >>> import pourline
    /// >>> pourline.Options().to_dict()["segment"]["mass_g"]
    /// 2.0
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &to_json("options", &self.inner)?)
    }

    /// The options that are not at their default: a dict of dicts.
    ///
    /// >>> import pourline
    /// >>> pourline.Options(segment={"mass_g": 5}).changed()
    /// {'segment': {'mass_g': 5.0}}
    fn changed<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let (all, default) = (to_json("options", &self.inner)?, to_json("options", &Options::default())?);
        to_python(py, &changed(&all, &default).into())
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let changed = self.changed(py)?.cast_into::<PyDict>()?;
        let pairs = changed.iter().map(|(stage, values)| Ok(format!("{stage}={}", values.repr()?)));
        Ok(format!("Options({})", pairs.collect::<PyResult<Vec<_>>>()?.join(", ")))
    }
}}
