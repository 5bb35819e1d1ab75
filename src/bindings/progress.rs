//! `progress`, `Progress` and `ProgressDay`: the trend of a number over a person's brews.

use super::arrays::short;
use super::error::argument;
use super::estimate::maybe_from;
use super::plan_result::PyPlanResult;
use super::show::{class, number_text};
use super::table::table;
use crate::estimate::Maybe;
use crate::plan::progress::{Progress, ProgressChange, ProgressDay};
use pyo3::prelude::*;
use pyo3::types::PyDict;

ProgressDay! { class
/// >>> import pourline
/// >>> day = pourline.progress([(1, 0.5), (1, 0.7)]).days[0]
/// >>> day.day, day.brews, day.mean
/// (1, 2, 0.6)
PyProgressDay("pourline", "ProgressDay") {
    fn __repr__(&self) -> String {
        let ProgressDay { day, brews, mean } = self.inner;
        format!("<ProgressDay {day}: {brews} brews, mean {mean:.3}>")
    }
}}

ProgressChange! { class
/// >>> import pourline
/// >>> scores = [(day, 50 + day % 3 + (10 if day >= 6 else 0)) for day in range(12)]
/// >>> change = pourline.progress(scores, changes={6: "new kettle"}).changes[0]
/// >>> change.day, change.what, round(change.step.value, -1)
/// (6, 'new kettle', 10.0)
PyProgressChange("pourline", "ProgressChange") {
    fn __repr__(&self) -> String {
        let ProgressChange { day, what, found, .. } = &self.inner;
        let about = if *found { "found" } else { what.as_str() };
        format!("<ProgressChange on day {day}: {about}, {}>", number_text(&self.inner.step))
    }
}}

Progress! { class
/// >>> import pourline
/// >>> found = pourline.progress([(1, 0.50), (2, 0.55), (3, 0.61), (4, 0.64)])
/// >>> print(f"{found.slope_per_day} a day")
/// 0.0480 ± 0.0042 a day
PyProgress("pourline", "Progress") {
    /// One row per day.
    ///
    /// >>> import pourline
    /// >>> print(pourline.progress([(1, 0.5), (1, 0.7), (2, 0.8)]).table())
    /// day  brews  mean
    ///   1      2   0.6
    ///   2      1   0.8
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    fn __repr__(&self) -> String {
        format!("<Progress over {} days: {}>", self.inner.days.len(), self.inner.says)
    }
}}

/// The trend of one person's brews over days, from pairs of a day and a number or a plan's result, by its score.
///
/// A day is a whole number, counted from any, or a `datetime.date`. Each day is one experimental unit, by the mean of
/// its brews. Below four days there is no verdict. `level` is the coverage of the intervals. `changes` are days on
/// which something else changed, such as `{date(2031, 5, 9): "new kettle"}`: the trend is that between them.
///
/// >>> import pourline
/// >>> pourline.progress([(1, 0.50), (2, 0.55), (3, 0.61)]).says
/// 'no verdict yet: 3 days, and 4 are needed; 1 more'
/// >>> from datetime import date
/// >>> scores = [(1, 0.50), (2, 0.55), (6, 0.61), (9, 0.64)]
/// >>> pourline.progress([(date(2031, 5, day), score) for day, score in scores]).says
/// 'it rises by 0.016 a day (95 % interval 0.003 to 0.029 a day)'
#[pyfunction]
#[pyo3(signature = (brews, level = 0.95, changes = None))]
pub(super) fn progress(
    brews: &Bound<'_, PyAny>,
    level: f64,
    changes: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyProgress> {
    let pairs = pairs_of(brews)?;
    let mut stated: Vec<(i64, String)> = Vec::new();
    for (day, what) in changes.into_iter().flatten() {
        stated.push((day_of(&day)?, what.extract()?));
    }
    Ok(crate::plan::progress::progress(&pairs, &stated, level)?.into())
}

/// Pairs of a day and a number, or a plan's result.
pub(super) fn pairs_of(brews: &Bound<'_, PyAny>) -> PyResult<Vec<(i64, Maybe)>> {
    let mut pairs = Vec::new();
    for pair in brews.try_iter()? {
        let pair = pair?;
        let (day, what): (Bound<'_, PyAny>, Bound<'_, PyAny>) = pair.extract().map_err(|_| {
            argument("brews", format!("a pair of a day and a brew is needed, not {}", short(&pair)))
        })?;
        let number = match what.cast::<PyPlanResult>() {
            Ok(followed) => Ok(followed.get().inner.score),
            Err(_) => maybe_from("brews", &what)?,
        };
        pairs.push((day_of(&day)?, number));
    }
    Ok(pairs)
}

fn day_of(day: &Bound<'_, PyAny>) -> PyResult<i64> {
    let counted = if day.hasattr("toordinal")? { day.call_method0("toordinal")? } else { day.clone() };
    let wrong = |_| argument("brews", format!("a day is a whole number or a date, not {}", short(day)));
    counted.extract().map_err(wrong)
}
