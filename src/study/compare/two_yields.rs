//! In: the yields of brews by their own beverage and by the mean. Out: [`MeanBeverage`], its words and its tables.

use crate::estimate::Estimate;
use crate::rows::{push, rows};
use crate::study::gather::study::Missing;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

const BALANCE: &str = "mass balance";

rows! { $
/// One brew with both beverage masses.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TwoYields {
    /// Name of the brew.
    pub brew: String,
    /// Beverage of the brew, g.
    pub beverage_g: Estimate {},
    /// Yield by the brew's own beverage, percent.
    pub own_pct: Estimate {
        formula: "100 T B/D",
        valid: "strength, dose and beverage are known",
        reference: BALANCE,
    },
    /// Yield by the mean beverage of all, percent.
    ///
    /// Its sd takes the mean as exact.
    pub with_mean_pct: Estimate {
        formula: "100 T mean(B)/D",
        valid: "as own_pct",
        reference: BALANCE,
    },
    /// Effect of the mean beverage on the yield, in percentage points.
    pub error_pct: Estimate {
        formula: "with_mean_pct - own_pct",
        valid: "as own_pct",
    },
    /// Rank of the brew by its own yield, from 1 for the highest.
    pub own_rank: usize {
        valid: "as own_pct",
    },
    /// Rank of the brew by the yield with the mean beverage.
    pub with_mean_rank: usize {
        valid: "as own_pct",
    },
}
}

/// Two brews of neighbouring own yields whose order the mean beverage reverses.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Flip {
    /// The brew with the higher own yield.
    pub higher: String,
    /// The brew with the lower own yield.
    pub lower: String,
    /// Difference of their own yields, percentage points.
    pub own_difference_pct: Estimate,
    /// Difference of their yields with the mean beverage, percentage points.
    pub with_mean_difference_pct: f64,
    /// Whether the own yields differ by more than two sd.
    pub clear: bool,
}

rows! { $
/// Effect of the mean beverage mass on the yields of brews, and on their ranks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeanBeverage {
    /// Mean beverage of the brews that are included, g.
    pub mean_beverage_g: f64,
    /// Sd of the beverage from brew to brew, g.
    pub beverage_spread_g: f64,
    /// The brews, in the order given.
    pub brews: Vec<TwoYields> { hidden },
    /// Number of brews whose rank changes.
    pub rank_changes: usize,
    /// Number of pairs of brews, neighbours or not, whose order is reversed.
    pub pairs_flipped: usize,
    /// Neighbours by own yield whose order is reversed; `clear` if their own yields differ by more than two sd.
    pub flips: Vec<Flip> { hidden },
    /// Index in `brews` of the largest error.
    pub largest: usize { hidden },
    /// Root mean square of the errors, percentage points.
    pub rms_error_pct: f64,
    /// Excluded brews, each with the reason.
    pub missing: Vec<Missing> { hidden },
    /// The result in sentences.
    pub words: Vec<String>,
}
}

/// The result in sentences.
pub(super) fn words(found: &MeanBeverage) -> Vec<String> {
    let n = found.brews.len();
    let worst = &found.brews[found.largest];
    let clear = found.flips.iter().filter(|flip| flip.clear).count();
    let mut words = vec![
        format!(
            "with {:.1} g for every beverage the error of the yields is {:.2} points (root mean square), at most {} \
             points ({})",
            found.mean_beverage_g, found.rms_error_pct, worst.error_pct, worst.brew
        ),
        format!(
            "{} of {n} brews change their rank, {} pairs their order",
            found.rank_changes, found.pairs_flipped
        ),
    ];
    if !found.flips.is_empty() {
        words.push(format!(
            "{} of the pairs are neighbours by their own yields; {clear} of them differ by more than two sd",
            found.flips.len()
        ));
    }
    if !found.missing.is_empty() {
        words.push(format!("{} brews are excluded: see `missing`", found.missing.len()));
    }
    words
}

impl MeanBeverage {
    /// The same, with further excluded brews.
    pub(crate) fn without(mut self, failed: Vec<Missing>) -> Self {
        self.missing.extend(failed);
        self.words = words(&self);
        self
    }

    /// One row per pair of neighbours whose order is reversed.
    #[must_use]
    pub fn flips_table(&self) -> Table {
        let mut table = Table::default();
        let number = |of: fn(&Flip) -> f64| Values::Number(self.flips.iter().map(of).collect());
        let text = |of: fn(&Flip) -> &str| Values::Text(self.flips.iter().map(|f| of(f).into()).collect());
        table.push("higher", "", text(|f| &f.higher));
        table.push("lower", "", text(|f| &f.lower));
        table.push("own_difference_pct", "%", number(|f| f.own_difference_pct.value));
        table.push("own_difference_sd_pct", "%", number(|f| f.own_difference_pct.sd));
        table.push("with_mean_difference_pct", "%", number(|f| f.with_mean_difference_pct));
        table.push("clear", "", text(|f| if f.clear { "yes" } else { "no" }));
        table
    }

    /// One row per brew.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        table.push("brew", "", Values::Text(self.brews.iter().map(|b| b.brew.clone()).collect()));
        push(&mut table, &self.brews);
        table
    }
}
