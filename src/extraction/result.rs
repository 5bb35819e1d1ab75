//! The extraction with its uncertainty budget.

use crate::estimate::Estimate;
use crate::rows::{rows, words};
use serde::{Deserialize, Serialize};

words! {
/// The mass balance of the yield.
#[derive(Default)]
pub enum Convention {
    /// Counts the dissolved coffee in the beverage, not that in the retained liquid.
    #[default]
    Percolation = "percolation",
    /// Counts the dissolved coffee in all liquid, the retained liquid at the strength of the beverage: all water is in
    /// contact with the coffee throughout.
    Immersion = "immersion",
}
}

words! {
/// The source of the beverage mass.
pub enum BeverageSource {
    /// It was weighed.
    Weighed = "weighed",
    /// It was not weighed: water less the stated retention.
    FromRetention = "from_retention",
}
}

rows! { $
/// One input of the yield and its contribution to the yield's sd.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BudgetRow {
    /// Name of the input, which ends in its unit.
    pub name: String,
    /// The input with its standard uncertainty.
    pub value: Estimate,
    /// Sensitivity: percentage points of yield per unit of the input.
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
/// Extraction of one brew, with its uncertainty budget.
///
/// ```
/// use pourline::{BeverageSource, BudgetRow, Convention, Estimate, Extraction, ExtractionOptions};
/// use pourline::{Meta, Undefined, extraction};
/// let meta = Meta { dose_g: Some(20.0), tds_pct: Some(1.30), ..Meta::default() };
/// let not_weighed = Err(Undefined::because("the server was not on a scale"));
/// let options = ExtractionOptions { retention_g_per_g: Some(2.0), ..ExtractionOptions::default() };
/// let found: Extraction = extraction(&meta, Ok(Estimate::new(320.0, 0.1)), not_weighed, &options);
/// assert_eq!(found.convention, Convention::Percolation);
/// assert_eq!(found.beverage_source, Some(BeverageSource::FromRetention));
/// // The stated retention contributes about as much variance as the measured strength.
/// let share = |name: &str| found.budget.iter().find(|row: &&BudgetRow| row.name == name).unwrap().share;
/// assert!(share("retention_g_per_g") > 0.4 && share("tds_pct") > 0.4);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Extraction {
    /// Extraction yield: dissolved fraction of the dose, strength times beverage over dose, percent.
    ///
    /// Of the dose, or of its dry part if its moisture or carbon dioxide was stated. `convention` defines which
    /// dissolved coffee counts.
    pub yield_pct: Maybe {
        formula: "100 T B/D (percolation), or 100 T/(1 - T) W/D (immersion)",
        valid: "strength and dose were measured; convention and budget are in brew.extraction",
        reference: "Batali, Ristenpart, Guinard 2020, Sci. Rep. 10, doi 10.1038/s41598-020-73341-4",
    },
    /// Strength (TDS) of the liquid that left the bed, by mass, percent.
    ///
    /// As measured, by Brix and its factor, or recomputed if it was measured after bypass water was added.
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
    /// Retained water over dose: water less beverage, g/g.
    ///
    /// Of this brew, or as stated if the beverage was not weighed.
    pub retention_g_per_g: Maybe {
        formula: "(W - B)/D",
        valid: "the bed has drained by the end of the log",
        reference: BALANCE,
    },
    /// Poured water that the bed retained, per gram of dose, g/g.
    ///
    /// Retention plus the measured extracted mass, less the stated vapour.
    pub retained_water_g_per_g: Maybe,
    /// All water in the spent bed, per gram of its dry mass, g/g.
    pub spent_water_g_per_g: Maybe {
        formula: "retained water / (1 - E)",
        valid: "as retained_water_g_per_g",
        reference: BALANCE,
    },
    /// All water in the spent bed in percent of its whole mass (wet basis).
    pub spent_moisture_pct: Maybe {
        formula: "100 water / (water + dry mass)",
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
    /// Mass balance of the yield: `percolation` or `immersion`.
    pub convention: Convention,
    /// Source of the beverage mass: `weighed`, `from_retention`, or absent if there is none.
    ///
    /// Absent if it was not weighed and no retention was stated.
    pub beverage_source: Option<BeverageSource>,
    /// Contribution of each input to the sd of the yield; empty if the yield is undefined.
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
    /// Names of the inputs whose sd nobody stated: it is the default of its option.
    #[serde(default)]
    pub assumed_sd: Vec<String>,
    /// Warnings on impossible or unusual numbers, each a sentence without its full stop.
    pub warnings: Vec<String>,
}
}

impl Extraction {
    /// Whether the sd of an input is assumed.
    pub(crate) fn assumes(&self, name: &str) -> bool {
        self.assumed_sd.iter().any(|assumed| assumed == name)
    }

    /// Whether assumed sd contribute more than half of the yield's variance.
    pub(crate) fn is_mostly_assumed(&self) -> bool {
        self.budget.iter().filter(|row| self.assumes(&row.name)).map(|row| row.share).sum::<f64>() > 0.5
    }
}
