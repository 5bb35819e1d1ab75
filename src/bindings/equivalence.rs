//! `equivalence` and its result, and the sample size of a study.

use super::error::argument;
use super::estimate::maybe_from;
use super::show::class;
use crate::study::compare::equivalence::Equivalence;
use crate::study::compare::power as needed;
use pyo3::prelude::*;

Equivalence! { class
/// >>> import pourline
/// >>> found = pourline.equivalence(pourline.Estimate(0.1, 0.2), degrees=20, margin=0.5)
/// >>> found.alike, f"{found.p.value:.3f}"
/// (True, '0.030')
PyEquivalence("pourline", "Equivalence") {
    fn __repr__(&self) -> String {
        let p = self.inner.p.as_ref().map_or_else(ToString::to_string, |p| format!("p {:.3}", p.value));
        format!("<Equivalence: within {}, {p}>", self.inner.margin)
    }
}}

/// Test of equivalence within a margin, by two one-sided tests.
///
/// `difference` has its standard error as sd; `degrees` are those of that error; `margin` is the equivalence margin.
/// `level` is the confidence level; returns an `Equivalence`.
///
/// >>> import pourline
/// >>> pourline.equivalence(pourline.Estimate(0.1, 0.2), degrees=20, margin=0.3).alike
/// False
#[pyfunction]
#[pyo3(signature = (difference, degrees, margin, level = 0.95))]
pub(super) fn equivalence(
    difference: &Bound<'_, PyAny>,
    degrees: f64,
    margin: f64,
    level: f64,
) -> PyResult<PyEquivalence> {
    let why = |why| argument("difference", format!("it is {why}"));
    let difference = maybe_from("difference", difference)?.map_err(why)?;
    Ok(crate::study::compare::equivalence::equivalence(difference, degrees, margin, level)?.into())
}

/// Number of brews per group that detects a true difference with that power; `sd` is that within groups.
///
/// `difference` and `sd` are in one unit, `power` is the probability of detection, `level` the confidence level.
///
/// >>> import pourline
/// >>> pourline.sample_size(0.5, sd=0.4)
/// 12
#[pyfunction]
#[pyo3(signature = (difference, sd, power = 0.8, level = 0.95))]
pub(super) fn sample_size(difference: f64, sd: f64, power: f64, level: f64) -> PyResult<usize> {
    Ok(needed::sample_size(difference, sd, power, level)?)
}

/// Minimum detectable difference of a study with that many brews per group, at that power.
///
/// `brews` is their number in each group, `sd` that within groups, `power` the probability of detection, `level` the
/// confidence level; returns the difference in the unit of `sd`.
///
/// >>> import pourline
/// >>> f"{pourline.minimum_detectable_difference(6, sd=0.4):.2f}"
/// '0.72'
#[pyfunction]
#[pyo3(signature = (brews, sd, power = 0.8, level = 0.95))]
pub(super) fn minimum_detectable_difference(brews: usize, sd: f64, power: f64, level: f64) -> PyResult<f64> {
    Ok(needed::minimum_detectable_difference(brews, sd, power, level)?)
}

/// Power: the probability that a study with that many brews per group detects a true difference at that level.
///
/// `difference` and `sd` (of brews of one group) are in one unit, `brews` is their number in each group, `level` the
/// confidence level.
///
/// >>> import pourline
/// >>> f"{pourline.power(0.5, sd=0.4, brews=12):.2f}"
/// '0.83'
#[pyfunction]
#[pyo3(signature = (difference, sd, brews, level = 0.95))]
pub(super) fn power(difference: f64, sd: f64, brews: usize, level: f64) -> PyResult<f64> {
    Ok(needed::power(difference, sd, brews, level)?)
}
