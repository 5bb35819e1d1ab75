//! What was extracted, with its uncertainty budget.

use crate::estimate::maybe;
use crate::{Estimate, Maybe};
use serde::{Deserialize, Serialize};

/// Which mass balance the yield is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Convention {
    /// What the beverage carries out of the bed; what stays in the retained liquid does not count.
    Percolation,
}

/// Where the beverage mass comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BeverageSource {
    /// It was weighed.
    Weighed,
    /// It was not weighed: water less what a stated retention keeps.
    FromRetention,
}

/// One input of the yield and what it adds to the yield's sd.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BudgetRow {
    /// Name of the input, which ends in its unit.
    pub name: String,
    /// The input with its standard uncertainty.
    pub value: Estimate,
    /// Percentage points of yield to one unit of the input.
    pub sensitivity: f64,
    /// Sd of the yield from this input alone, percentage points.
    pub contribution_pct: f64,
    /// Share of the yield's variance, 0 to 1; the rows add up to 1. 0 where no input is uncertain.
    pub share: f64,
}

/// What was extracted, and how well that is known.
///
/// ```
/// use pourline::{BeverageSource, BudgetRow, Convention, Estimate, Extraction, ExtractionOptions, Meta, Undefined, extraction};
/// let meta = Meta { dose_g: Some(20.0), tds_pct: Some(1.30), ..Meta::default() };
/// let not_weighed = Err(Undefined::because("the server stood beside the scale"));
/// let options = ExtractionOptions { retention_g_per_g: Some(2.0), ..ExtractionOptions::default() };
/// let found: Extraction = extraction(&meta, Ok(Estimate::new(320.0, 0.1)), not_weighed, &options);
/// assert_eq!(found.convention, Convention::Percolation);
/// assert_eq!(found.beverage_source, Some(BeverageSource::FromRetention));
/// // The guessed retention weighs about as much as the strength that was measured.
/// let share = |name: &str| found.budget.iter().find(|row: &&BudgetRow| row.name == name).unwrap().share;
/// assert!(share("retention_g_per_g") > 0.4 && share("tds_pct") > 0.4);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Extraction {
    /// Extraction yield: dissolved coffee in the beverage, percent of the dose.
    #[serde(with = "maybe")]
    pub yield_pct: Maybe,
    /// Strength of the beverage (TDS) as measured, percent by mass.
    #[serde(with = "maybe")]
    pub strength_pct: Maybe,
    /// Water over dose, g/g.
    #[serde(with = "maybe")]
    pub brew_ratio: Maybe,
    /// (Water - beverage) over dose, g/g: of this brew, or as stated where the beverage was not weighed.
    #[serde(with = "maybe")]
    pub retention_g_per_g: Maybe,
    /// Water poured, g.
    #[serde(with = "maybe")]
    pub water_g: Maybe,
    /// Beverage, g; see `beverage_source`.
    #[serde(with = "maybe")]
    pub beverage_g: Maybe,
    /// Which mass balance the yield is taken from.
    pub convention: Convention,
    /// Where the beverage mass comes from; absent where it was not weighed and no retention was stated.
    pub beverage_source: Option<BeverageSource>,
    /// What each input adds to the sd of the yield; empty where the yield is undefined.
    pub budget: Vec<BudgetRow>,
    /// Yield that the stated average beverage mass would give, less the yield of this brew's own, percentage points.
    /// The average is taken as exact.
    #[serde(with = "maybe")]
    pub average_beverage_error_pct: Maybe,
    /// What looks impossible or unusual, in sentences.
    pub cautions: Vec<String>,
}
