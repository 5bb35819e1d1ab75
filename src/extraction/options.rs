//! In: nothing. Out: the options of `extraction`, with their ranges.

use crate::error::{Error, Result};
use crate::extraction::result::Convention;
use serde::{Deserialize, Serialize};

/// Options of [`extraction`](fn@crate::extraction): the mass balance, values for numbers that were not measured, and
/// properties of dose and cup besides the weights.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ExtractionOptions {
    /// The mass balance of the yield.
    pub convention: Convention,
    /// Water that a gram of dose retains, (water - beverage)/dose, g/g; above 0. Used only if the beverage was not
    /// weighed; absent, the yield of such a brew is undefined. If it was weighed, `stated_retention_error_pct` is the
    /// error that this retention would cause. Quoted values run from 1.5 to 2.5 and depend on the roast (common
    /// practice, no source).
    pub retention_g_per_g: Option<f64>,
    /// Standard uncertainty of that retention, g/g; 0 or more. 0.3 is a uniform distribution from 1.5 to 2.5.
    pub retention_sd_g_per_g: f64,
    /// Average beverage mass of other brews, g; above 0. It gives the error of the yield if that average is used for
    /// this brew.
    pub average_beverage_g: Option<f64>,
    /// Standard uncertainty of a dose without its own, g; 0 or more. 0.1 g steps, uniform: JCGM 100:2008, 4.3.7.
    pub dose_sd_g: f64,
    /// Standard uncertainty of a strength or Brix reading without its own, percentage points; 0 or more.
    pub tds_sd_pct: f64,
    /// Strength per unit of Brix; above 0. Needed if only `brix_pct` was measured: a refractometer's Brix is that of
    /// sugar. 0.85 is often used (common practice, no source).
    pub brix_factor: Option<f64>,
    /// Standard uncertainty of that factor; 0 or more. Published fits differ by 0.12 percentage points of strength in a
    /// cup of 1.4 %: a uniform distribution of that width is 0.02 of the factor.
    pub brix_factor_sd: f64,
    /// Bypass water added to the beverage, g; above 0. It is in neither of the two weights.
    pub bypass_g: Option<f64>,
    /// Standard uncertainty of that water, g; 0 or more.
    pub bypass_sd_g: f64,
    /// Whether the strength was measured after that water was added.
    pub tds_after_bypass: bool,
    /// Moisture of the dose, percent by mass; 0 or more, below 100 together with `co2_pct`. Absent, the yield is
    /// percent of the dose as weighed; given, percent of its dry part.
    pub moisture_pct: Option<f64>,
    /// Standard uncertainty of that moisture, percentage points; 0 or more. ISO 11294:1994 repeats to 0.1.
    pub moisture_sd_pct: f64,
    /// Carbon dioxide in the dose, percent by mass; 0 or more. It leaves during the brew and does not count as coffee.
    pub co2_pct: Option<f64>,
    /// Standard uncertainty of that carbon dioxide, percentage points; 0 or more. 0.1 is an assumption.
    pub co2_sd_pct: f64,
    /// Water that left the brew as vapour, g; 0 or more. It is subtracted from the retained water; the yield does not
    /// depend on it.
    pub evaporated_g: f64,
    /// Standard uncertainty of that vapour, g; 0 or more.
    pub evaporated_sd_g: f64,
}

impl Default for ExtractionOptions {
    fn default() -> Self {
        let tenth_g = 0.1 / 12_f64.sqrt();
        Self {
            convention: Convention::Percolation,
            retention_g_per_g: None,
            retention_sd_g_per_g: 0.3,
            average_beverage_g: None,
            dose_sd_g: tenth_g,
            tds_sd_pct: 0.03,
            brix_factor: None,
            brix_factor_sd: 0.02,
            bypass_g: None,
            bypass_sd_g: tenth_g,
            tds_after_bypass: false,
            moisture_pct: None,
            moisture_sd_pct: 0.1,
            co2_pct: None,
            co2_sd_pct: 0.1,
            evaporated_g: 0.0,
            evaporated_sd_g: 0.0,
        }
    }
}

