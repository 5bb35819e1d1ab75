//! `PlanResult`, `PlannedPourResult` and `ExtraPour`: how near a brew came to a plan.

use super::error::argument;
use super::estimate::maybe;
use super::meta::PyMeta;
use super::planned_pour::PyPlannedPour;
use super::table::table;
use crate::estimate::Estimate;
use crate::plan::result::{ExtraPour, PlanResult, PlannedPourResult};
use crate::plan::within::WithinTolerance;
use pyo3::prelude::*;

/// One planned pour and what became of it. A deviation is poured less planned.
///
/// >>> import pourline
/// >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(36, 100)])
/// >>> second = plan.follow(pourline.analyze(pourline.datasets.load("fernspout-ada-01"))).pours[1]
/// >>> second.pour, second.start_within_tolerance, second.mass_within_tolerance
/// (2, 'yes', 'no')
/// >>> print(f"start {second.start_deviation_s:.2f} s, mass {second.mass_deviation_g:.0f} g")
/// start -0.41 ± 0.02 s, mass -35 ± 0 g
#[pyclass(frozen, module = "pourline", name = "PlannedPourResult")]
pub(super) struct PyPlannedPourResult {
    inner: PlannedPourResult,
}

#[pymethods]
impl PyPlannedPourResult {
    /// The plan.
    #[getter]
    fn planned(&self) -> PyPlannedPour {
        PyPlannedPour { inner: self.inner.planned }
    }

    /// Place of the pour in the brew, from 1; None: the pour was missed.
    #[getter]
    fn pour(&self) -> Option<usize> {
        self.inner.pour
    }

    /// Start on the plan's clock, s: half-rise of the pour less that of the pour at which the clocks agree.
    #[getter]
    fn start_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.start_s)
    }

    /// Mass that arrived, g.
    #[getter]
    fn mass_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.mass_g)
    }

    /// Flow on the plateau, g/s.
    #[getter]
    fn flow_g_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.flow_g_per_s)
    }

    /// Start less the planned one, s: above 0 is late.
    #[getter]
    fn start_deviation_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.start_deviation_s)
    }

    /// Poured mass less the planned one, g: above 0 is too much.
    #[getter]
    fn mass_deviation_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.mass_deviation_g)
    }

    /// Flow less the planned one, g/s: above 0 is too fast.
    #[getter]
    fn flow_deviation_g_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.flow_deviation_g_per_s)
    }

    /// Whether the start is within its tolerance: `yes`, `no`, `too near to tell`; None if there is no deviation.
    #[getter]
    fn start_within_tolerance(&self) -> Option<&'static str> {
        self.inner.start_within_tolerance.map(WithinTolerance::word)
    }

    /// Whether the mass is within its tolerance.
    #[getter]
    fn mass_within_tolerance(&self) -> Option<&'static str> {
        self.inner.mass_within_tolerance.map(WithinTolerance::word)
    }

    /// Whether the flow is within its tolerance.
    #[getter]
    fn flow_within_tolerance(&self) -> Option<&'static str> {
        self.inner.flow_within_tolerance.map(WithinTolerance::word)
    }

    fn __repr__(&self) -> String {
        let told = |number: &crate::estimate::Maybe| {
            number.as_ref().map_or_else(ToString::to_string, ToString::to_string)
        };
        match self.inner.pour {
            None => "<PlannedPourResult: missed>".into(),
            Some(pour) => format!(
                "<PlannedPourResult: the brew's pour {pour}, start deviation {} s, mass deviation {} g>",
                told(&self.inner.start_deviation_s),
                told(&self.inner.mass_deviation_g)
            ),
        }
    }
}

/// A pour that the plan does not have.
///
/// >>> import pourline
/// >>> plan = pourline.Plan("one", [pourline.PlannedPour(0, 45)])
/// >>> extra = plan.follow(pourline.analyze(pourline.datasets.load("fernspout-ada-01"))).extra
/// >>> [(one.pour, round(float(one.start_s))) for one in extra]
/// [(2, 36), (3, 61), (4, 86)]
#[pyclass(frozen, module = "pourline", name = "ExtraPour")]
pub(super) struct PyExtraPour {
    inner: ExtraPour,
}

#[pymethods]
impl PyExtraPour {
    /// Place in the brew, from 1.
    #[getter]
    fn pour(&self) -> usize {
        self.inner.pour
    }

    /// Start on the plan's clock, s.
    #[getter]
    fn start_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.start_s)
    }

    /// Mass that arrived, g.
    #[getter]
    fn mass_g(&self) -> Estimate {
        self.inner.mass_g
    }

    fn __repr__(&self) -> String {
        format!("<ExtraPour: the brew's pour {}, {} g>", self.inner.pour, self.inner.mass_g)
    }
}

/// How near a brew came to a plan.
///
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> plan = pourline.Plan("one", [pourline.PlannedPour(0, 44)])
/// >>> followed = plan.follow(brew)
/// >>> followed.missed, len(followed.extra), 0 < float(followed.score) < 1
/// ([], 3, True)
#[pyclass(frozen, module = "pourline", name = "PlanResult")]
pub(super) struct PyPlanResult {
    pub(super) inner: PlanResult,
}

#[pymethods]
impl PyPlanResult {
    /// Name of the plan.
    #[getter]
    fn plan(&self) -> &str {
        &self.inner.plan
    }

    /// What is known of the brew.
    #[getter]
    fn meta(&self) -> PyMeta {
        PyMeta { inner: self.inner.meta.clone() }
    }

    /// Where the plan's clock stands at 0, on the log's own, s.
    #[getter]
    fn zero_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.zero_s)
    }

    /// A row a planned pour, in the plan's order.
    #[getter]
    fn pours(&self) -> Vec<PyPlannedPourResult> {
        self.inner.pours.iter().map(|pour| PyPlannedPourResult { inner: pour.clone() }).collect()
    }

    /// Pours that the plan does not have.
    #[getter]
    fn extra(&self) -> Vec<PyExtraPour> {
        self.inner.extra.iter().map(|pour| PyExtraPour { inner: pour.clone() }).collect()
    }

    /// Places of the missed pours in the plan, from 1.
    #[getter]
    fn missed(&self) -> Vec<usize> {
        self.inner.missed()
    }

    /// How near the brew came, 0 to 1: the mean over all items of `1/(1 + z^2)`, `z` being the difference in tolerances.
    #[getter]
    fn score(&self) -> Estimate {
        self.inner.score
    }

    /// The one thing to work on next, in a sentence; pours are counted as the plan counts them.
    #[getter]
    fn work_on(&self) -> &str {
        &self.inner.work_on
    }

    /// A row a planned pour, then a row a pour that the plan does not have.
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
    /// >>> import pourline
    /// >>> import json
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(40, 100, 6)])
    /// >>> json.loads(plan.follow(brew).to_json())["plan"]
    /// 'two'
    fn to_json(&self) -> PyResult<String> {
        serde_json::to_string(&self.inner).map_err(|e| argument("followed", e.to_string()))
    }

    fn __repr__(&self) -> String {
        let PlanResult { plan, meta, score, work_on, .. } = &self.inner;
        let name = meta.name.as_deref().unwrap_or("unnamed");
        let plan = if plan.is_empty() { "the plan" } else { plan };
        format!("<PlanResult {plan} by {name}: score {score}. {work_on}>")
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.plan_card")?.call_method1("plan_card", (slf,))?.extract()
    }
}
