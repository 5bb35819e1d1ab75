//! In: anything that numpy converts to one column of numbers. Out: `Vec<f64>`.

use super::error::argument;
use crate::error::Error;
use numpy::PyReadonlyArray1;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyString};

/// The column `name` as numbers. A float64 array is copied once, into the log; anything else numpy converts first.
pub(super) fn numbers(name: &str, source: &Bound<'_, PyAny>) -> PyResult<Vec<f64>> {
    if let Ok(array) = source.extract::<PyReadonlyArray1<'_, f64>>()
        && !source.hasattr("mask")?
    {
        return Ok(array.as_array().to_vec());
    }
    let one_value = source.is_instance_of::<PyString>()
        || source.is_instance_of::<PyBytes>()
        || source.is_instance_of::<PyDict>();
    if one_value {
        return Err(not_a_column(name, source));
    }
    let array = source
        .py()
        .import("numpy.ma")?
        .call_method1("asarray", (source,))
        .map_err(|_| not_a_column(name, source))?;
    if array.getattr("ndim")?.extract::<usize>()? != 1 {
        return Err(not_a_column(name, source));
    }
    let kind: String = array.getattr("dtype")?.getattr("kind")?.extract()?;
    match kind.as_str() {
        "f" | "i" | "u" => {
            let floats = array.call_method1("astype", ("float64",))?.call_method1("filled", (f64::NAN,))?;
            Ok(floats.extract::<PyReadonlyArray1<'_, f64>>()?.as_array().to_vec())
        }
        "O" => objects(name, &array),
        _ => Err(not_a_column(name, source)),
    }
}

/// An array of Python objects: numbers, with `None` or `NA` for a missing reading.
fn objects(name: &str, array: &Bound<'_, PyAny>) -> PyResult<Vec<f64>> {
    let mut numbers = Vec::new();
    for (index, item) in array.try_iter()?.enumerate() {
        let item = item?;
        if item.is_none() || item.get_type().name()? == "NAType" {
            numbers.push(f64::NAN);
        } else {
            numbers.push(item.extract::<f64>().map_err(|_| Error::NotANumber {
                column: name.into(),
                row: index + 1,
                text: short(&item),
            })?);
        }
    }
    Ok(numbers)
}

fn not_a_column(name: &str, source: &Bound<'_, PyAny>) -> PyErr {
    argument(name, format!("one column of numbers is needed, not {}", short(source)))
}

/// A value in a message: its type and the start of its repr.
pub(super) fn short(value: &Bound<'_, PyAny>) -> String {
    let repr = value.repr().map(|r| r.to_string_lossy().into_owned()).unwrap_or_default();
    let kind = value.get_type().name().map(|n| n.to_string()).unwrap_or_default();
    format!("{} ({kind})", repr.chars().take(80).collect::<String>())
}
