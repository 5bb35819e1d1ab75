//! `pourline.balance`, second part: fractions, learnt retention, the Monte Carlo method.

use super::estimate::maybe;
use super::inverse::estimates;
use crate::estimate::{Estimate, Undefined};
use crate::extraction::fractions::{Fraction, Fractions};
use crate::extraction::learn::LearntRetention;
use crate::extraction::sampled::MonteCarlo;
use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;

/// A result, or the `Undefined` that tells why there is none.
pub(super) fn or_why<'py>(
    py: Python<'py>,
    found: Result<impl IntoPyObject<'py>, Undefined>,
) -> PyResult<Py<PyAny>> {
    match found {
        Ok(found) => found.into_py_any(py),
        Err(why) => maybe(py, &Err(why)),
    }
}

/// A yield by the Monte Carlo method: every input drawn from a normal distribution (JCGM 101:2008).
///
/// >>> import pourline
/// >>> found = pourline.extraction(pourline.Meta(dose_g=15, tds_pct=1.38), water_g=270, beverage_g=240)
/// >>> drawn = found.monte_carlo(draws=100_000, seed=1)
/// >>> f"{found.yield_pct.sd:.2f}", f"{drawn.yield_pct.sd:.2f}"
/// ('0.48', '0.48')
#[pyclass(frozen, module = "pourline.balance", name = "MonteCarlo")]
pub(super) struct PyMonteCarlo {
    pub(super) inner: MonteCarlo,
}

#[pymethods]
impl PyMonteCarlo {
    /// Mean and sd of the yields drawn, percent.
    #[getter]
    fn yield_pct(&self) -> Estimate {
        self.inner.yield_pct
    }

    /// Ends of the interval that holds the middle 95 % of them, percent.
    #[getter]
    fn interval_pct(&self) -> (f64, f64) {
        self.inner.interval_pct.into()
    }

    /// Number of draws.
    #[getter]
    fn draws(&self) -> usize {
        self.inner.draws
    }

    /// The seed: the same one gives the same numbers for ever.
    #[getter]
    fn seed(&self) -> u64 {
        self.inner.seed
    }

    fn __repr__(&self) -> String {
        let MonteCarlo { yield_pct, interval_pct: [low, high], draws, .. } = &self.inner;
        format!("<MonteCarlo: yield {yield_pct} %, 95 % from {low:.2} to {high:.2}, {draws} draws>")
    }
}

/// What the fractions of a brew gave, each and all together.
///
/// >>> from pourline import balance
/// >>> found = balance.fractions(mass_g=[80, 80, 80], strength_pct=[3.0, 0.9, 0.24], dose_g=15)
/// >>> f"{found.yield_pct.value:.2f} %", f"{found.strength_pct.value:.2f} %"
/// ('22.08 %', '1.38 %')
#[pyclass(frozen, module = "pourline.balance", name = "Fractions")]
pub(super) struct PyFractions {
    inner: Fractions,
}

#[pymethods]
impl PyFractions {
    /// All fractions together, g.
    #[getter]
    fn beverage_g(&self) -> Estimate {
        self.inner.beverage_g
    }

    /// Strength of all poured together, percent.
    #[getter]
    fn strength_pct(&self) -> Estimate {
        self.inner.strength_pct
    }

    /// Yield of all, percent of the dose.
    #[getter]
    fn yield_pct(&self) -> Estimate {
        self.inner.yield_pct
    }

    /// What each added to that yield, percentage points.
    #[getter]
    fn each_pct(&self) -> Vec<Estimate> {
        self.inner.each_pct.clone()
    }

    /// The yield after each.
    #[getter]
    fn so_far_pct(&self) -> Vec<Estimate> {
        self.inner.so_far_pct.clone()
    }

    fn __repr__(&self) -> String {
        let Fractions { yield_pct, strength_pct, each_pct, .. } = &self.inner;
        format!("<Fractions: {} of them, yield {yield_pct} %, strength {strength_pct} %>", each_pct.len())
    }
}

