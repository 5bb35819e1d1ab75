//! In: Python dicts, lists, numbers and texts. Out: the library's plain structs, by serde; and back. The error for an
//! unknown key names the nearest known one.

use super::arrays::short;
use super::error::argument;
use super::nearest::nearest;
use crate::scale::calibrate::Calibration;
use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyDict, PyFloat, PyInt, PyList, PySequence, PyString};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use std::path::PathBuf;

/// `base` with the given keys replaced. `name` is the name of the struct in messages.
pub(super) fn from_dict<T: Serialize + DeserializeOwned>(
    name: &str,
    base: T,
    given: &Bound<'_, PyAny>,
) -> PyResult<T> {
    let mut all = to_json(name, &base)?;
    let mut leaves = Vec::new();
    collect(name, &all, given, "", &mut leaves)?;
    let mut built = base;
    for (path, pointer, value) in leaves {
        if let Some(place) = all.pointer_mut(&pointer) {
            *place = value;
        }
        // One key at a time, because the message names it.
        built = serde_json::from_value(all.clone()).map_err(|e| argument(path, e.to_string()))?;
    }
    Ok(built)
}

/// Options from the keywords of a function; missing ones have their default.
pub(super) fn options_of<T: Default + Serialize + DeserializeOwned>(
    name: &str,
    given: Option<&Bound<'_, PyDict>>,
) -> PyResult<T> {
    given.map_or_else(|| Ok(T::default()), |given| from_dict(name, T::default(), given))
}

/// A result as JSON text. `name` is its name in messages.
pub(super) fn text(name: &str, value: &impl Serialize) -> PyResult<String> {
    serde_json::to_string(value).map_err(|e| argument(name, e.to_string()))
}

/// The given values, each with its path, to the depth of the defaults.
fn collect(
    name: &str,
    default: &Value,
    given: &Bound<'_, PyAny>,
    pointer: &str,
    leaves: &mut Vec<(String, String, Value)>,
) -> PyResult<()> {
    let known = match default {
        Value::Object(known) if pointer.is_empty() || !known.is_empty() => known,
        _ => {
            leaves.push((name.into(), pointer.into(), leaf(name, given)?));
            return Ok(());
        }
    };
    let Ok(given) = given.cast::<PyDict>() else {
        return Err(argument(name, format!("a dict is needed, not {}", short(given))));
    };
    for (key, value) in given {
        let Ok(key) = key.extract::<String>() else {
            return Err(argument(name, format!("{} is not a name", short(&key))));
        };
        let path = if name.is_empty() { key.clone() } else { format!("{name}.{key}") };
        let Some(default) = known.get(&key) else {
            return Err(argument(path, unknown(&key, known.keys().map(String::as_str))));
        };
        collect(&path, default, &value, &format!("{pointer}/{key}"), leaves)?;
    }
    Ok(())
}

/// One value. A scale is its response, a calibration that has one, or the path of its file.
fn leaf(name: &str, given: &Bound<'_, PyAny>) -> PyResult<Value> {
    if name != SCALE {
        return from_python(name, given);
    }
    if let Ok(written) = given.getattr("_as_option") {
        let text: String = written.call0()?.extract()?;
        return serde_json::from_str(&text).map_err(|e| argument(name, e.to_string()));
    }
    match given.extract::<PathBuf>() {
        Ok(path) => to_json(name, &Calibration::read(path)?.response),
        Err(_) => from_python(name, given),
    }
}

/// The option that is a scale.
const SCALE: &str = "condition.scale";

/// The message for a name that does not exist.
pub(super) fn unknown<'a>(name: &str, known: impl Iterator<Item = &'a str> + Clone) -> String {
    let nearest = nearest(name, known.clone());
    format!(
        "there is no such name; the nearest is {nearest:?}, all are: {}",
        known.collect::<Vec<_>>().join(", ")
    )
}

/// A struct as JSON.
pub(super) fn to_json(name: &str, value: &impl Serialize) -> PyResult<Value> {
    serde_json::to_value(value).map_err(|e| argument(name, e.to_string()))
}

/// A Python value as JSON.
pub(super) fn from_python(name: &str, value: &Bound<'_, PyAny>) -> PyResult<Value> {
    if value.is_none() {
        return Ok(Value::Null);
    }
    if let Ok(truth) = value.cast::<PyBool>() {
        return Ok(truth.is_true().into());
    }
    if let Ok(text) = value.cast::<PyString>() {
        return Ok(text.to_string_lossy().into());
    }
    if let Ok(dict) = value.cast::<PyDict>() {
        let pairs = dict.iter().map(|(key, value)| {
            let key = key.str()?.to_string_lossy().into_owned();
            let value = from_python(&format!("{name}.{key}"), &value)?;
            Ok((key, value))
        });
        return Ok(Value::Object(pairs.collect::<PyResult<Map<_, _>>>()?));
    }
    if let Ok(whole) = value.extract::<i64>() {
        return Ok(whole.into());
    }
    if let Ok(number) = value.extract::<f64>() {
        let number = serde_json::Number::from_f64(number);
        return number.map(Value::Number).ok_or_else(|| argument(name, format!("{value} is not finite")));
    }
    if value.cast::<PySequence>().is_ok() || value.hasattr("tolist")? {
        let items = value.try_iter()?.map(|item| from_python(name, &item?));
        return Ok(Value::Array(items.collect::<PyResult<_>>()?));
    }
    Err(argument(name, format!("a number, a text, a list or a dict is needed, not {}", short(value))))
}

/// JSON as Python values.
pub(super) fn to_python<'py>(py: Python<'py>, value: &Value) -> PyResult<Bound<'py, PyAny>> {
    match value {
        Value::Null => Ok(py.None().into_bound(py)),
        Value::Bool(truth) => Ok(PyBool::new(py, *truth).to_owned().into_any()),
        Value::Number(number) => match number.as_i64() {
            Some(whole) => PyInt::new(py, whole).into_bound_py_any(py),
            None => PyFloat::new(py, number.as_f64().unwrap_or(f64::NAN)).into_bound_py_any(py),
        },
        Value::String(text) => PyString::new(py, text).into_bound_py_any(py),
        Value::Array(items) => {
            py.check_signals()?;
            let items = items.iter().map(|item| to_python(py, item)).collect::<PyResult<Vec<_>>>()?;
            PyList::new(py, items)?.into_bound_py_any(py)
        }
        Value::Object(pairs) => {
            let dict = PyDict::new(py);
            for (key, value) in pairs {
                dict.set_item(key, to_python(py, value)?)?;
            }
            dict.into_bound_py_any(py)
        }
    }
}
