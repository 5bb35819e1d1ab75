//! `Plan`: the planned pours of a brew.

use super::brew::PyBrew;
use super::plan_result::PyPlanResult;
use super::planned_pour::PyPlannedPour;
use super::run::run;
use super::show::Show;
use super::value::{over_inner, value};
use crate::plan::planned::Plan;
use pyo3::prelude::*;
use std::path::PathBuf;

/// The planned pours of a brew: built in code, or read from a TOML file.
///
/// `name` is its name, `pours` its pours in order.
///
/// >>> import pourline
/// >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(42, 100)])
/// >>> text = "[[pour]]\nstart_s = 0\nmass_g = 45\n[[pour]]\nstart_s = 42\nmass_g = 100\n"
/// >>> plan.pours == pourline.Plan.parse(text).pours
/// True
/// >>> followed = plan.follow(pourline.analyze(pourline.datasets.load("fernspout-ada-01")))
/// >>> [extra.pour for extra in followed.extra]
/// [3, 4]
#[pyclass(frozen, module = "pourline", name = "Plan")]
pub(super) struct PyPlan {
    inner: Plan,
}

impl From<Plan> for PyPlan {
    fn from(inner: Plan) -> Self {
        Self { inner }
    }
}

over_inner!(PyPlan, Plan);

value! { PyPlan {
    #[new]
    fn new(name: String, pours: Vec<PyRef<'_, PyPlannedPour>>) -> PyResult<Self> {
        Ok(Self { inner: Plan::new(name, pours.iter().map(|pour| pour.inner).collect())? })
    }

    /// Reads a plan from a TOML file; without a name it has that of its file.
    ///
    /// `path` is the file; a missing or invalid one raises a `PourlineError` that names the line.
    ///
    /// >>> import pourline
    /// >>> import pathlib, tempfile
    /// >>> with tempfile.TemporaryDirectory() as folder:
    /// ...     path = pathlib.Path(folder, "morning.toml")
    /// ...     _ = path.write_text("[[pour]]\nstart_s = 0\nmass_g = 45\n")
    /// ...     pourline.Plan.read(path).name
    /// 'morning'
    #[staticmethod]
    fn read(path: PathBuf) -> PyResult<Self> {
        Ok(Self { inner: Plan::read(path)? })
    }

    /// Reads a plan from a TOML text.
    ///
    /// `text` is TOML, with a `[[pour]]` for each pour.
    ///
    /// >>> import pourline
    /// >>> plan = pourline.Plan.parse("[[pour]]\nstart_s = 0\nmass_g = 45\n")
    /// >>> plan.pours[0].mass_g
    /// 45.0
    #[staticmethod]
    fn parse(text: &str) -> PyResult<Self> {
        Ok(Self { inner: Plan::parse(text)? })
    }

    /// Its name; empty if it has none.
    #[getter]
    fn name(&self) -> &str {
        self.inner.name()
    }

    /// Its pours, in order.
    #[getter]
    fn pours(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.pours().to_vec().show(py)
    }

    /// Compares a brew with the plan.
    ///
    /// `brew` is an analysed brew with water; returns a `PlanResult`.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> plan = pourline.Plan("two", [pourline.PlannedPour(0, 45), pourline.PlannedPour(40, 100, 6)])
    /// >>> plan.follow(brew).missed
    /// []
    fn follow(slf: Py<Self>, py: Python<'_>, brew: Py<PyBrew>) -> PyResult<PyPlanResult> {
        Ok(run(py, move || slf.get().inner.follow(&brew.get().inner))??.into())
    }

    fn __len__(&self) -> usize {
        self.inner.pours().len()
    }

    fn __repr__(&self) -> String {
        let water_g: f64 = self.inner.pours().iter().map(|pour| pour.mass_g).sum();
        let name = if self.inner.name().is_empty() { "unnamed" } else { self.inner.name() };
        format!("<Plan {name}: {} pours, water {water_g} g>", self.__len__())
    }
}}
