//! What was extracted, with its uncertainty budget.

use crate::estimate::maybe;
use crate::estimate::{Estimate, Maybe};
use serde::{Deserialize, Serialize};

/// Which mass balance the yield is taken from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Convention {
    /// What the beverage carries out of the bed; what stays in the retained liquid does not count.
    #[default]
    Percolation,
    /// What all the liquid holds, the retained liquid at the strength of the beverage: every gram of water stood with the
    /// coffee from beginning to end.
    Immersion,
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
    /// Extraction yield: dissolved coffee, percent of the dose, or of its dry part where its moisture or carbon dioxide
    /// was stated. Which dissolved coffee counts: see `convention`.
    #[serde(with = "maybe")]
    pub yield_pct: Maybe,
    /// Strength (TDS) of what left the bed, percent by mass: as measured, by Brix and its factor, or reckoned back where it
    /// was measured after bypass water was added.
    #[serde(with = "maybe")]
    pub strength_pct: Maybe,
    /// Water over dose, g/g; bypass water does not count.
    #[serde(with = "maybe")]
    pub brew_ratio: Maybe,
    /// (Water - beverage) over dose, g/g: of this brew, or as stated where the beverage was not weighed.
    #[serde(with = "maybe")]
    pub retention_g_per_g: Maybe,
    /// Water poured that stayed in the bed, to a gram of dose, g/g: retention plus the measured extracted mass, less the
    /// stated vapour.
    #[serde(with = "maybe")]
    pub retained_water_g_per_g: Maybe,
    /// All water in the spent bed, to a gram of its dry mass, g/g.
    #[serde(with = "maybe")]
    pub spent_water_g_per_g: Maybe,
    /// All water in the spent bed, percent of its whole mass (wet basis).
    #[serde(with = "maybe")]
    pub spent_moisture_pct: Maybe,
    /// Water poured, g.
    #[serde(with = "maybe")]
    pub water_g: Maybe,
    /// Beverage, g; see `beverage_source`.
    #[serde(with = "maybe")]
    pub beverage_g: Maybe,
    /// The beverage with its bypass water, g.
    #[serde(with = "maybe")]
    pub cup_g: Maybe,
    /// Strength of that, percent by mass.
    #[serde(with = "maybe")]
    pub cup_strength_pct: Maybe,
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
    /// Yield that the stated retention would give, less the yield of this brew's own beverage, percentage points. The
    /// stated retention is taken as exact.
    #[serde(with = "maybe")]
    pub stated_retention_error_pct: Maybe,
    /// What looks impossible or unusual, in sentences.
    pub cautions: Vec<String>,
}
