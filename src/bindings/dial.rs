//! `dial_in`: a measure against a setting, and the setting for a target.

use super::balance::or_why;
use super::dial_fits::{Array, PyDialLine, PyMonotone};
use super::error::argument;
use super::estimate::{maybe, maybe_from};
use super::study::study_from;
use super::table::table;
use super::trace::word;
use crate::estimate::{Estimate, Undefined};
use crate::study::dial_in::dial::DialOptions;
use crate::study::dial_in::dialled::SettingFit;
use crate::study::dial_in::fieller::SettingInterval;
use crate::study::dial_in::monotone::Direction;
use crate::study::dial_in::target::TargetSetting;
use crate::study::gather::study::Missing;
use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::types::PyString;

/// A measure against a setting: a line and a monotone curve, which of them will do, and the setting for the target.
///
/// >>> import pourline
/// >>> dialled = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39], target=1.40)
/// >>> dialled.preferred, f"{dialled.setting}"
/// ('line', '22.92 ± 0.38')
/// >>> 23 in dialled.interval, 20 in dialled.interval
/// (True, False)
#[pyclass(frozen, module = "pourline", name = "SettingFit")]
pub(super) struct PySettingFit {
    inner: SettingFit,
}

#[pymethods]
impl PySettingFit {
    /// Name of the setting.
    #[getter]
    fn x_name(&self) -> &str {
        &self.inner.x_name
    }

    /// Its unit, empty where it has none.
    #[getter]
    fn x_unit(&self) -> &str {
        &self.inner.x_unit
    }

    /// Name of the measure.
    #[getter]
    fn y_name(&self) -> &str {
        &self.inner.y_name
    }

    /// Its unit, empty where it has none.
    #[getter]
    fn y_unit(&self) -> &str {
        &self.inner.y_unit
    }

    /// Setting of each brew.
    #[getter]
    fn x<'py>(&self, py: Python<'py>) -> Array<'py> {
        PyArray1::from_slice(py, &self.inner.x)
    }

    /// What was measured of each.
    #[getter]
    fn y(&self) -> Vec<Estimate> {
        self.inner.y.clone()
    }

    /// Name of each; empty where plain numbers were given.
    #[getter]
    fn brews(&self) -> Vec<String> {
        self.inner.brews.clone()
    }

    /// Brews that could not take part, or take part with some of their pours, each with the reason.
    #[getter]
    fn missing<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &Missing::table(&self.inner.missing))
    }

    /// Level of every interval and band.
    #[getter]
    fn level(&self) -> f64 {
        self.inner.level
    }

    /// The target, where one was given.
    #[getter]
    fn target(&self) -> Option<f64> {
        self.inner.target
    }

    /// The straight line.
    #[getter]
    fn line(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        or_why(py, self.inner.line.clone().map(|inner| PyDialLine { inner }))
    }

    /// The monotone curve.
    #[getter]
    fn monotone(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        or_why(py, self.inner.monotone.clone().map(|inner| PyMonotone { inner }))
    }

    /// Which of the two will do: `line`, `monotone` or `neither`.
    #[getter]
    fn preferred(&self) -> PyResult<String> {
        word(&self.inner.preferred)
    }

    /// The setting for the target by the fit that will do, or why there is none.
    #[getter]
    fn setting(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.answer().setting)
    }

    /// The settings that the brews leave possible, by the fit that will do, or why there are none.
    #[getter]
    fn interval(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        interval(py, self.inner.answer().interval)
    }

    /// The setting for the target by the line, with its Fieller interval.
    #[getter]
    fn by_line(&self) -> PyTargetSetting {
        PyTargetSetting { inner: self.inner.by_line.clone() }
    }

    /// The setting for the target by the monotone curve, with the interval of its draws.
    #[getter]
    fn by_monotone(&self) -> PyTargetSetting {
        PyTargetSetting { inner: self.inner.by_monotone.clone() }
    }

    /// What to make of it, in sentences.
    #[getter]
    fn words(&self) -> Vec<String> {
        self.inner.words.clone()
    }

    /// A row for each of 61 settings from the lowest tried to the highest: both fits with their bands, and where one more brew lands.
    ///
    /// >>> import pourline
    /// >>> found = pourline.dial_in([20, 22, 24, 26, 28], [4.1, 4.4, 5.2, 5.4, 6.1], target=5)
    /// >>> found.table().columns[:4], len(found.table())
    /// (['setting', 'line', 'mean_low', 'mean_high'], 61)
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    /// Everything as JSON text; a number that is not finite is null.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> found = pourline.dial_in([20, 22, 24, 26, 28], [4.1, 4.4, 5.2, 5.4, 6.1], target=5)
    /// >>> json.loads(found.to_json())["target"]
    /// 5.0
    fn to_json(&self) -> PyResult<String> {
        serde_json::to_string(&self.inner).map_err(|e| argument("dialled", e.to_string()))
    }

    fn __repr__(&self) -> PyResult<String> {
        let SettingFit { x_name, y_name, x, words, .. } = &self.inner;
        let (preferred, last) = (self.preferred()?, words.last().map_or("", String::as_str));
        Ok(format!(
            "<SettingFit: {y_name} against {x_name}, {} brews, {preferred} preferred; {last}>",
            x.len()
        ))
    }
}

/// Settings that the brews leave possible; `setting in interval` asks for one.
///
/// >>> import pourline
/// >>> unclear = pourline.dial_in([1, 1, 2, 2, 3, 3], [1.40, 1.36, 1.35, 1.41, 1.37, 1.36], target=1.38)
/// >>> unclear.interval.shape, str(unclear.interval)
/// ('anywhere', 'any setting: the brews rule none out')
/// >>> bool(unclear.setting)
/// False
#[pyclass(frozen, module = "pourline", name = "SettingInterval")]
pub(super) struct PySettingInterval {
    inner: SettingInterval,
}

