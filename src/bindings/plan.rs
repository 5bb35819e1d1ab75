//! `Plan` and `PlannedPour`: what a brew is to be.

use super::brew::PyBrew;
use super::followed::PyFollowed;
use crate::{Plan, PlannedPour};
use pyo3::prelude::*;
use std::path::PathBuf;

/// One pour as it is planned: targets, each with its tolerance to either side.
///
/// >>> import pourline
/// >>> pour = pourline.PlannedPour(45, 60, flow_g_per_s=5, start_within_s=2)
/// >>> pour
/// <PlannedPour: start 45 ± 2 s, 60 ± 3 g at 5 ± 0.5 g/s>
#[pyclass(frozen, eq, module = "pourline", name = "PlannedPour")]
#[derive(PartialEq)]
pub(super) struct PyPlannedPour {
    pub(super) inner: PlannedPour,
}

#[pymethods]
impl PyPlannedPour {
    #[new]
    #[pyo3(signature = (
        start_s, mass_g, flow_g_per_s = None, *, start_within_s = 3.0, mass_within_g = 3.0, flow_within_g_per_s = 0.5
    ))]
    const fn new(
        start_s: f64,
        mass_g: f64,
        flow_g_per_s: Option<f64>,
        start_within_s: f64,
        mass_within_g: f64,
        flow_within_g_per_s: f64,
    ) -> Self {
        let inner =
            PlannedPour { start_s, start_within_s, mass_g, mass_within_g, flow_g_per_s, flow_within_g_per_s };
        Self { inner }
    }

    /// Start since the start of the plan's first pour, s; 0 for that one.
    #[getter]
    fn start_s(&self) -> f64 {
        self.inner.start_s
    }

    /// Its tolerance, s.
    #[getter]
    fn start_within_s(&self) -> f64 {
        self.inner.start_within_s
    }

    /// Mass of this pour alone, g.
    #[getter]
    fn mass_g(&self) -> f64 {
        self.inner.mass_g
    }

    /// Its tolerance, g.
    #[getter]
    fn mass_within_g(&self) -> f64 {
        self.inner.mass_within_g
    }

    /// Flow on the plateau, g/s; None for any.
    #[getter]
    fn flow_g_per_s(&self) -> Option<f64> {
        self.inner.flow_g_per_s
    }

    /// Its tolerance, g/s.
    #[getter]
    fn flow_within_g_per_s(&self) -> f64 {
        self.inner.flow_within_g_per_s
    }

    fn __repr__(&self) -> String {
        let PlannedPour { start_s, start_within_s, mass_g, mass_within_g, flow_g_per_s, .. } = self.inner;
        let within = self.inner.flow_within_g_per_s;
        let flow = flow_g_per_s.map_or(String::new(), |flow| format!(" at {flow} ± {within} g/s"));
        format!("<PlannedPour: start {start_s} ± {start_within_s} s, {mass_g} ± {mass_within_g} g{flow}>")
    }
}

/// The pours that a brew is to have: built in code, or read from a TOML file.
///
/// >>> import pourline
/// >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(42, 100)])
/// >>> text = "[[pour]]\nstart_s = 0\nmass_g = 45\n[[pour]]\nstart_s = 42\nmass_g = 100\n"
/// >>> plan.pours == pourline.Plan.parse(text).pours
/// True
/// >>> followed = plan.follow(pourline.analyze(pourline.datasets.load("fernspout-ada-01")))
/// >>> [extra.pour for extra in followed.extra]
/// [3, 4]
#[pyclass(frozen, eq, module = "pourline", name = "Plan")]
#[derive(PartialEq)]
pub(super) struct PyPlan {
    inner: Plan,
}

#[pymethods]
impl PyPlan {
    #[new]
    fn new(name: String, pours: Vec<PyRef<'_, PyPlannedPour>>) -> PyResult<Self> {
        Ok(Self { inner: Plan::new(name, pours.iter().map(|pour| pour.inner).collect())? })
    }

    /// Reads a plan from a TOML file; without a name it gets that of its file.
    #[staticmethod]
    fn read(path: PathBuf) -> PyResult<Self> {
        Ok(Self { inner: Plan::read(path)? })
    }

    /// Reads a plan from such a text.
    #[staticmethod]
    fn parse(text: &str) -> PyResult<Self> {
        Ok(Self { inner: Plan::parse(text)? })
    }

    /// Its name; empty where it has none.
    #[getter]
    fn name(&self) -> &str {
        self.inner.name()
    }

    /// Its pours, in order.
    #[getter]
    fn pours(&self) -> Vec<PyPlannedPour> {
        self.inner.pours().iter().map(|pour| PyPlannedPour { inner: *pour }).collect()
    }

    /// Holds a brew against the plan.
    fn follow(&self, py: Python<'_>, brew: &Bound<'_, PyBrew>) -> PyResult<PyFollowed> {
        let brew = &brew.get().inner;
        Ok(PyFollowed { inner: py.detach(|| self.inner.follow(brew))? })
    }

    fn __len__(&self) -> usize {
        self.inner.pours().len()
    }

    fn __repr__(&self) -> String {
        let water_g: f64 = self.inner.pours().iter().map(|pour| pour.mass_g).sum();
        let name = if self.inner.name().is_empty() { "unnamed" } else { self.inner.name() };
        format!("<Plan {name}: {} pours, water {water_g} g>", self.__len__())
    }
}
