//! `gather`, `Study` and `Design`: many brews in rows.

use super::arrays::{numbers, short};
use super::brew::PyBrew;
use super::error::argument;
use super::run::run;
use super::show::{Show, class};
use crate::brew::result::Brew;
use crate::study::gather::brews::Pours;
use crate::study::gather::design::Design;
use crate::study::gather::study::{Missing, Study, Taken};
use crate::table::{Table, Values};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyList, PyString, PyTuple};
use std::collections::BTreeMap;

Study! { class
/// `gather` makes one from brews. `Study(table)` makes one from other numbers: any object with the Arrow PyCapsule
/// interface. Texts are factors, numbers are measures, `mass_sd_g` is the sd of `mass_g`, and `brew` names the brew.
///
/// >>> import pourline
/// >>> columns = {"kettle": ["Fernspout", "Broadlip"], "yield_pct": [20.1, 21.0], "yield_sd_pct": [0.5, 0.5]}
/// >>> own = pourline.Table(columns)
/// >>> study = pourline.Study(own)
/// >>> study.factors, study.measures
/// (['kettle'], ['yield_pct'])
PyStudy("pourline", "Study")
[
    /// Names of the factors, sorted.
    factors: Vec<String> = Study::factors;
    /// Names of the measures, sorted.
    measures: Vec<String> = Study::measures;
    /// Names of the brews that carry warnings, sorted.
    warned: Vec<String> = Study::warned;
    /// Unit of each measure that has one.
    units: BTreeMap<String, String> = |of| {
        of.units.iter().filter(|(_, unit)| !unit.is_empty()).map(|(n, u)| (n.clone(), u.clone())).collect()
    };
] {
    #[new]
    fn new(table: &Bound<'_, PyAny>) -> PyResult<Self> {
        Ok(Study::of(&own_table(table)?)?.into())
    }

    /// The levels of a factor, sorted.
    ///
    /// `factor` is the name of one.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"brew": ["1", "2"], "kettle": ["y", "x"], "flow": [5.0, 6.0]})
    /// >>> pourline.Study(own).levels("kettle")
    /// ['x', 'y']
    fn levels(&self, factor: &str) -> Vec<String> {
        self.inner.levels(factor)
    }

    /// The study of the rows that have all the given levels.
    ///
    /// >>> import pourline
    /// >>> study = pourline.Study(pourline.Table({"kettle": ["Fernspout", "Broadlip"], "yield_pct": [20.1, 21.0]}))
    /// >>> len(study.only(kettle="Broadlip"))
    /// 1
    #[pyo3(signature = (**levels))]
    fn only(&self, levels: Option<&Bound<'_, PyDict>>) -> PyResult<Self> {
        let mut study = self.inner.clone();
        for (factor, level) in levels.into_iter().flatten() {
            study = study.only(&factor.extract::<String>()?, &level.str()?.extract::<String>()?)?;
        }
        Ok(study.into())
    }

    /// One measure with its sd and the levels of some factors, one row per brew that has them all.
    ///
    /// >>> import pourline
    /// >>> study = pourline.Study(pourline.Table({"kettle": ["Fernspout", "Broadlip"], "yield_pct": [20.1, 21.0]}))
    /// >>> study.take("yield_pct", "kettle").columns
    /// ['brew', 'kettle', 'yield_pct', 'yield_sd_pct']
    #[pyo3(signature = (measure, *factors))]
    fn take(&self, measure: &str, factors: &Bound<'_, PyTuple>) -> PyResult<Py<PyAny>> {
        let names = texts(factors)?;
        taken(&self.inner, measure, &names)?.table(&names).show(factors.py())
    }

    /// Missing values of a measure and some factors: brew, pour, name and reason.
    ///
    /// One row per brew that is excluded, or included with some of its pours.
    ///
    /// >>> import pourline
    /// >>> study = pourline.Study(pourline.Table({"brew": ["a", "b"], "yield_pct": [20.1, float("nan")]}))
    /// >>> study.missing("yield_pct").to_dict()["reason"]
    /// ['the table has no value there']
    #[pyo3(signature = (measure, *factors))]
    fn missing(&self, measure: &str, factors: &Bound<'_, PyTuple>) -> PyResult<Py<PyAny>> {
        missing_table(factors.py(), &taken(&self.inner, measure, &texts(factors)?)?)
    }

    /// Layout of two factors: crossed, nested or partial.
    ///
    /// `first` and `second` are names of factors; returns a `Design`.
    ///
    /// >>> import pourline
    /// >>> columns = {"brew": ["1", "2"], "person": ["Ada", "Bo"], "kettle": ["x", "y"], "flow": [5.0, 6.0]}
    /// >>> own = pourline.Table(columns)
    /// >>> pourline.Study(own).design("person", "kettle").layout
    /// 'nested'
    fn design(&self, first: &str, second: &str) -> PyResult<PyDesign> {
        Ok(self.inner.design(first, second)?.into())
    }

    /// One row per brew, or per pour: name, factors, and every number with its sd.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"brew": ["1", "2"], "kettle": ["y", "x"], "flow": [5.0, 6.0]})
    /// >>> pourline.Study(own).table().columns[:4]
    /// ['brew', 'kettle', 'flow', 'flow_sd']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    /// The same table as a pandas DataFrame.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"brew": ["1", "2"], "kettle": ["y", "x"], "flow": [5.0, 6.0]})
    /// >>> pourline.Study(own).to_pandas()["flow"].tolist()
    /// [5.0, 6.0]
    fn to_pandas(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.table(py)?.call_method0(py, "to_pandas")
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.result_cards")?.call_method1("study_card", (slf,))?.extract()
    }

    fn __len__(&self) -> usize {
        self.inner.rows.len()
    }

    fn __repr__(&self) -> String {
        let levels = |f: &String| format!("{} {f}", self.inner.levels(f).len());
        let factors: Vec<String> = self.inner.factors().iter().map(levels).collect();
        let factors = if factors.is_empty() { "no factor".into() } else { factors.join(", ") };
        let warned = match self.inner.warned().len() {
            0 => String::new(),
            n => format!("; {n} brew{} with warnings", if n == 1 { "" } else { "s" }),
        };
        format!(
            "<Study of {} rows: {factors}; {} measures{warned}>",
            self.inner.rows.len(),
            self.inner.measures().len()
        )
    }
}}

