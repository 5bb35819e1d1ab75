//! `simulate`, `recipe` and `levels`: a simulated log, with its true values.

use super::error::argument;
use super::json::{from_dict, to_json, to_python, unknown};
use super::log::PyLog;
use super::run::run;
use super::truth::PyTruth;
use crate::simulate::level::Level;
use crate::simulate::recipe::Recipe;
use pyo3::prelude::*;
use pyo3::types::PyString;

/// A recipe from the name of a level, from a dict that changes the default, or the default.
fn recipe_from(recipe: Option<&Bound<'_, PyAny>>) -> PyResult<Recipe> {
    let Some(given) = recipe else { return Ok(Recipe::default()) };
    if let Ok(name) = given.cast::<PyString>() {
        let name = name.to_string_lossy();
        let level = Level::ALL.into_iter().find(|level| level.name() == name);
        let names = Level::ALL.iter().map(|level| level.name());
        return Ok(level.ok_or_else(|| argument("recipe", unknown(&name, names)))?.recipe());
    }
    from_dict("recipe", Recipe::default(), given)
}

/// A simulated log and its true values; recipe and seed fix the result.
///
/// `recipe` is the name of a level, one of `levels()`, or a dict of the parameters that differ from the default;
/// `recipe()` has all names.
///
/// >>> import pourline
/// >>> log, truth = pourline.simulate({"hand": {"pours": [3, 3]}, "scale": {"rate_hz": 20}}, seed=1)
/// >>> len(truth.pours)
/// 3
#[pyfunction]
#[pyo3(signature = (recipe = None, seed = 0))]
pub(super) fn simulate(
    py: Python<'_>,
    recipe: Option<&Bound<'_, PyAny>>,
    seed: i128,
) -> PyResult<(PyLog, PyTruth)> {
    let seed =
        u64::try_from(seed).map_err(|_| argument("seed", format!("{seed} is not within 0 to 2^64 - 1")))?;
    let recipe = recipe_from(recipe)?;
    let (log, truth) = run(py, move || crate::simulate::make::simulate(&recipe, seed))??;
    Ok((log.into(), truth.into()))
}

/// All parameters of `simulate`, with the values of a level or the defaults, as a dict of dicts.
///
/// >>> import pourline
/// >>> pourline.recipe()["scale"]["rate_hz"], pourline.recipe("usual_50_hz")["scale"]["rate_hz"]
/// (10.0, 50.0)
#[pyfunction]
#[pyo3(signature = (level = None))]
pub(super) fn recipe<'py>(
    py: Python<'py>,
    level: Option<&Bound<'py, PyString>>,
) -> PyResult<Bound<'py, PyAny>> {
    to_python(py, &to_json("recipe", &recipe_from(level.map(|name| name.as_any()))?)?)
}

/// Names of the levels of disturbance of `simulate` and `recipe`.
///
/// >>> import pourline
/// >>> "usual" in pourline.levels()
/// True
#[pyfunction]
pub(super) fn levels() -> Vec<&'static str> {
    Level::ALL.into_iter().map(Level::name).collect()
}
