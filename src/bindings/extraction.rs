//! `extraction`, `Extraction` and `BudgetRow`.

use super::balance::{PyMonteCarlo, or_why};
use super::estimate::{maybe, maybe_from};
use super::json::from_dict;
use super::meta::PyMeta;
use super::trace::word;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::extraction::options::ExtractionOptions;
use crate::extraction::result::{BudgetRow, Extraction};
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// One input of the yield and what it adds to the yield's sd.
///
/// >>> import pourline
/// >>> meta = pourline.Meta(dose_g=15, tds_pct=1.38)
/// >>> row = pourline.extraction(meta, water_g=270, beverage_g=240).budget[0]
/// >>> row.name, f"{row.share:.2f}"
/// ('tds_pct', '0.99')
#[pyclass(frozen, module = "pourline", name = "BudgetRow")]
pub(super) struct PyBudgetRow {
    inner: BudgetRow,
}

#[pymethods]
impl PyBudgetRow {
    /// Name of the input, which ends in its unit.
    #[getter]
    fn name(&self) -> &str {
        &self.inner.name
    }

    /// The input with its standard uncertainty.
    #[getter]
    fn value(&self) -> Estimate {
        self.inner.value
    }

    /// Percentage points of yield to one unit of the input.
    #[getter]
    fn sensitivity(&self) -> f64 {
        self.inner.sensitivity
    }

    /// Sd of the yield from this input alone, percentage points.
    #[getter]
    fn contribution_pct(&self) -> f64 {
        self.inner.contribution_pct
    }

    /// Share of the yield's variance, 0 to 1; the rows add up to 1.
    #[getter]
    fn share(&self) -> f64 {
        self.inner.share
    }

    fn __repr__(&self) -> String {
        let BudgetRow { name, value, contribution_pct, share, .. } = &self.inner;
        format!("<{name} {value}: adds {contribution_pct:.3} points, {:.0} % of the variance>", share * 100.0)
    }
}

/// What was extracted, and how well that is known. What cannot be had is an `Undefined` that tells why.
///
/// >>> import pourline
/// >>> meta = pourline.Meta(dose_g=15, tds_pct=1.38)
/// >>> found = pourline.extraction(meta, water_g=270, beverage_g=240)
/// >>> f"{found.yield_pct:.2f} %", found.convention, found.beverage_source
/// ('22.08 ± 0.48 %', 'percolation', 'weighed')
#[pyclass(frozen, module = "pourline", name = "Extraction")]
pub(super) struct PyExtraction {
    pub(super) inner: Extraction,
}

