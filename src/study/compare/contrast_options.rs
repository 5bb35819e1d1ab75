//! Options of a contrast: level, margin, power, and numbers of samples.

use crate::error::{Error, Result};
use crate::study::compare::equivalence::{above_0, within_level};
use crate::study::compare::people::Over;
use serde::{Deserialize, Serialize};

/// Options of a contrast.
///
/// ```
/// use pourline::ContrastOptions;
/// let options = ContrastOptions { margin: Some(0.3), ..ContrastOptions::default() };
/// assert_eq!(options.level, 0.95);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ContrastOptions {
    /// Confidence level, between 0.5 and 1; a difference with a p of at most 1 - level is shown. Default 0.95.
    pub level: f64,
    /// Number of measures that are tested together, from 1 to 1000: p and intervals then hold for all of them, by
    /// Bonferroni's inequality. Default 1.
    pub measures: usize,
    /// Equivalence margin, above 0, in the unit of the values. Without it equivalence is not tested. No default.
    pub margin: Option<f64>,
    /// Whose hands the differences are about: "these people" who took part, or "people like these", of whom they are a
    /// sample; that needs a block "person". Default "these people".
    pub over: Over,
    /// Power of the minimum detectable difference, between 0.5 and 1. Default 0.8.
    pub power: f64,
    /// Largest number of permutations for an exact test, from 1 to 10 million. Default 20000.
    pub exact_up_to: usize,
    /// Number of permutations sampled otherwise, from 99 to 10 million. Default 9999.
    pub draws: usize,
    /// Seed of the permutations; a seed fixes the result. Default 1.
    pub seed: u64,
    /// Whether several rows of one brew are averaged; otherwise p and interval are undefined for them. Default false.
    pub average_repeats: bool,
}

impl Default for ContrastOptions {
    fn default() -> Self {
        Self {
            level: 0.95,
            measures: 1,
            margin: None,
            over: Over::ThesePeople,
            power: 0.8,
            exact_up_to: 20_000,
            draws: 9_999,
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
        let many = 10_000_000;
        for (name, value, least, most) in [
            ("measures", self.measures, 1, 1000),
            ("exact_up_to", self.exact_up_to, 1, many),
            ("draws", self.draws, 99, many),
        ] {
            if value < least || value > most {
                let rule = format!("it must lie between {least} and {most}");
                return Err(Error::OutOfRange { name: name.into(), value: value as f64, rule, row: 0 });
            }
        }
        Ok(())
    }

    /// The options of one of the measures: its error rate is its share of that of all.
    pub(super) fn of_one_measure(&self) -> Self {
        Self { level: 1.0 - (1.0 - self.level) / self.measures as f64, measures: 1, ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_option_is_held_to_the_range_that_it_states() {
        let with = |set: fn(&mut ContrastOptions, f64), value: f64| {
            let mut options = ContrastOptions::default();
            set(&mut options, value);
            options.check()
        };
        let ok = |set: fn(&mut ContrastOptions, f64)| move |value: f64| with(set, value).is_ok();
        let ends = [false, true, true, false];
        assert_eq!([0.5, 0.501, 0.999, 1.0].map(ok(|o, v| o.level = v)), ends);
        assert_eq!([0.5, 0.501, 0.999, 1.0].map(ok(|o, v| o.power = v)), ends);
        assert_eq!([0.0, 1e-9, 9.0, f64::INFINITY].map(ok(|o, v| o.margin = Some(v))), ends);
        assert_eq!([0.0, 1.0, 1e7, 10_000_001.0].map(ok(|o, v| o.exact_up_to = v as usize)), ends);
        assert_eq!([0.0, 1.0, 1e3, 1001.0].map(ok(|o, v| o.measures = v as usize)), ends);
        assert_eq!([98.0, 99.0, 1e7, 10_000_001.0].map(ok(|o, v| o.draws = v as usize)), ends);
        // Options have no row.
        let wrong = with(|o, v| o.draws = v as usize, 5.0).unwrap_err().to_string();
        assert_eq!(wrong, "draws is 5: it must lie between 99 and 10000000");
    }
}
