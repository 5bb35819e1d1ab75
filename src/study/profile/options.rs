//! Options of the stage, with their ranges.

use crate::error::{Error, Result};
use crate::rows::words;
use serde::{Deserialize, Serialize};

words! {
/// Axis of the flow.
///
/// ```
/// use pourline::{Axis, ProfileOptions};
/// let options = ProfileOptions { axis: Axis::Water, step_g: 1.0, ..ProfileOptions::default() };
/// assert!(options.check().is_ok());
/// ```
#[derive(Default)]
pub enum Axis {
    /// Time since the start of the first pour, s.
    #[default]
    Time = "time",
    /// Water poured since then, g.
    Water = "water",
}
}

words! {
/// Alignment of the brews.
///
/// ```
/// use pourline::{Align, ProfileOptions};
/// assert_eq!(ProfileOptions::default().align, Align::Landmarks);
/// ```
#[derive(Default)]
pub enum Align {
    /// Start, half-rise, half-fall and end of every pour; each axis is mapped linearly between them to the mean.
    #[default]
    Landmarks = "landmarks",
    /// The start of the first pour only, by a shift.
    Start = "start",
}
}

/// Options of [`profile`](fn@crate::profile).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ProfileOptions {
    /// Axis of the flow.
    pub axis: Axis,
    /// Alignment of the brews.
    pub align: Align,
    /// Step of the time axis, s; 0.01 to 10.
    pub step_s: f64,
    /// Step of the water axis, g; 0.05 to 50.
    pub step_g: f64,
    /// Simultaneous coverage of the band; 0.5 to 0.999.
    pub level: f64,
}

impl Default for ProfileOptions {
    fn default() -> Self {
        Self { axis: Axis::Time, align: Align::Landmarks, step_s: 0.1, step_g: 0.5, level: 0.95 }
    }
}

impl ProfileOptions {
    /// Whether every option is in its range.
    ///
    /// # Errors
    /// `out_of_range`, naming the option.
    pub fn check(&self) -> Result<()> {
        let rules = [
            ("profile.step_s", self.step_s, 0.01, 10.0, "it must be 0.01 to 10 s"),
            ("profile.step_g", self.step_g, 0.05, 50.0, "it must be 0.05 to 50 g"),
            ("profile.level", self.level, 0.5, 0.999, "it must be 0.5 to 0.999"),
        ];
        for (name, value, low, high, rule) in rules {
            if !(low..=high).contains(&value) {
                return Err(Error::OutOfRange { name: name.into(), value, rule: rule.into(), row: 0 });
            }
        }
        Ok(())
    }

    /// The step of the axis in its own unit.
    pub(super) fn step(&self) -> f64 {
        match self.axis {
            Axis::Time => self.step_s,
            Axis::Water => self.step_g,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_option_is_held_to_the_range_that_it_states() {
        let with = |set: fn(&mut ProfileOptions, f64), value: f64| {
            let mut options = ProfileOptions::default();
            set(&mut options, value);
            options.check().is_ok()
        };
        let ends = [false, true, true, false];
        assert_eq!([0.009, 0.01, 10.0, 10.1].map(|v| with(|o, v| o.step_s = v, v)), ends);
        assert_eq!([0.049, 0.05, 50.0, 50.1].map(|v| with(|o, v| o.step_g = v, v)), ends);
        assert_eq!([0.499, 0.5, 0.999, 0.9991].map(|v| with(|o, v| o.level = v, v)), ends);
        // Options have no row.
        let wrong = ProfileOptions { level: 2.0, ..ProfileOptions::default() }.check();
        assert!(matches!(wrong, Err(Error::OutOfRange { row: 0, .. })), "{wrong:?}");
    }
}
