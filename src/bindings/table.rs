//! The library's [`Table`] as `pourline.Table`, which is written in Python, where Arrow lives.

use crate::{Table, Values};
use numpy::PyArray1;
use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList};

/// A `pourline.Table` of numpy arrays and lists of texts.
pub(super) fn table<'py>(py: Python<'py>, table: &Table) -> PyResult<Bound<'py, PyAny>> {
    let (columns, units) = (PyDict::new(py), PyDict::new(py));
    for column in &table.columns {
        let values = match &column.values {
            Values::Number(numbers) => PyArray1::from_slice(py, numbers).into_any(),
            Values::Whole(numbers) => PyArray1::from_slice(py, numbers).into_any(),
            Values::Text(texts) => PyList::new(py, texts)?.into_bound_py_any(py)?,
        };
        columns.set_item(&column.name, values)?;
        units.set_item(&column.name, &column.unit)?;
    }
    py.import("pourline.tables")?.getattr("Table")?.call1((columns, units))
}