/// The yield of a brew that was caught in several vessels, from the mass and strength of each, in their order.
///
/// `mass_g` and `strength_pct` have a value a vessel, `dose_g` is the dry coffee; each a number or an `Estimate`.
///
/// >>> from pourline import balance
/// >>> found = balance.fractions(mass_g=[80, 80, 80], strength_pct=[3.0, 0.9, 0.24], dose_g=15)
/// >>> [f"{so_far.value:.2f}" for so_far in found.so_far_pct]
/// ['16.00', '20.80', '22.08']
#[pyfunction]
pub(super) fn fractions(
    mass_g: &Bound<'_, PyAny>,
    strength_pct: &Bound<'_, PyAny>,
    dose_g: &Bound<'_, PyAny>,
) -> PyResult<Py<PyAny>> {
    let py = dose_g.py();
    let masses = mass_g.try_iter()?.collect::<PyResult<Vec<_>>>()?;
    let strengths = strength_pct.try_iter()?.collect::<PyResult<Vec<_>>>()?;
    if masses.len() != strengths.len() {
        let message = format!("{} strengths for {} masses", strengths.len(), masses.len());
        return Err(super::error::argument("strength_pct", message));
    }
    let mut cuts = Vec::with_capacity(masses.len());
    for (mass, strength) in masses.iter().zip(&strengths) {
        match estimates([("mass_g", mass), ("strength_pct", strength)])? {
            Ok([mass_g, strength_pct]) => cuts.push(Fraction { mass_g, strength_pct }),
            Err(why) => return maybe(py, &Err(why)),
        }
    }
    let found = estimates([("dose_g", dose_g)])?
        .and_then(|[dose]| crate::extraction::fractions::fractions(&cuts, dose));
    or_why(py, found.map(|inner| PyFractions { inner }))
}

/// What was learnt of one group's retention.
///
/// >>> from pourline import balance
/// >>> dark, light = balance.learn_retention([("dark", 2.3), ("dark", 2.1), ("light", 1.9), ("light", 1.8)])
/// >>> dark.group, dark.brews, f"{dark.next_g_per_g} g/g"
/// ('dark', 2, '2.20 ± 0.14 g/g')
#[pyclass(frozen, module = "pourline.balance", name = "LearntRetention")]
pub(super) struct PyLearntRetention {
    inner: LearntRetention,
}

#[pymethods]
impl PyLearntRetention {
    /// The group: a roast, a coffee.
    #[getter]
    fn group(&self) -> &str {
        &self.inner.group
    }

    /// Brews of this group.
    #[getter]
    fn brews(&self) -> usize {
        self.inner.brews
    }

    /// Its mean retention, with the sd of that mean, g/g.
    #[getter]
    fn mean_g_per_g(&self) -> Estimate {
        self.inner.mean_g_per_g
    }

    /// The retention to expect of its next brew, with the sd of one brew, g/g.
    #[getter]
    fn next_g_per_g(&self) -> Estimate {
        self.inner.next_g_per_g
    }

    /// Prediction interval of that next brew, g/g.
    #[getter]
    fn interval_g_per_g(&self) -> (f64, f64) {
        self.inner.interval_g_per_g.into()
    }

    /// Share of next brews that such intervals hold.
    #[getter]
    fn level(&self) -> f64 {
        self.inner.level
    }

    /// Degrees of freedom of the spread: brews less groups.
    #[getter]
    fn degrees(&self) -> usize {
        self.inner.degrees
    }

    fn __repr__(&self) -> String {
        let LearntRetention { group, brews, next_g_per_g, interval_g_per_g: [low, high], level, .. } =
            &self.inner;
        let percent = level * 100.0;
        format!(
            "<{group}: {next_g_per_g} g/g next, {percent:.0} % from {low:.2} to {high:.2}, of {brews} brews>"
        )
    }
}

/// Learns from pairs of a group's name and a brew's retention, g/g; `pourline.balance.learn_retention` takes brews too.
#[pyfunction]
#[pyo3(signature = (pairs, level = 0.95))]
pub(super) fn retention_from_pairs(
    pairs: Vec<(String, f64)>,
    level: f64,
) -> PyResult<Vec<PyLearntRetention>> {
    let pairs: Vec<(&str, f64)> = pairs.iter().map(|(group, value)| (group.as_str(), *value)).collect();
    let learnt = crate::extraction::learn::learn_retention(&pairs, level)?;
    Ok(learnt.into_iter().map(|inner| PyLearntRetention { inner }).collect())
}
