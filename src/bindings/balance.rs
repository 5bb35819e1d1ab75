//! `pourline.balance`, second part: fractions, estimated retention, the Monte Carlo method.

use super::inverse::estimates;
use super::show::{Show, class};
use crate::extraction::fractions::{Fraction, Fractions};
use crate::extraction::learn::LearntRetention;
use crate::extraction::sampled::MonteCarlo;
use pyo3::prelude::*;

MonteCarlo! { class
/// >>> import pourline
/// >>> found = pourline.extraction(pourline.Meta(dose_g=15, tds_pct=1.38), water_g=270, beverage_g=240)
/// >>> drawn = found.monte_carlo(draws=100_000, seed=1)
/// >>> f"{found.yield_pct.sd:.2f}", f"{drawn.yield_pct.sd:.2f}"
/// ('0.48', '0.48')
PyMonteCarlo("pourline.balance", "MonteCarlo") {
    fn __repr__(&self) -> String {
        let MonteCarlo { yield_pct, interval_pct: [low, high], draws, .. } = &self.inner;
        format!("<MonteCarlo: yield {yield_pct} %, 95 % from {low:.2} to {high:.2}, {draws} draws>")
    }
}}

Fractions! { class
/// >>> from pourline import balance
/// >>> found = balance.fractions(mass_g=[80, 80, 80], strength_pct=[3.0, 0.9, 0.24], dose_g=15)
/// >>> f"{found.yield_pct.value:.2f} %", f"{found.strength_pct.value:.2f} %"
/// ('22.08 %', '1.38 %')
PyFractions("pourline.balance", "Fractions") {
    fn __repr__(&self) -> String {
        let Fractions { yield_pct, strength_pct, each_pct, .. } = &self.inner;
        format!("<Fractions: {} of them, yield {yield_pct} %, strength {strength_pct} %>", each_pct.len())
    }
}}

/// The yield of a brew in several vessels, from the mass and strength of each, in their order.
///
/// `mass_g` and `strength_pct` have one value per vessel, `dose_g` is the dry coffee; each a number or an `Estimate`.
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
            Err(why) => return Err::<Fractions, _>(why).show(dose_g.py()),
        }
    }
    let found = estimates([("dose_g", dose_g)])?
        .and_then(|[dose]| crate::extraction::fractions::fractions(&cuts, dose));
    found.show(dose_g.py())
}

LearntRetention! { class
/// >>> from pourline import balance
/// >>> dark, light = balance.learn_retention([("dark", 2.3), ("dark", 2.1), ("light", 1.9), ("light", 1.8)])
/// >>> dark.group, dark.brews, f"{dark.next_g_per_g} g/g"
/// ('dark', 2, '2.20 ± 0.14 g/g')
PyLearntRetention("pourline.balance", "LearntRetention") {
    fn __repr__(&self) -> String {
        let LearntRetention { group, brews, next_g_per_g, interval_g_per_g: [low, high], level, .. } =
            &self.inner;
        let percent = level * 100.0;
        format!(
            "<{group}: {next_g_per_g} g/g next, {percent:.0} % from {low:.2} to {high:.2}, of {brews} brews>"
        )
    }
}}

/// Learns from pairs of a group's name and a brew's retention, g/g; `pourline.balance.learn_retention` takes brews too.
#[pyfunction]
#[pyo3(signature = (pairs, level = 0.95))]
pub(super) fn retention_from_pairs(
    pairs: Vec<(String, f64)>,
    level: f64,
) -> PyResult<Vec<PyLearntRetention>> {
    let pairs: Vec<(&str, f64)> = pairs.iter().map(|(group, value)| (group.as_str(), *value)).collect();
    let learnt = crate::extraction::learn::learn_retention(&pairs, level)?;
    Ok(learnt.into_iter().map(Into::into).collect())
}
