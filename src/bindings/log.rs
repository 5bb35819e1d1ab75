//! `Log`: the timestamped weights of one brew, from arrays.

use super::arrays::numbers;
use super::meta::{PyMeta, meta_from};
use super::show::{Show, Shown};
use super::value::{over_inner, value};
use crate::log::record::Log;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyMapping};

/// The timestamped weights of one brew as logged: time in s, mass in g.
///
/// `water_g` is the reading of the scale under the brewer, `beverage_g` that of the scale under the server alone; a
/// log has either or both. Columns may be float64 arrays (copied once), other numbers, lists or series.
/// `missing="flag"` accepts missing readings (NaN, None) as flagged samples, which are excluded from every estimate.
/// Further keywords are metadata, see `Meta`. `time_s` are the stamps in s, in any order. A table alone, such as a
/// DataFrame, a dict of columns, or a series with its times as index, is read as by `read`.
///
/// >>> import pourline
/// >>> log = pourline.Log([0.0, 0.1, 0.2], water_g=[0.0, 0.4, 1.1], dose_g=15, kettle="Fernspout")
/// >>> log.water_g, log.beverage_g, log.meta.kettle
/// (array([0. , 0.4, 1.1]), None, 'Fernspout')
/// >>> pourline.Log({"time_s": [0.0, 0.1, 0.2], "water_g": [0.0, 0.4, 1.1]}, dose_g=15, kettle="Fernspout") == log
/// True
#[pyclass(frozen, module = "pourline", name = "Log")]
pub(super) struct PyLog {
    pub(super) inner: Log,
    shown: Shown,
}

impl From<Log> for PyLog {
    fn from(inner: Log) -> Self {
        Self { inner, shown: Shown::new() }
    }
}

impl PyLog {
    fn array(&self, py: Python<'_>, name: &str, values: &[f64]) -> PyResult<Py<PyAny>> {
        self.shown.keep(py, name, || f64::show_all(values, py))
    }
}

over_inner!(PyLog, Log);

value! { PyLog {
    #[new]
    #[pyo3(signature = (time_s, water_g = None, beverage_g = None, *, missing = "refuse", **meta))]
    fn new(
        time_s: &Bound<'_, PyAny>,
        water_g: Option<&Bound<'_, PyAny>>,
        beverage_g: Option<&Bound<'_, PyAny>>,
        missing: &str,
        meta: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<Self> {
        if water_g.is_none()
            && beverage_g.is_none()
            && (time_s.hasattr("__arrow_c_stream__")? || time_s.cast::<PyMapping>().is_ok())
        {
            let keywords = meta.map_or_else(|| Ok(PyDict::new(time_s.py())), PyDictMethods::copy)?;
            keywords.set_item("missing", missing)?;
            let read = time_s.py().import("pourline._pourline")?.getattr("read")?;
            return Ok(read.call((time_s,), Some(&keywords))?.cast_into::<Self>()?.get().inner.clone().into());
        }
        let time_s = numbers("time_s", time_s)?;
        let water_g = water_g.map(|column| numbers("water_g", column)).transpose()?;
        let beverage_g = beverage_g.map(|column| numbers("beverage_g", column)).transpose()?;
        let log = Log::with_missing(time_s, water_g, beverage_g, meta_from(meta)?, missing.parse()?)?;
        Ok(log.into())
    }

    /// Stamps in s, as logged.
    #[getter]
    fn time_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.array(py, "time_s", self.inner.time_s())
    }

    /// Reading of the scale under the brewer, g; None if the water was not weighed.
    #[getter]
    fn water_g(&self, py: Python<'_>) -> PyResult<Option<Py<PyAny>>> {
        self.inner.water_g().map(|values| self.array(py, "water_g", values)).transpose()
    }

    /// Reading of the scale under the server alone, g; None if the beverage was not weighed.
    #[getter]
    fn beverage_g(&self, py: Python<'_>) -> PyResult<Option<Py<PyAny>>> {
        self.inner.beverage_g().map(|values| self.array(py, "beverage_g", values)).transpose()
    }

    /// Metadata of the brew.
    #[getter]
    fn meta(&self) -> PyMeta {
        self.inner.meta.clone().into()
    }

    /// How the file was read, each a sentence without its full stop; empty if the file states all of it, and for arrays.
    ///
    /// The notes list the lines that hold no sample and were skipped, and what only the cells show: the unit of a count
    /// since 1970, the parts of a clock, separators of thousands, equal columns.
    ///
    /// >>> import pourline
    /// >>> log = pourline.read(b"time_s,water_g\n0.0,0.0\n0.1,0.4\n0.2,1.1\nTotal,1.1\n")
    /// >>> log.notes
    /// ['line 5 ("Total,1.1") holds no sample and was skipped']
    #[getter]
    fn notes(&self) -> Vec<String> {
        self.inner.notes().to_vec()
    }

    /// SHA-256 of the samples, as 64 hexadecimal digits: independent of the file format.
    #[getter]
    fn digest(&self) -> String {
        self.inner.digest()
    }

    fn __len__(&self) -> usize {
        self.inner.len()
    }

    fn __repr__(&self, py: Python<'_>) -> PyResult<String> {
        let log = &self.inner;
        let first_and_last = log.time_s().first().zip(log.time_s().last());
        let span_s = first_and_last.map_or(0.0, |(first, last)| last - first);
        let weighed: Vec<_> = [log.water_g().map(|_| "water_g"), log.beverage_g().map(|_| "beverage_g")]
            .into_iter()
            .flatten()
            .collect();
        let meta = self.meta().__repr__(py)?;
        let notes = match log.notes().len() {
            0 => String::new(),
            1 => ", 1 note".into(),
            n => format!(", {n} notes"),
        };
        Ok(format!(
            "<Log: {} samples over {span_s:.1} s, {}, {meta}{notes}>",
            log.len(),
            weighed.join(" and ")
        ))
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.cards")?.call_method1("log_card", (slf,))?.extract()
    }
}}