impl ExtractionOptions {
    /// Whether every option is in its range.
    ///
    /// # Errors
    /// `out_of_range`, naming the option.
    pub fn check(&self) -> Result<()> {
        let above_0 = [
            ("retention_g_per_g", self.retention_g_per_g),
            ("average_beverage_g", self.average_beverage_g),
            ("brix_factor", self.brix_factor),
            ("bypass_g", self.bypass_g),
        ];
        for (name, value) in above_0 {
            hold(name, value.unwrap_or(1.0), |value| value > 0.0, "it must be above 0")?;
        }
        let from_0 = [
            ("retention_sd_g_per_g", self.retention_sd_g_per_g),
            ("dose_sd_g", self.dose_sd_g),
            ("tds_sd_pct", self.tds_sd_pct),
            ("brix_factor_sd", self.brix_factor_sd),
            ("bypass_sd_g", self.bypass_sd_g),
            ("moisture_pct", self.moisture_pct.unwrap_or(0.0)),
            ("moisture_sd_pct", self.moisture_sd_pct),
            ("co2_pct", self.co2_pct.unwrap_or(0.0)),
            ("co2_sd_pct", self.co2_sd_pct),
            ("evaporated_g", self.evaporated_g),
            ("evaporated_sd_g", self.evaporated_sd_g),
        ];
        for (name, value) in from_0 {
            hold(name, value, |value| value >= 0.0, "it must be 0 or more")?;
        }
        let not_coffee_pct = self.moisture_pct.unwrap_or(0.0) + self.co2_pct.unwrap_or(0.0);
        let rule = "it must be below 100: part of the dose must be dry coffee";
        hold("moisture_pct and co2_pct together", not_coffee_pct, |value| value < 100.0, rule)
    }
}

fn hold(name: &str, value: f64, fine: impl Fn(f64) -> bool, rule: &str) -> Result<()> {
    if value.is_finite() && fine(value) {
        return Ok(());
    }
    Err(Error::OutOfRange { name: format!("extraction.{name}"), value, rule: rule.into(), row: 0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_option_is_checked_against_its_stated_range() {
        let with = |set: fn(&mut ExtractionOptions, f64)| {
            move |value: f64| {
                let mut options = ExtractionOptions::default();
                set(&mut options, value);
                options.check().is_ok()
            }
        };
        for set in [
            |o: &mut ExtractionOptions, v| o.retention_g_per_g = Some(v),
            |o: &mut ExtractionOptions, v| o.average_beverage_g = Some(v),
            |o: &mut ExtractionOptions, v| o.brix_factor = Some(v),
            |o: &mut ExtractionOptions, v| o.bypass_g = Some(v),
        ] {
            assert_eq!(
                [-1.0, 0.0, 1e-9, 0.5, f64::INFINITY].map(with(set)),
                [false, false, true, true, false]
            );
        }
        for set in [
            |o: &mut ExtractionOptions, v| o.retention_sd_g_per_g = v,
            |o: &mut ExtractionOptions, v| o.dose_sd_g = v,
            |o: &mut ExtractionOptions, v| o.tds_sd_pct = v,
            |o: &mut ExtractionOptions, v| o.brix_factor_sd = v,
            |o: &mut ExtractionOptions, v| o.bypass_sd_g = v,
            |o: &mut ExtractionOptions, v| o.moisture_pct = Some(v),
            |o: &mut ExtractionOptions, v| o.moisture_sd_pct = v,
            |o: &mut ExtractionOptions, v| o.co2_pct = Some(v),
            |o: &mut ExtractionOptions, v| o.co2_sd_pct = v,
            |o: &mut ExtractionOptions, v| o.evaporated_g = v,
            |o: &mut ExtractionOptions, v| o.evaporated_sd_g = v,
        ] {
            assert_eq!([-1e-9, 0.0, 0.5, f64::NAN].map(with(set)), [false, true, true, false]);
        }
        let wet = |o: &mut ExtractionOptions, v| (o.moisture_pct, o.co2_pct) = (Some(v), Some(40.0));
        assert_eq!([59.9, 60.0, 70.0].map(with(wet)), [true, false, false]);
    }

    #[test]
    fn unstated_uncertainties_have_the_usual_defaults() {
        let o = ExtractionOptions::default();
        // A display of 0.1 g: 0.0289 g (JCGM 100:2008, 4.3.7).
        assert!((o.dose_sd_g - 0.028_867_5).abs() < 1e-7 && (o.bypass_sd_g - 0.028_867_5).abs() < 1e-7);
        assert_eq!((o.retention_sd_g_per_g, o.tds_sd_pct, o.brix_factor_sd), (0.3, 0.03, 0.02));
        assert_eq!(
            (o.moisture_sd_pct, o.co2_sd_pct, o.evaporated_g, o.evaporated_sd_g),
            (0.1, 0.1, 0.0, 0.0)
        );
    }
}