#[pymethods]
impl PyExtraction {
    /// Extraction yield: dissolved coffee, percent of the dose, or of its dry part where its moisture was stated.
    #[getter]
    fn yield_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.yield_pct)
    }

    /// Strength (TDS) of what left the bed, percent by mass.
    #[getter]
    fn strength_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.strength_pct)
    }

    /// Water over dose, g/g; bypass water does not count.
    #[getter]
    fn brew_ratio(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.brew_ratio)
    }

    /// (Water - beverage) over dose, g/g: of this brew, or as stated where the beverage was not weighed.
    #[getter]
    fn retention_g_per_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.retention_g_per_g)
    }

    /// Water poured that stayed in the bed, to a gram of dose, g/g.
    #[getter]
    fn retained_water_g_per_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.retained_water_g_per_g)
    }

    /// All water in the spent bed, to a gram of its dry mass, g/g.
    #[getter]
    fn spent_water_g_per_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.spent_water_g_per_g)
    }

    /// All water in the spent bed, percent of its whole mass (wet basis).
    #[getter]
    fn spent_moisture_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.spent_moisture_pct)
    }

    /// The beverage with its bypass water, g.
    #[getter]
    fn cup_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.cup_g)
    }

    /// Strength of that, percent by mass.
    #[getter]
    fn cup_strength_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.cup_strength_pct)
    }

    /// Water poured, g.
    #[getter]
    fn water_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.water_g)
    }

    /// Beverage, g; see `beverage_source`.
    #[getter]
    fn beverage_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.beverage_g)
    }

    /// Which mass balance the yield is taken from: `percolation` or `immersion`.
    #[getter]
    fn convention(&self) -> PyResult<String> {
        word(&self.inner.convention)
    }

    /// Where the beverage mass comes from: `weighed`, `from_retention`, or None where there is none.
    #[getter]
    fn beverage_source(&self) -> PyResult<Option<String>> {
        self.inner.beverage_source.as_ref().map(word).transpose()
    }

    /// What each input adds to the sd of the yield; empty where the yield is undefined.
    #[getter]
    fn budget(&self) -> Vec<PyBudgetRow> {
        self.inner.budget.iter().map(|row| PyBudgetRow { inner: row.clone() }).collect()
    }

    /// Yield that the stated average beverage mass would give, less the yield of this brew's own, percentage points.
    #[getter]
    fn average_beverage_error_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.average_beverage_error_pct)
    }

    /// Yield that the stated retention would give, less the yield of this brew's own beverage, percentage points.
    #[getter]
    fn stated_retention_error_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.stated_retention_error_pct)
    }

    /// The yield by the Monte Carlo method, to hold its sd against; 1,000 to 10 million draws.
    ///
    /// `draws` is the number of draws, `seed` that of the random numbers: the same one gives the same yield for ever.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> drawn = brew.extraction.monte_carlo(10_000, seed=1)
    /// >>> abs(drawn.yield_pct.value - brew.extraction.yield_pct.value) < 0.05
    /// True
    #[pyo3(signature = (draws = 100_000, seed = 0))]
    fn monte_carlo(&self, py: Python<'_>, draws: usize, seed: u64) -> PyResult<Py<PyAny>> {
        let found = py.detach(|| self.inner.monte_carlo(draws, seed));
        or_why(py, found.map(|inner| PyMonteCarlo { inner }))
    }

    /// What looks impossible or unusual, in sentences.
    #[getter]
    fn cautions(&self) -> Vec<String> {
        self.inner.cautions.clone()
    }

    fn __repr__(&self) -> String {
        let told = |number: &Maybe| number.as_ref().map_or_else(ToString::to_string, ToString::to_string);
        let Extraction { yield_pct, strength_pct, retention_g_per_g, .. } = &self.inner;
        let (of, at, keeps) = (told(yield_pct), told(strength_pct), told(retention_g_per_g));
        format!("<Extraction: yield {of} %, strength {at} %, retention {keeps} g/g>")
    }
}

/// Extraction from the strength, the dose and this brew's own masses. What cannot be had says why.
///
/// The masses are numbers taken as exact, `Estimate`s, or None where they were not weighed; keywords are the options of
/// the stage, see `Options`.
/// `meta` holds dose and strength, `water_g` and `beverage_g` are the masses; returns an `Extraction`.
///
/// >>> import pourline
/// >>> meta = pourline.Meta(dose_g=20, tds_pct=1.30)
/// >>> guessed = pourline.extraction(meta, water_g=320, retention_g_per_g=2.0)
/// >>> f"{guessed.yield_pct.value:.2f} %", guessed.beverage_source
/// ('18.20 %', 'from_retention')
#[pyfunction]
#[pyo3(signature = (meta, water_g = None, beverage_g = None, **options))]
pub(super) fn extraction(
    meta: &Bound<'_, PyMeta>,
    water_g: Option<&Bound<'_, PyAny>>,
    beverage_g: Option<&Bound<'_, PyAny>>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyExtraction> {
    let options = match options {
        Some(given) => from_dict("extraction", ExtractionOptions::default(), given)?,
        None => ExtractionOptions::default(),
    };
    options.check()?;
    let mass = |name: &str, what: &str, given: Option<&Bound<'_, PyAny>>| match given {
        Some(given) => maybe_from(name, given),
        None => Ok(Err(Undefined::because(format!("the {what} was not weighed")))),
    };
    let (water_g, beverage_g) =
        (mass("water_g", "water", water_g)?, mass("beverage_g", "beverage", beverage_g)?);
    Ok(PyExtraction {
        inner: crate::extraction::stage::extraction(&meta.get().inner, water_g, beverage_g, &options),
    })
}
