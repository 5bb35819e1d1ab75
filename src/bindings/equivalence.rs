//! `equivalence` and its result, and the sample size of a study.

use super::error::argument;
use super::estimate::maybe_from;
use super::show::{Show, class};
use crate::study::compare::equivalence::Equivalence;
use crate::study::compare::power as needed;
use crate::study::compare::power::{PowerCurve, PowerOptions};
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

PowerCurve! { class
/// >>> import pourline
/// >>> found = pourline.power_curve(0.5, sd=pourline.Estimate(0.4, 0.1))
/// >>> found.needed, found.needed_interval
/// (12, (6, 38))
PyPowerCurve("pourline", "PowerCurve") {
    /// One row per number of brews.
    ///
    /// >>> import pourline
    /// >>> pourline.power_curve(0.5, sd=0.4).table().columns
    /// ['brews', 'power', 'power_low', 'power_high']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    fn __str__(&self) -> String {
        self.inner.says.clone()
    }

    fn __repr__(&self) -> String {
        format!("<PowerCurve: {}>", self.inner.says)
    }
}}

/// Number of brews per group that detects a true difference with that power; `sd` is that within groups and blocks.
///
/// `difference` and `sd` are in one unit, `power` is the probability of detection, `level` the confidence level.
/// `blocks` is the number of combinations of the blocks. `people` plans for people like these, whose own differences
/// have the sd `people_sd`. There are never fewer than a p needs.
///
/// >>> import pourline
/// >>> pourline.sample_size(0.5, sd=0.4)
/// 12
#[pyfunction]
#[pyo3(signature = (difference, sd, power = 0.8, level = 0.95, blocks = 1, people = 0, people_sd = 0.0))]
pub(super) fn sample_size(
    difference: f64,
    sd: f64,
    power: f64,
    level: f64,
    blocks: usize,
    people: usize,
    people_sd: f64,
) -> PyResult<usize> {
    let options = PowerOptions { power, level, blocks, people, people_sd };
    Ok(needed::sample_size(difference, sd, &options)?)
}

/// Minimum detectable difference of a study with that many brews per group, at that power.
///
/// `brews` is their number in each group, `sd` that within groups; `power`, `level`, `blocks`, `people` and `people_sd`
/// are those of `sample_size`; returns the difference in the unit of `sd`.
///
/// >>> import pourline
/// >>> f"{pourline.minimum_detectable_difference(6, sd=0.4):.2f}"
/// '0.72'
#[pyfunction]
#[pyo3(signature = (brews, sd, power = 0.8, level = 0.95, blocks = 1, people = 0, people_sd = 0.0))]
pub(super) fn minimum_detectable_difference(
    brews: usize,
    sd: f64,
    power: f64,
    level: f64,
    blocks: usize,
    people: usize,
    people_sd: f64,
) -> PyResult<f64> {
    let options = PowerOptions { power, level, blocks, people, people_sd };
    Ok(needed::minimum_detectable_difference(brews, sd, &options)?)
}

/// Power: the probability that a study with that many brews per group detects a true difference at that level.
///
/// `difference` and `sd` (of brews of one group) are in one unit, `brews` is their number in each group; `level`,
/// `blocks`, `people` and `people_sd` are those of `sample_size`. It is 0 if no p can be small enough.
///
/// >>> import pourline
/// >>> f"{pourline.power(0.5, sd=0.4, brews=12):.2f}", pourline.power(5, sd=0.4, brews=3)
/// ('0.83', 0.0)
#[pyfunction]
#[pyo3(signature = (difference, sd, brews, level = 0.95, blocks = 1, people = 0, people_sd = 0.0))]
pub(super) fn power(
    difference: f64,
    sd: f64,
    brews: usize,
    level: f64,
    blocks: usize,
    people: usize,
    people_sd: f64,
) -> PyResult<f64> {
    let options = PowerOptions { level, blocks, people, people_sd, ..PowerOptions::default() };
    Ok(needed::power(difference, sd, brews, &options)?)
}

/// Power by the number of brews per group, with what the uncertainty of the sd does to it.
///
/// `sd` is a number, or an `Estimate` such as `within_sd` of an earlier study; `difference`, `power`, `level`, `blocks`,
/// `people` and `people_sd` are those of `sample_size`. Returns a `PowerCurve`.
///
/// >>> import pourline
/// >>> pourline.power_curve(0.5, sd=pourline.Estimate(0.4, 0.1)).says.split("; ")[0]
/// '12 brews per group find a difference of 0.5 with a power of 80 %'
#[pyfunction]
#[pyo3(signature = (difference, sd, power = 0.8, level = 0.95, blocks = 1, people = 0, people_sd = 0.0))]
pub(super) fn power_curve(
    difference: f64,
    sd: &Bound<'_, PyAny>,
    power: f64,
    level: f64,
    blocks: usize,
    people: usize,
    people_sd: f64,
) -> PyResult<PyPowerCurve> {
    let sd = maybe_from("sd", sd)?.map_err(|why| argument("sd", format!("it is {why}")))?;
    let options = PowerOptions { power, level, blocks, people, people_sd };
    Ok(needed::power_curve(difference, sd, &options)?.into())
}
