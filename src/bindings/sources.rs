//! `read`. In: a path, bytes, or a table with an Arrow stream. Out: a `Log`, by one set of rules for columns and units.

use super::arrays::{numbers, short};
use super::error::argument;
use super::log::PyLog;
use super::meta::meta_from;
use super::run::run;
use crate::error::{Error, Result};
use crate::log::columns::{Chosen, choose};
use crate::log::meta::Meta;
use crate::log::options::ReadOptions;
use crate::log::record::Log;
use crate::log::stamps::Stamps;
use crate::log::units::TimeUnit;
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyInt, PyList, PyMapping, PyString};
use std::path::{Path, PathBuf};

/// Source of a log.
pub(super) enum Source {
    /// A log in memory.
    Log(Py<PyLog>),
    /// A text file; reading it needs no Python.
    File(PathBuf),
}

/// The source of an argument. Tables and Parquet are read at once, because that needs Python.
pub(super) fn source(given: &Bound<'_, PyAny>) -> PyResult<Source> {
    if let Ok(log) = given.cast::<PyLog>() {
        return Ok(Source::Log(log.clone().unbind()));
    }
    if let Ok(error) = given.cast::<pyo3::exceptions::PyValueError>() {
        return Err(PyErr::from_value(error.clone().into_any()));
    }
    match path_of(given) {
        Some(path) if !is_parquet(&path) && !is_workbook(&path) => Ok(Source::File(path)),
        _ => {
            let log = log_from(given, &ReadOptions::default(), Meta::default())?;
            Ok(Source::Log(Py::new(given.py(), PyLog::from(log))?))
        }
    }
}

/// Reads a text file by its column names.
pub(super) fn read_file(path: &Path) -> Result<Log> {
    Log::read(path, &ReadOptions::default(), Meta::default())
}

fn path_of(given: &Bound<'_, PyAny>) -> Option<PathBuf> {
    if given.is_instance_of::<PyBytes>() { None } else { given.extract().ok() }
}

fn is_parquet(path: &Path) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case("parquet") || e.eq_ignore_ascii_case("pq"))
}

fn is_workbook(path: &Path) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case("xlsx") || e.eq_ignore_ascii_case("xlsm"))
}

/// The log of the only sheet that holds one.
fn workbook(py: Python<'_>, path: &Path, options: &ReadOptions, meta: &Meta) -> PyResult<Log> {
    let sheets: Vec<(String, Vec<u8>)> =
        py.import("pourline._io.workbook")?.call_method1("sheets", (path,))?.extract()?;
    let (mut found, mut refused) = (Vec::new(), None);
    for (name, text) in &sheets {
        match py.detach(|| Log::read_bytes(text, options, meta.clone())) {
            Ok(log) => found.push((name, log)),
            Err(error) => refused = refused.or(Some(error)),
        }
    }
    let names =
        |names: Vec<&String>| names.iter().map(|name| format!("{name:?}")).collect::<Vec<_>>().join(", ");
    if found.len() > 1 {
        let both = names(found.iter().map(|(name, _)| *name).collect());
        let message = format!("the sheets {both} each hold a log: save each of them as its own file");
        return Err(Error::Column { message }.into());
    }
    let Some((own, log)) = found.pop() else {
        return Err(refused.unwrap_or_else(|| Error::Empty { what: path.display().to_string() }).into());
    };
    let others = names(sheets.iter().map(|(name, _)| name).filter(|name| *name != own).collect());
    let note = format!("the sheet {own:?} was read; no log is in {others}");
    Ok(if others.is_empty() { log } else { log.noted(vec![note]) })
}

fn log_from(given: &Bound<'_, PyAny>, options: &ReadOptions, meta: Meta) -> PyResult<Log> {
    let py = given.py();
    if let Ok(bytes) = given.cast::<PyBytes>() {
        let (bytes, options) = (bytes.as_bytes().to_vec(), options.clone());
        return Ok(run(py, move || Log::read_bytes(&bytes, &options, meta))??);
    }
    if let Some(path) = path_of(given) {
        if !is_parquet(&path) && !is_workbook(&path) {
            let options = options.clone();
            return Ok(run(py, move || Log::read(&path, &options, meta))??);
        }
        let mut meta = meta;
        if is_workbook(&path) {
            let mut log = workbook(py, &path, options, &meta)?;
            log.meta.name =
                log.meta.name.or_else(|| path.file_stem().map(|n| n.to_string_lossy().into_owned()));
            return Ok(log);
        }
        if meta.name.is_none() {
            meta.name = path.file_stem().map(|name| name.to_string_lossy().into_owned());
        }
        let file = py.import("pourline._io.arrow")?.call_method1("parquet", (path,))?;
        let mut chosen = choose(&names_of(&file)?, options)?;
        let mut places = vec![&mut chosen.time.index];
        places.extend(chosen.water.as_mut().map(|pick| &mut pick.index));
        places.extend(chosen.beverage.as_mut().map(|pick| &mut pick.index));
        // Only these are read, in this order.
        let wanted: Vec<usize> = places.iter().map(|place| **place).collect();
        places.into_iter().enumerate().for_each(|(i, place)| *place = i);
        return table_to_log(&file.call_method1("take", (wanted,))?, chosen, options, meta);
    }
    if given.hasattr("__arrow_c_stream__")? || given.cast::<PyMapping>().is_ok() {
        let arrow = py.import("pourline._io.arrow")?;
        let table = arrow.call_method1("table", (arrow.call_method1("framed", (given,))?,))?;
        let chosen = choose(&names_of(&table)?, options)?;
        return table_to_log(&table, chosen, options, meta);
    }
    let message = format!("a path, bytes, a table or a dict of columns is needed, not {}", short(given));
    Err(argument("source", message))
}

