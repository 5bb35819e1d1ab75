//! What was extracted, with its uncertainty budget.

use crate::estimate::Estimate;
use crate::rows::{rows, words};
use serde::{Deserialize, Serialize};

words! {
/// Which mass balance the yield is taken from.
#[derive(Default)]
pub enum Convention {
    /// What the beverage carries out of the bed; what stays in the retained liquid does not count.
    #[default]
    Percolation = "percolation",
    /// What all the liquid holds, the retained liquid at the strength of the beverage: every gram of water stood with the
    /// coffee from beginning to end.
    Immersion = "immersion",
}
}

words! {
/// Where the beverage mass comes from.
pub enum BeverageSource {
    /// It was weighed.
    Weighed = "weighed",
    /// It was not weighed: water less what a stated retention keeps.
    FromRetention = "from_retention",
}
}

rows! { $
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
    /// Share of the yield's variance, 0 to 1; the rows add up to 1.
    ///
    /// 0 if no input is uncertain.
    pub share: f64,
}
}

const BALANCE: &str = "mass balance";

rows! { $
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
    /// Extraction yield: the part of the dry coffee in the beverage, strength times beverage over dose, percent.
    ///
    /// Of the dose, or of its dry part if its moisture or carbon dioxide was stated. Which dissolved coffee counts: see
    /// `convention`.
    pub yield_pct: Maybe {
        formula: "100 T B/D (percolation), or 100 T/(1 - T) W/D (immersion)",
        valid: "strength and dose were measured; convention and budget stand in brew.extraction",
        reference: "Batali, Ristenpart, Guinard 2020, Sci. Rep. 10, doi 10.1038/s41598-020-73341-4",
    },
    /// Strength (TDS) of what left the bed, by mass, percent.
    ///
    /// As measured, by Brix and its factor, or reckoned back if it was measured after bypass water was added.
    pub strength_pct: Maybe {
        formula: "as measured, or Brix times the stated factor",
        valid: "it was measured",
        reference: "metadata",
    },
    /// Water over dose; bypass water does not count.
    pub brew_ratio: Maybe {
        formula: "W/D",
        valid: "a dose was given",
        reference: BALANCE,
    },
    /// Water that stayed, over dose: water less beverage, g/g.
    ///
    /// Of this brew, or as stated if the beverage was not weighed.
    pub retention_g_per_g: Maybe {
        formula: "(W - B)/D",
        valid: "the bed has drained by the end of the log",
        reference: BALANCE,
    },
    /// Water poured that stayed in the bed, per gram of dose, g/g.
    ///
    /// Retention and yield together, less what evaporated.
    pub retained_water_g_per_g: Maybe,
    /// All water in the spent bed, per gram of its dry mass, g/g.
    pub spent_water_g_per_g: Maybe {
        formula: "retained water / (1 - E)",
        valid: "as retained_water_g_per_g",
        reference: BALANCE,
    },
    /// All water in the spent bed in percent of its whole mass (wet basis).
    pub spent_moisture_pct: Maybe {
        formula: "100 water / (water + what is left dry)",
        valid: "as retained_water_g_per_g",
        reference: BALANCE,
    },
    /// Water poured in the brew, g.
    pub water_g: Maybe {
        formula: "level at the end less level at the start of the brew",
        valid: "nothing else touches the scale",
        reference: BALANCE,
    },
    /// Beverage collected in the brew, g.
    ///
    /// See `beverage_source`.
    pub beverage_g: Maybe {
        formula: "level at the end, late drips included",
        valid: "it was weighed",
        reference: BALANCE,
    },
    /// The beverage with its bypass water, g.
    pub cup_g: Maybe {
        formula: "B + bypass",
        valid: "as beverage_g",
        reference: BALANCE,
    },
    /// Strength of the cup with its bypass water, by mass, percent.
    pub cup_strength_pct: Maybe {
        formula: "T B/(B + bypass)",
        valid: "as strength_pct",
        reference: BALANCE,
    },
    /// Which mass balance the yield is taken from: `percolation` or `immersion`.
    pub convention: Convention,
    /// Where the beverage mass comes from: `weighed`, `from_retention`, or absent if there is none.
    ///
    /// Absent if it was not weighed and no retention was stated.
    pub beverage_source: Option<BeverageSource>,
    /// What each input adds to the sd of the yield; empty if the yield is undefined.
    pub budget: Vec<BudgetRow>,
    /// Yield by the stated average beverage mass less the yield by this brew's own, percentage points.
    ///
    /// The average is taken as exact.
    pub average_beverage_error_pct: Maybe {
        formula: "yield by the stated average less yield by this brew's own beverage",
        valid: "strength, dose and beverage were measured and an average was stated, which is taken as exact",
        reference: BALANCE,
    },
    /// Yield by the stated retention less the yield by this brew's own beverage, percentage points.
    ///
    /// The stated retention is taken as exact.
    pub stated_retention_error_pct: Maybe {
        formula: "yield by the stated retention less yield by this brew's own beverage",
        valid: "strength, dose and beverage were measured and a retention was stated, which is taken as exact",
        reference: BALANCE,
    },
    /// What looks impossible or unusual, in sentences.
    pub warnings: Vec<String>,
}
}