Design! { class
/// >>> import pourline
/// >>> own = pourline.Table({"person": ["Ada", "Ada", "Bo", "Bo"], "kettle": ["Fernspout", "Broadlip"] * 2})
/// >>> design = pourline.Study(own).design("person", "kettle")
/// >>> design.layout, design.balanced
/// ('crossed', True)
PyDesign("pourline", "Design") {
    /// Number of brews: one row per level of the first factor, one column per level of the second.
    ///
    /// >>> import pourline
    /// >>> own = pourline.Table({"person": ["Ada", "Ada", "Bo"], "kettle": ["x", "y", "x"], "flow": [5.0, 6.0, 5.2]})
    /// >>> print(pourline.Study(own).design("person", "kettle").table())
    /// person  x  y
    ///    Ada  1  1
    ///     Bo  1  0
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    fn __repr__(&self) -> String {
        let Design { factors: [first, second], layout, balanced, .. } = &self.inner;
        let balance = if *balanced { "balanced" } else { "not balanced" };
        format!("<Design: {first} and {second} {}, {balance}>", layout.name())
    }
}}

/// Study of these brews, one row per brew.
///
/// `pours` is "mean" (each number of a pour is the mean over the brew's pours), the number of a pour from 1, or "each"
/// (one row per pour; the pours of one brew are never counted as independent). An error in the list of `analyze_many`
/// is listed as missing. `with_warnings` is "keep" or "drop": brews that carry warnings are listed as missing, too.
///
/// >>> import pourline
/// >>> names = "fernspout-ada-01", "broadlip-ada-09"
/// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> study = pourline.gather(brews)
/// >>> study.take("mean_flow_g_per_s", "kettle")["kettle"].tolist()
/// ['Fernspout', 'Broadlip']
#[pyfunction]
#[pyo3(signature = (brews, pours = None, with_warnings = "keep"))]
pub(super) fn gather(
    py: Python<'_>,
    brews: &Bound<'_, PyAny>,
    pours: Option<&Bound<'_, PyAny>>,
    with_warnings: &str,
) -> PyResult<PyStudy> {
    if !["keep", "drop"].contains(&with_warnings) {
        return Err(argument(
            "with_warnings",
            format!("\"keep\" or \"drop\" is needed, not {with_warnings:?}"),
        ));
    }
    let pours = which(pours)?;
    let (analysed, failed) = listed_brews(brews, |brew| format!("a Brew is needed, not {}", short(brew)))?;
    let mut study = run(py, move || crate::study::gather::brews::gather(&analysed, pours))??;
    study.failed = failed;
    Ok(if with_warnings == "drop" { study.without_warned() } else { study }.into())
}