fn names_of(table: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    table.getattr("column_names")?.extract()
}

fn table_to_log(
    table: &Bound<'_, PyAny>,
    mut chosen: Chosen,
    options: &ReadOptions,
    meta: Meta,
) -> PyResult<Log> {
    let arrow = table.py().import("pourline._io.arrow")?;
    if arrow.call_method1("is_clock", (table, chosen.time.index))?.extract()? {
        // A duration or a time of day is in s, whatever its name.
        chosen.time.unit = Some(TimeUnit::S);
    }
    let column = |index: usize| arrow.call_method1("column", (table, index));
    let weight = |index: usize, name: &str| -> PyResult<Vec<f64>> {
        let values = column(index)?;
        if values.is_instance_of::<PyList>() {
            let message = format!("column {name:?} has texts; a weight is needed");
            return Err(Error::Column { message }.into());
        }
        numbers(name, &values)
    };
    let time = column(chosen.time.index)?;
    let stamps = match time.cast::<PyList>() {
        Ok(texts) => Stamps::Texts(stamps_of(&chosen.time.name, texts)?),
        Err(_) => Stamps::Numbers(numbers(&chosen.time.name, &time)?),
    };
    let water = chosen.water.as_ref().map(|pick| weight(pick.index, &pick.name)).transpose()?;
    let beverage = chosen.beverage.as_ref().map(|pick| weight(pick.index, &pick.name)).transpose()?;
    Ok(Log::from_columns(&chosen, stamps, water, beverage, options, meta)?)
}

fn stamps_of(column: &str, texts: &Bound<'_, PyList>) -> PyResult<Vec<String>> {
    let missing = |row| Error::NotFinite { column: column.into(), row, value: f64::NAN };
    let texts = texts.iter().enumerate().map(|(i, text)| {
        let text: Option<String> = text.extract()?;
        Ok(text.ok_or_else(|| missing(i + 1))?)
    });
    texts.collect()
}

/// A column by its name or by its number.
fn column_of(name: &str, given: Option<&Bound<'_, PyAny>>) -> PyResult<Option<String>> {
    match given {
        None => Ok(None),
        Some(given) if given.is_instance_of::<PyString>() || given.is_instance_of::<PyInt>() => {
            Ok(Some(given.str()?.to_string_lossy().into_owned()))
        }
        Some(given) => Err(argument(
            name,
            format!("a column's name, or its number from 1, is needed, not {}", short(given)),
        )),
    }
}

/// Reads a log from a file (CSV, TSV, JSON Lines, Parquet, a workbook), the bytes of such a text, or a table with an Arrow stream.
///
/// `time`, `water` and `beverage` give a column by name or by number from 1; without them they are found by name.
/// Units come from the names (`time_ms`, `weight (oz)`) or from `time_unit` (s, ms, us, ns, min) and `mass_unit` (g,
/// kg, mg, oz); they are never guessed. Dates and times, clocks and counts since 1970 need no unit. `source` is a path,
/// the bytes of a text, a table, a dict of columns, or a series with its times as index. `missing` is "refuse" or
/// "flag": the treatment of empty cells of a weight, see `Log`. Further keywords (`meta`) are metadata, see `Meta`.
/// Returns a `Log`.
///
/// >>> import pourline
/// >>> text = b"time_ms;cup_kg\n0;0,0\n100;0,0004\n200;0,0011\n"
/// >>> log = pourline.read(text, dose_g=15)
/// >>> log.time_s, log.beverage_g
/// (array([0. , 0.1, 0.2]), array([0. , 0.4, 1.1]))
/// >>> table = pourline.Table({"t (s)": [0.0, 0.1, 0.2], "poured": [0.0, 0.4, 1.1]})
/// >>> pourline.read(table, mass_unit="g").water_g
/// array([0. , 0.4, 1.1])
#[pyfunction]
#[pyo3(signature = (
    source, *, time = None, water = None, beverage = None, time_unit = None, mass_unit = None, missing = "refuse",
    **meta
))]
#[expect(clippy::too_many_arguments, reason = "keywords of a Python function")]
pub(super) fn read(
    source: &Bound<'_, PyAny>,
    time: Option<&Bound<'_, PyAny>>,
    water: Option<&Bound<'_, PyAny>>,
    beverage: Option<&Bound<'_, PyAny>>,
    time_unit: Option<&str>,
    mass_unit: Option<&str>,
    missing: &str,
    meta: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyLog> {
    let options = ReadOptions {
        time: column_of("time", time)?,
        water: column_of("water", water)?,
        beverage: column_of("beverage", beverage)?,
        time_unit: time_unit.map(str::parse).transpose()?,
        mass_unit: mass_unit.map(str::parse).transpose()?,
        missing: missing.parse()?,
    };
    Ok(log_from(source, &options, meta_from(meta)?)?.into())
}
