//! `PlanResult`, `PlannedPourResult`, `ExtraPour` and `Habit`: deviations of brews from a plan.

use super::json::text;
use super::show::{class, number_text};
use super::table::table;
use crate::plan::habit::Habit;
use crate::plan::result::{ExtraPour, PlanResult, PlannedPourResult};
use pyo3::prelude::*;

PlannedPourResult! { class
/// >>> import pourline
/// >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(36, 100)])
/// >>> second = plan.follow(pourline.analyze(pourline.datasets.load("fernspout-ada-01"))).pours[1]
/// >>> second.pour, second.start_within_tolerance, second.mass_within_tolerance
/// (2, 'yes', 'no')
/// >>> print(f"start {second.start_deviation_s.value:.1f} s, mass {second.mass_deviation_g.value:.0f} g")
/// start -0.4 s, mass -35 g
PyPlannedPourResult("pourline", "PlannedPourResult") {
    fn __repr__(&self) -> String {
        let PlannedPourResult { pour, start_deviation_s, mass_deviation_g, .. } = &self.inner;
        let Some(pour) = pour else { return "<PlannedPourResult: missed>".into() };
        let (start, mass) = (number_text(start_deviation_s), number_text(mass_deviation_g));
        format!("<PlannedPourResult: the brew's pour {pour}, start deviation {start} s, mass deviation {mass} g>")
    }
}}

ExtraPour! { class
/// >>> import pourline
/// >>> plan = pourline.Plan("one", [pourline.PlannedPour(0, 45)])
/// >>> extra = plan.follow(pourline.analyze(pourline.datasets.load("fernspout-ada-01"))).extra
/// >>> [(one.pour, round(float(one.start_s))) for one in extra]
/// [(2, 36), (3, 61), (4, 86)]
PyExtraPour("pourline", "ExtraPour") {
    fn __repr__(&self) -> String {
        format!("<ExtraPour: the brew's pour {}, {} g>", self.inner.pour, self.inner.mass_g)
    }
}}

Habit! { class
/// >>> import pourline
/// >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 20), pourline.PlannedPour(36, 65)])
/// >>> brews = pourline.analyze_many([pourline.datasets.load(f"fernspout-ada-0{n}") for n in (1, 2, 3, 4)])
/// >>> habit = pourline.habits([plan.follow(brew) for brew in brews])[0]
/// >>> habit.item, habit.pour, habit.count
/// ('mass', 1, 4)
PyHabit("pourline", "Habit") {
    fn __str__(&self) -> String {
        self.inner.says.clone()
    }

    fn __repr__(&self) -> String {
        format!("<Habit: {}>", self.inner.says)
    }
}}

/// The habits in several brews of one plan, the largest first; in a single brew, those of its pours.
///
/// `results` are what `Plan.follow` returns. A habit is a mean deviation outside of its tolerance beyond chance: by
/// Student's t test against the tolerance, at 5 % for all items together. It needs three brews, or three pours of a
/// single brew.
///
/// >>> import pourline
/// >>> plan = pourline.Plan("four", [pourline.PlannedPour(25 * n, 60, 6) for n in range(4)])
/// >>> followed = plan.follow(pourline.analyze(pourline.datasets.load("fernspout-ada-01")))
/// >>> print(pourline.habits([followed])[0])
/// The flow is 3.7 g/s too fast, in 4 of 4 pours; 0.5 g/s are allowed.
#[pyfunction]
pub(super) fn habits(results: Vec<PyRef<'_, PyPlanResult>>) -> Vec<PyHabit> {
    let results: Vec<PlanResult> = results.iter().map(|one| one.inner.clone()).collect();
    crate::plan::habit::habits(&results).into_iter().map(Into::into).collect()
}

PlanResult! { class
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> plan = pourline.Plan("one", [pourline.PlannedPour(0, 44)])
/// >>> followed = plan.follow(brew)
/// >>> followed.missed, len(followed.extra), 0 < float(followed.score) < 100
/// ([], 3, True)
PyPlanResult("pourline", "PlanResult") [
    /// Numbers of the missed pours in the plan, from 1.
    missed: Vec<usize> = |of| of.missed();
    /// The head, a line: the score, where the other points are, and the one thing to work on.
    head: String = |of| of.head();
] {
    /// One row per planned pour, then one per additional pour.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(40, 100, 6)])
    /// >>> plan.follow(brew).table().columns[:4]
    /// ['brew', 'plan', 'planned_pour', 'pour']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    /// Everything as JSON text.
    ///
    /// >>> import json, pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(40, 100, 6)])
    /// >>> json.loads(plan.follow(brew).to_json())["plan"]
    /// 'two'
    fn to_json(&self) -> PyResult<String> {
        text("followed", &self.inner)
    }

    fn __repr__(&self) -> String {
        let PlanResult { plan, meta, .. } = &self.inner;
        let name = meta.name.as_deref().unwrap_or("unnamed");
        let plan = if plan.is_empty() { "the plan" } else { plan };
        format!("<PlanResult {plan} by {name}: {}>", self.inner.head())
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.plan_card")?.call_method1("plan_card", (slf,))?.extract()
    }
}}
