//! In: nothing. Out: the options of `agitation`, with their ranges.

use crate::error::{Error, Result};
use serde::{Deserialize, Serialize};

/// Widest spout, m, and highest fall, m, of a manual pour: they refuse a number in mm or cm.
pub(super) const WIDEST_M: f64 = 0.05;
pub(super) const HIGHEST_M: f64 = 2.0;

/// Options of [`agitation`](fn@crate::agitation): spout and height, besides the weights.
///
/// If one of the first four options is absent, the factor of that name in the log's metadata is used: a line `#
/// factors.spout_bore_m: 0.006` in a file, so that each log of a set may have its own kettle.
///
/// ```
/// use pourline::AgitationOptions;
/// let (spout_bore_m, fall_height_m) = (Some(0.006), Some(0.2));
/// let options = AgitationOptions { spout_bore_m, fall_height_m, ..AgitationOptions::default() };
/// assert!(options.check().is_ok());
/// // 6 mm, not 6 m.
/// assert!(AgitationOptions { spout_bore_m: Some(6.0), ..options }.check().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AgitationOptions {
    /// Inner width of the spout's mouth, m; above 0, at most 0.05.
    pub spout_bore_m: Option<f64>,
    /// Standard uncertainty of that width, m; 0 to 0.05. Absent: the width is exact.
    pub spout_bore_sd_m: Option<f64>,
    /// Height of the spout's mouth over the water or the bed that the stream meets, m; above 0, at most 2. Absent:
    /// estimated from the force on the scale if that identifies it, else undefined.
    pub fall_height_m: Option<f64>,
    /// Standard uncertainty of that height, m; 0 to 2. Absent: the height is exact.
    pub fall_height_sd_m: Option<f64>,
    /// `time_above_s` counts the time at a flow above this, g/s; above 0, at most 100.
    pub above_g_per_s: f64,
}

impl Default for AgitationOptions {
    fn default() -> Self {
        Self {
            spout_bore_m: None,
            spout_bore_sd_m: None,
            fall_height_m: None,
            fall_height_sd_m: None,
            above_g_per_s: 5.0,
        }
    }
}

impl AgitationOptions {
    /// Whether every option is in its range.
    ///
    /// # Errors
    /// `out_of_range`, naming the option.
    pub fn check(&self) -> Result<()> {
        let rules = [
            ("spout_bore_m", self.spout_bore_m, true, WIDEST_M),
            ("spout_bore_sd_m", self.spout_bore_sd_m, false, WIDEST_M),
            ("fall_height_m", self.fall_height_m, true, HIGHEST_M),
            ("fall_height_sd_m", self.fall_height_sd_m, false, HIGHEST_M),
            ("above_g_per_s", Some(self.above_g_per_s), true, 100.0),
        ];
        for (name, value, above_0, high) in rules {
            let Some(value) = value else { continue };
            if !(0.0..=high).contains(&value) || (above_0 && value == 0.0) {
                let low = if above_0 { "above 0" } else { "0 or more" };
                let rule = format!("it must be {low} and at most {high}");
                return Err(Error::OutOfRange { name: format!("agitation.{name}"), value, rule, row: 0 });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_option_is_checked_against_its_stated_range() {
        let with = |set: fn(&mut AgitationOptions, f64), value: f64| {
            let mut options = AgitationOptions::default();
            set(&mut options, value);
            options.check().is_ok()
        };
        let ends = [false, true, true, false];
        assert_eq!([0.0, 1e-9, 0.05, 0.051].map(|v| with(|o, v| o.spout_bore_m = Some(v), v)), ends);
        assert_eq!([-1e-9, 0.0, 0.05, 0.051].map(|v| with(|o, v| o.spout_bore_sd_m = Some(v), v)), ends);
        assert_eq!([0.0, 1e-9, 2.0, 2.01].map(|v| with(|o, v| o.fall_height_m = Some(v), v)), ends);
        assert_eq!([-1e-9, 0.0, 2.0, 2.01].map(|v| with(|o, v| o.fall_height_sd_m = Some(v), v)), ends);
        assert_eq!([0.0, 1e-9, 100.0, 100.1].map(|v| with(|o, v| o.above_g_per_s = v, v)), ends);
    }
}
