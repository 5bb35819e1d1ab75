//! `dial_in`: a measure against a setting, and the setting for a target.

use super::error::argument;
use super::estimate::maybe_from;
use super::json::text;
use super::run::run;
use super::show::{Show, class};
use super::study::study_from;
use super::value::{over_inner, value};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::study::dial_in::dial::{self, DialOptions};
use crate::study::dial_in::dialled::SettingFit;
use crate::study::dial_in::fieller::SettingInterval;
use crate::study::dial_in::monotone::Direction;
use crate::study::dial_in::target::TargetSetting;
use crate::study::gather::study::Missing;
use crate::table::Table;
use pyo3::prelude::*;
use pyo3::types::PyString;

SettingFit! { class
/// >>> import pourline
/// >>> dialled = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39], target=1.40)
/// >>> dialled.preferred, f"{dialled.setting}"
/// ('line', '22.92 ± 0.38')
/// >>> 23 in dialled.interval, 20 in dialled.interval
/// (True, False)
PySettingFit("pourline", "SettingFit")
[
    /// Brews that are excluded, or included with some of their pours only, each with the reason.
    missing: Table = |of| Missing::table(&of.missing);
    /// The setting for the target by the preferred fit, or the reason for none.
    setting: Maybe = |of| of.answer().setting;
    /// The confidence set of the setting, by the preferred fit, or the reason for none.
    interval: Result<SettingInterval, Undefined> = |of| of.answer().interval;
] {
    /// One row per setting, 61 from the lowest to the highest: both fits, their bands, prediction interval.
    ///
    /// >>> import pourline
    /// >>> found = pourline.dial_in([20, 22, 24, 26, 28], [4.1, 4.4, 5.2, 5.4, 6.1], target=5)
    /// >>> found.table().columns[:4], len(found.table())
    /// (['setting', 'line', 'mean_low', 'mean_high'], 61)
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    /// Everything as JSON text; a number that is not finite is null.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> found = pourline.dial_in([20, 22, 24, 26, 28], [4.1, 4.4, 5.2, 5.4, 6.1], target=5)
    /// >>> json.loads(found.to_json())["target"]
    /// 5.0
    fn to_json(&self) -> PyResult<String> {
        text("dialled", &self.inner)
    }

    fn __repr__(&self) -> String {
        let SettingFit { x_name, y_name, x, words, preferred, .. } = &self.inner;
        let (preferred, last) = (preferred.name(), words.last().map_or("", String::as_str));
        format!("<SettingFit: {y_name} against {x_name}, {} brews, {preferred} preferred; {last}>", x.len())
    }
}}

/// Confidence set of a setting; `setting in interval` tests one.
///
/// >>> import pourline
/// >>> unclear = pourline.dial_in([1, 1, 2, 2, 3, 3], [1.40, 1.36, 1.35, 1.41, 1.37, 1.36], target=1.38)
/// >>> unclear.interval.shape, str(unclear.interval)
/// ('anywhere', 'any setting: the brews exclude none')
/// >>> bool(unclear.setting)
/// False
#[pyclass(frozen, module = "pourline", name = "SettingInterval")]
pub(super) struct PySettingInterval {
    inner: SettingInterval,
}

impl From<SettingInterval> for PySettingInterval {
    fn from(inner: SettingInterval) -> Self {
        Self { inner }
    }
}

over_inner!(PySettingInterval, SettingInterval);

value! { PySettingInterval {
    /// Shape: `between`, `outside` (all settings except a gap), `at_least`, `at_most` or `anywhere`.
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

    /// Both ends, infinite if there is none; for `outside`, the ends of the gap.
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
}}

impl Show for SettingInterval {
    fn hint() -> String {
        "SettingInterval".into()
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        Ok(Py::new(py, PySettingInterval { inner: *self })?.into_any())
    }
}

TargetSetting! { class
/// >>> import pourline
/// >>> dialled = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39], target=1.60)
/// >>> print(dialled.by_monotone.setting.reason)  # doctest: +NORMALIZE_WHITESPACE
/// the curve does not reach 1.6 within the settings tried; the nearest setting tried is 18, which gave 1.505 on average
/// of 2 brews
PyTargetSetting("pourline", "TargetSetting") {
    fn __repr__(&self) -> String {
        let shown = |found: Result<String, &Undefined>| found.unwrap_or_else(ToString::to_string);
        let setting = shown(self.inner.setting.as_ref().map(ToString::to_string));
        let possible = shown(self.inner.interval.as_ref().map(ToString::to_string));
        format!("<TargetSetting: {setting}; possible: {possible}>")
    }
}}

/// Fits a measure against a setting by a line and a monotone curve, and finds the setting for a target.
///
/// `x` and `y` are numbers (those of `y` may be an `Estimate` each), or, with a `study` (a `Study`, brews or a table),
/// the names of two of its numbers; a factor whose levels are numbers is one. `direction` is "rising" or "falling" if
/// that is known beforehand. Brews must be independent. There is no extrapolation beyond the settings tried. `target`
/// is the target value, `level` that of every interval and band, `draws` the number of curves sampled for the monotone
/// band, `seed` that of the random numbers; returns a `SettingFit`.
///
/// >>> import pourline
/// >>> dialled = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39], target=1.40)
/// >>> print(dialled.words[-1])  # doctest: +NORMALIZE_WHITESPACE
/// measure 1.4 is met at setting 22.92 ± 0.38; possible at 95 %: from 22.03 to 24.3 (only 18 to 24 were tried); one
/// brew there gives 1.351 to 1.449
/// >>> own = pourline.Table({"grinder_setting": [18.0, 20, 22, 24], "tds_pct": [1.5, 1.44, 1.43, 1.35]})
/// >>> study = pourline.Study(own)
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
        return Ok(run(py, move || dial::dial_in_study(&study, &x, &y, &options))??.into());
    }
    let (x, y) = (plain("x", x)?, plain("y", y)?);
    let x: Vec<f64> = x.iter().map(|x| x.value).collect();
    Ok(run(py, move || dial::dial_in(&x, &y, &options))??.into())
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