#[pymethods]
impl PySettingInterval {
    /// `between`, `outside` (everything but a gap), `at_least`, `at_most` or `anywhere`.
    #[getter]
    fn shape(&self) -> &'static str {
        match self.inner {
            SettingInterval::Between { .. } => "between",
            SettingInterval::Outside { .. } => "outside",
            SettingInterval::AtLeast { .. } => "at_least",
            SettingInterval::AtMost { .. } => "at_most",
            SettingInterval::Anywhere => "anywhere",
        }
    }

    /// Both ends, infinite where there is none; for `outside`, the ends of the gap.
    #[getter]
    fn ends(&self) -> (f64, f64) {
        self.inner.ends().into()
    }

    fn __contains__(&self, setting: f64) -> bool {
        self.inner.contains(setting)
    }

    fn __str__(&self) -> String {
        self.inner.to_string()
    }

    fn __repr__(&self) -> String {
        format!("<SettingInterval: {}>", self.inner)
    }
}

/// The setting at which a target is met, by one fit.
///
/// >>> import pourline
/// >>> dialled = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39], target=1.60)
/// >>> print(dialled.by_monotone.setting.reason)
/// the curve does not reach 1.6 within the settings tried; the nearest setting tried is 18, which gave 1.505 on average of 2 brews
#[pyclass(frozen, module = "pourline", name = "TargetSetting")]
pub(super) struct PyTargetSetting {
    inner: TargetSetting,
}

#[pymethods]
impl PyTargetSetting {
    /// The setting with its sd, or why there is none.
    #[getter]
    fn setting(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.setting)
    }

    /// Every setting that the brews leave possible, or why there is none.
    #[getter]
    fn interval(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        interval(py, self.inner.interval.clone())
    }

    fn __repr__(&self) -> String {
        let told = |found: Result<String, &Undefined>| found.unwrap_or_else(ToString::to_string);
        let setting = told(self.inner.setting.as_ref().map(ToString::to_string));
        let possible = told(self.inner.interval.as_ref().map(ToString::to_string));
        format!("<TargetSetting: {setting}; possible: {possible}>")
    }
}

fn interval(py: Python<'_>, found: Result<SettingInterval, Undefined>) -> PyResult<Py<PyAny>> {
    or_why(py, found.map(|inner| PySettingInterval { inner }))
}

/// Fits a measure against a setting by a line and a monotone curve, and finds the setting for a target.
///
/// `x` and `y` are numbers (those of `y` may be an `Estimate` each), or, with a `study` (a `Study`, brews or a table), the names of two of
/// its numbers; a factor whose levels are numbers is one. `direction` is "rising" or "falling" where that is known beforehand. Brews must be
/// independent of each other. No setting is given beyond those tried.
/// `target` is the value to meet, `level` that of every interval and band, `draws` how many curves are drawn for those of the monotone one, `seed` that of the random
/// numbers; returns a `SettingFit`.
///
/// >>> import pourline
/// >>> dialled = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39], target=1.40)
/// >>> print(dialled.words[-1])
/// measure 1.4 is met at setting 22.92 ± 0.38; possible at 95 %: from 22.03 to 24.3 (only 18 to 24 were tried); one brew there gives 1.351 to 1.449
/// >>> study = pourline.Study(pourline.Table({"grinder_setting": [18.0, 20, 22, 24], "tds_pct": [1.5, 1.44, 1.43, 1.35]}))
/// >>> pourline.dial_in("grinder_setting", "tds_pct", study, target=1.40).y_name
/// 'tds_pct'
#[pyfunction]
#[pyo3(signature = (x, y, study = None, *, target = None, level = 0.95, direction = None, draws = 2000, seed = 1))]
#[expect(clippy::too_many_arguments, reason = "the keywords of the Python function")]
pub(super) fn dial_in(
    py: Python<'_>,
    x: &Bound<'_, PyAny>,
    y: &Bound<'_, PyAny>,
    study: Option<&Bound<'_, PyAny>>,
    target: Option<f64>,
    level: f64,
    direction: Option<&str>,
    draws: usize,
    seed: u64,
) -> PyResult<PySettingFit> {
    let direction = match direction {
        None => None,
        Some("rising") => Some(Direction::Rising),
        Some("falling") => Some(Direction::Falling),
        Some(other) => {
            return Err(argument("direction", format!("\"rising\" or \"falling\" is needed, not {other:?}")));
        }
    };
    let options = DialOptions { target, level, direction, draws, seed };
    if let Some(study) = study {
        let (study, x, y) = (study_from(study)?, x.extract::<String>()?, y.extract::<String>()?);
        let inner = py.detach(|| crate::study::dial_in::dial::dial_in_study(&study, &x, &y, &options))?;
        return Ok(PySettingFit { inner });
    }
    let (x, y) = (plain("x", x)?, plain("y", y)?);
    let x: Vec<f64> = x.iter().map(|x| x.value).collect();
    Ok(PySettingFit { inner: py.detach(|| crate::study::dial_in::dial::dial_in(&x, &y, &options))? })
}

/// A sequence of numbers, each with its sd or exact.
fn plain(name: &str, given: &Bound<'_, PyAny>) -> PyResult<Vec<Estimate>> {
    if given.is_instance_of::<PyString>() {
        return Err(argument(name, "numbers are needed; a name needs a study"));
    }
    let one = |value: Bound<'_, PyAny>| {
        maybe_from(name, &value)?
            .map_err(|why| argument(name, format!("a brew has no value: {}", why.reason)))
    };
    given.try_iter()?.map(|value| one(value?)).collect()
}
