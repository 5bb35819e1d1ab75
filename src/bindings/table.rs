//! The library's [`Table`] as `pourline.Table`, which is written in Python, where Arrow lives.

use super::show::Show;
use crate::table::{Table, Values};
use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// A `pourline.Table` of numpy arrays.
pub(super) fn table<'py>(py: Python<'py>, table: &Table) -> PyResult<Bound<'py, PyAny>> {
    let [columns, units, notes] = [(); 3].map(|()| PyDict::new(py));
    for column in &table.columns {
        let values = match &column.values {
            Values::Number(numbers) => PyArray1::from_slice(py, numbers).into_any(),
            Values::Whole(numbers) => PyArray1::from_slice(py, numbers).into_any(),
            Values::Text(texts) => py.import("numpy")?.call_method1("array", (texts, "U"))?,
        };
        columns.set_item(&column.name, values)?;
        units.set_item(&column.name, &column.unit)?;
        notes.set_item(&column.name, &column.note)?;
    }
    py.import("pourline.tables")?.getattr("Table")?.call1((columns, units, notes))
}

impl Show for Table {
    fn hint() -> String {
        "Table".into()
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        Ok(table(py, self)?.unbind())
    }
}