/// Brews, each with a name, and the missing ones for errors; `wrong` is the message for other objects.
pub(super) fn listed_brews(
    brews: &Bound<'_, PyAny>,
    wrong: impl Fn(&Bound<'_, PyAny>) -> String,
) -> PyResult<(Vec<Brew>, Vec<Missing>)> {
    let (mut analysed, mut failed): (Vec<Brew>, Vec<Missing>) = (Vec::new(), Vec::new());
    for (i, brew) in brews.try_iter()?.enumerate() {
        brews.py().check_signals()?;
        let (brew, name) = (brew?, format!("brew {}", i + 1));
        if let Ok(brew) = brew.cast::<PyBrew>() {
            let mut brew = brew.get().inner.clone();
            brew.meta.name.get_or_insert(name);
            analysed.push(brew);
        } else if brew.is_instance_of::<PyValueError>() {
            let reason = brew.str()?.extract()?;
            failed.push(Missing { brew: name, pour: None, what: "brew".into(), reason });
        } else {
            return Err(argument("brews", wrong(&brew)));
        }
    }
    Ok((analysed, failed))
}

fn which(pours: Option<&Bound<'_, PyAny>>) -> PyResult<Pours> {
    let Some(given) = pours else { return Ok(Pours::Mean) };
    if let Ok(place) = given.extract::<usize>() {
        return Ok(Pours::Number(place));
    }
    match given.extract::<String>().as_deref() {
        Ok("mean") => Ok(Pours::Mean),
        Ok("each") => Ok(Pours::Each),
        _ => {
            let message = format!("\"mean\", \"each\" or a place from 1 is needed, not {}", short(given));
            Err(argument("pours", message))
        }
    }
}

/// A study from a `Study`, from brews, or from a table.
pub(super) fn study_from(given: &Bound<'_, PyAny>) -> PyResult<Study> {
    if let Ok(study) = given.cast::<PyStudy>() {
        return Ok(study.get().inner.clone());
    }
    if given.hasattr("__arrow_c_stream__")? {
        return Ok(Study::of(&own_table(given)?)?);
    }
    if given.is_instance_of::<PyString>() || given.try_iter().is_err() {
        return Err(argument("study", format!("a Study, brews or a table is needed, not {}", short(given))));
    }
    Ok(gather(given.py(), given, None, "keep")?.inner)
}

/// Missing values of a measure.
pub(super) fn missing_table(py: Python<'_>, taken: &Taken) -> PyResult<Py<PyAny>> {
    Missing::table(&[&taken.missing[..], &taken.partial].concat()).show(py)
}

/// One measure with some factors.
fn taken(study: &Study, measure: &str, factors: &[String]) -> PyResult<Taken> {
    Ok(study.take(measure, &factors.iter().map(String::as_str).collect::<Vec<_>>())?)
}

fn texts(names: &Bound<'_, PyTuple>) -> PyResult<Vec<String>> {
    names.iter().map(|name| name.extract()).collect()
}

/// Names, or a single one.
pub(super) fn names(given: Option<&Bound<'_, PyAny>>) -> PyResult<Vec<String>> {
    let Some(given) = given else { return Ok(Vec::new()) };
    given.extract::<String>().map(|one| vec![one]).or_else(|_| given.extract())
}

/// A table with the Arrow PyCapsule interface.
fn own_table(source: &Bound<'_, PyAny>) -> PyResult<Table> {
    let py = source.py();
    if !source.hasattr("__arrow_c_stream__")? {
        let message = format!("a table with __arrow_c_stream__ is needed, not {}", short(source));
        return Err(argument("table", message));
    }
    let arrow = py.import("pourline._io.arrow")?;
    let given = arrow.call_method1("table", (source,))?;
    let mut found = Table::default();
    for (i, name) in given.getattr("column_names")?.extract::<Vec<String>>()?.iter().enumerate() {
        let values = arrow.call_method1("column_or_texts", (&given, i))?;
        let unit: String = arrow.call_method1("unit", (&given, i))?.extract()?;
        let values = match values.cast::<PyList>() {
            Ok(list) => {
                let texts: Vec<Option<String>> = list.extract()?;
                Values::Text(texts.into_iter().map(Option::unwrap_or_default).collect())
            }
            Err(_) => {
                let numbers = numbers(name, &values)?;
                match name.as_str() {
                    "pour" => Values::Whole(numbers.iter().map(|&n| n as i64).collect()),
                    _ => Values::Number(numbers),
                }
            }
        };
        found.push(name, &unit, values);
    }
    Ok(found)
}
