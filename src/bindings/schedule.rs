//! `design` and `Schedule`: the order of the brews of a study.

use super::error::argument;
use super::json::text;
use super::show::{Show, class};
use crate::study::schedule::design::Schedule;
use pyo3::prelude::*;
use pyo3::types::PyDict;

Schedule! { class
/// `report(schedule, "sheet.html")` writes a sheet to print. `to_csv` is joined to the logs by the names of their
/// files.
///
/// >>> import pourline
/// >>> schedule = pourline.design({"kettle": ["thin", "wide"], "person": ["Ada", "Bo"]}, repeats=3, days=2, seed=7)
/// >>> schedule.brews, schedule.blocks
/// (24, ['person', 'day'])
/// >>> schedule.to_csv().splitlines()[0]
/// 'file,planned_order,day,kettle,person'
PySchedule("pourline", "Schedule") {
    /// One row per brew, in the planned order.
    ///
    /// >>> import pourline
    /// >>> pourline.design({"kettle": 2}, repeats=2).table().columns
    /// ['file', 'planned_order', 'day', 'kettle']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    /// The table as CSV text, for `--factors`.
    ///
    /// >>> import pourline
    /// >>> len(pourline.design({"kettle": 2}, repeats=2).to_csv().splitlines())
    /// 5
    fn to_csv(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._text.schedule")?.call_method1("csv_of", (slf,))?.extract()
    }

    /// Everything as JSON text.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> json.loads(pourline.design({"kettle": 2}, repeats=4).to_json())["brews"]
    /// 8
    fn to_json(&self) -> PyResult<String> {
        text("schedule", &self.inner)
    }

    fn __len__(&self) -> usize {
        self.inner.brews
    }

    fn __str__(&self) -> String {
        self.inner.says.clone()
    }

    fn __repr__(&self) -> String {
        format!("<Schedule: {}>", self.inner.says)
    }
}}

/// The brews of a study in a balanced random order, before the first one is brewed.
///
/// `factors` has the levels of each factor, or their number. Every combination is brewed `repeats` times on each of
/// `days` days. "person" and the day are blocks; all other factors are randomised within each turn of a person, in
/// orders of Williams squares. `seed` deals the order.
///
/// >>> import pourline
/// >>> pourline.design({"kettle": 2, "person": 2}, repeats=3, days=2, seed=7).says.split(". ")[0]
/// '24 brews: 2 by kettle, 2 by person, 3 times on each of 2 days'
#[pyfunction]
#[pyo3(signature = (factors, repeats = 1, days = 1, seed = 0))]
pub(super) fn design(
    factors: &Bound<'_, PyDict>,
    repeats: usize,
    days: usize,
    seed: u64,
) -> PyResult<PySchedule> {
    let mut named: Vec<(String, Vec<String>)> = Vec::new();
    for (name, levels) in factors {
        let name: String = name.extract()?;
        let levels = match levels.extract::<usize>() {
            Ok(count) if count <= 1000 => (1..=count).map(|k| format!("{name} {k}")).collect(),
            _ if levels.extract::<String>().is_ok() => {
                return Err(argument(
                    "factors",
                    format!("{name}: a list of levels or their number is needed"),
                ));
            }
            _ => levels.extract().map_err(|_| {
                argument("factors", format!("{name}: a list of levels or their number is needed"))
            })?,
        };
        named.push((name, levels));
    }
    Ok(crate::study::schedule::design::design(&named, repeats, days, seed)?.into())
}
