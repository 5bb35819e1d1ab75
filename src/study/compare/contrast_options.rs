//! How groups are contrasted: level, margin, power, and how much is drawn.

use crate::error::{Error, Result};
use crate::study::compare::equivalence::{above_0, within_level};
use serde::{Deserialize, Serialize};

/// How groups are contrasted.
///
/// ```
/// use pourline::ContrastOptions;
/// let options = ContrastOptions { margin: Some(0.3), ..ContrastOptions::default() };
/// assert_eq!(options.level, 0.95);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ContrastOptions {
    /// Share of intervals that hold the truth, between 0.5 and 1; a p counts below one less this. Default 0.95.
    pub level: f64,
    /// The largest difference that does not matter, above 0, in the unit of the values; without it equivalence is not tested. No default.
    pub margin: Option<f64>,
    /// Power of the minimum detectable difference, between 0.5 and 1. Default 0.8.
    pub power: f64,
    /// All arrangements are gone through where there are at most so many, from 1 to 10 million. Default 20000.
    pub exact_up_to: usize,
    /// Otherwise so many are drawn, from 99 to 10 million. Default 9999.
    pub draws: usize,
    /// Bootstrap samples, from 99 to 10 million. Default 4999.
    pub resamples: usize,
    /// Seed of both: the same one gives the same numbers for ever. Default 1.
    pub seed: u64,
    /// Where several rows are of one brew: take their mean as its value, instead of refusing p and interval. Default false.
    pub average_repeats: bool,
}

impl Default for ContrastOptions {
    fn default() -> Self {
        Self {
            level: 0.95,
            margin: None,
            power: 0.8,
            exact_up_to: 20_000,
            draws: 9_999,
            resamples: 4_999,
            seed: 1,
            average_repeats: false,
        }
    }
}

impl ContrastOptions {
    pub(super) fn check(&self) -> Result<()> {
        within_level("level", self.level)?;
        within_level("power", self.power)?;
        self.margin.map_or(Ok(()), |margin| above_0("margin", margin))?;
        let most = 10_000_000;
        for (name, value, least) in [
            ("exact_up_to", self.exact_up_to, 1),
            ("draws", self.draws, 99),
            ("resamples", self.resamples, 99),
        ] {
            if value < least || value > most {
                let rule = format!("it must lie between {least} and {most}");
                return Err(Error::OutOfRange { name: name.into(), value: value as f64, rule, row: 0 });
            }
        }
        Ok(())
    }
}
