//! `extraction`, `Extraction` and `BudgetRow`.

use super::estimate::maybe_from;
use super::json::options_of;
use super::meta::PyMeta;
use super::run::run;
use super::show::{Show, class, number_text};
use crate::estimate::Undefined;
use crate::extraction::options::ExtractionOptions;
use crate::extraction::result::{BudgetRow, Extraction};
use pyo3::prelude::*;
use pyo3::types::PyDict;

BudgetRow! { class
/// >>> import pourline
/// >>> meta = pourline.Meta(dose_g=15, tds_pct=1.38)
/// >>> row = pourline.extraction(meta, water_g=270, beverage_g=240).budget[0]
/// >>> row.name, f"{row.share:.2f}"
/// ('tds_pct', '0.99')
PyBudgetRow("pourline", "BudgetRow") {
    fn __repr__(&self) -> String {
        let BudgetRow { name, value, contribution_pct, share, .. } = &self.inner;
        format!("<{name} {value}: adds {contribution_pct:.3} points, {:.0} % of the variance>", share * 100.0)
    }
}}

Extraction! { class
/// A number that is not defined is an `Undefined` with the reason.
///
/// >>> import pourline
/// >>> meta = pourline.Meta(dose_g=15, tds_pct=1.38)
/// >>> found = pourline.extraction(meta, water_g=270, beverage_g=240)
/// >>> f"{found.yield_pct:.2f} %", found.convention, found.beverage_source
/// ('22.08 ± 0.48 %', 'percolation', 'weighed')
PyExtraction("pourline", "Extraction") {
    /// The yield by the Monte Carlo method, as a check of its sd; 1,000 to 10 million draws.
    ///
    /// `draws` is the number of draws, `seed` that of the random numbers; a seed fixes the result.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> drawn = brew.extraction.monte_carlo(10_000, seed=1)
    /// >>> abs(drawn.yield_pct.value - brew.extraction.yield_pct.value) < 0.05
    /// True
    #[pyo3(signature = (draws = 100_000, seed = 0))]
    fn monte_carlo(slf: Py<Self>, py: Python<'_>, draws: usize, seed: u64) -> PyResult<Py<PyAny>> {
        run(py, move || slf.get().inner.monte_carlo(draws, seed))?.show(py)
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.result_cards")?.call_method1("extraction_card", (slf,))?.extract()
    }

    fn __repr__(&self) -> String {
        let Extraction { yield_pct, strength_pct, retention_g_per_g, .. } = &self.inner;
        let (of, at, retention) = (number_text(yield_pct), number_text(strength_pct), number_text(retention_g_per_g));
        format!("<Extraction: yield {of} %, strength {at} %, retention {retention} g/g>")
    }
}}

/// Extraction from the strength, the dose and this brew's own masses. An undefined number has its reason.
///
/// The masses are numbers taken as exact, `Estimate`s, or None if they were not weighed; keywords are the options of
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
    let options: ExtractionOptions = options_of("extraction", options)?;
    options.check()?;
    let mass = |name: &str, what: &str, given: Option<&Bound<'_, PyAny>>| match given {
        Some(given) => maybe_from(name, given),
        None => Ok(Err(Undefined::because(format!("the {what} was not weighed")))),
    };
    let (water_g, beverage_g) =
        (mass("water_g", "water", water_g)?, mass("beverage_g", "beverage", beverage_g)?);
    Ok(crate::extraction::stage::extraction(&meta.get().inner, water_g, beverage_g, &options).into())
}
