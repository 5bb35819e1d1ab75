//! In: a line with its sd and a target. Out: the confidence set of the setting at which the line meets the target.
//!
//! Method: Fieller 1954, J. R. Stat. Soc. B 16, 175: every setting at which a t test of the line against the target is
//! not significant. The set is an interval only if the slope is significant. Otherwise it has a gap in its middle, or
//! is unbounded.

use crate::study::dial_in::straight::DialLine;
use serde::{Deserialize, Serialize};
use std::fmt;

/// Confidence set of a setting.
///
/// ```
/// use pourline::study::SettingInterval;
/// let unclear = SettingInterval::Outside { at_most: 3.0, at_least: 9.5 };
/// assert!(unclear.contains(2.0) && !unclear.contains(5.0));
/// assert_eq!(unclear.to_string(), "at most 3 or at least 9.5, not between");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "shape", rename_all = "snake_case")]
pub enum SettingInterval {
    /// From one setting to another.
    Between {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// The slope may have either sign: all settings except a gap.
    Outside {
        /// Upper end of the lower part.
        at_most: f64,
        /// Lower end of the upper part.
        at_least: f64,
    },
    /// No upper end.
    AtLeast {
        /// Lower end.
        low: f64,
    },
    /// No lower end.
    AtMost {
        /// Upper end.
        high: f64,
    },
    /// All settings: the brews exclude none.
    Anywhere,
}

impl SettingInterval {
    /// Whether the set contains a setting.
    #[must_use]
    pub fn contains(&self, setting: f64) -> bool {
        self.reaches(setting, setting)
    }

    /// Whether the set intersects `first` to `last`.
    pub(super) fn reaches(&self, first: f64, last: f64) -> bool {
        match *self {
            Self::Between { low, high } => low <= last && first <= high,
            Self::Outside { at_most, at_least } => first <= at_most || at_least <= last,
            Self::AtLeast { low } => low <= last,
            Self::AtMost { high } => first <= high,
            Self::Anywhere => true,
        }
    }

    /// Whether the set is within `first` to `last`.
    pub(super) fn lies_within(&self, first: f64, last: f64) -> bool {
        matches!(*self, Self::Between { low, high } if first <= low && high <= last)
    }

    /// Ends of the set, infinite if unbounded; for a set with a gap, the ends of the gap.
    #[must_use]
    pub fn ends(&self) -> [f64; 2] {
        match *self {
            Self::Between { low, high } => [low, high],
            Self::Outside { at_most, at_least } => [at_most, at_least],
            Self::AtLeast { low } => [low, f64::INFINITY],
            Self::AtMost { high } => [f64::NEG_INFINITY, high],
            Self::Anywhere => [f64::NEG_INFINITY, f64::INFINITY],
        }
    }
}

impl fmt::Display for SettingInterval {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Between { low, high } => write!(f, "from {} to {}", short(low), short(high)),
            Self::Outside { at_most, at_least } => {
                write!(f, "at most {} or at least {}, not between", short(at_most), short(at_least))
            }
            Self::AtLeast { low } => write!(f, "at least {}, with no upper end", short(low)),
            Self::AtMost { high } => write!(f, "at most {}, with no lower end", short(high)),
            Self::Anywhere => f.write_str("any setting: the brews exclude none"),
        }
    }
}

/// A number with at most four significant digits.
pub(super) fn short(number: f64) -> String {
    let size = if number == 0.0 { 0.0 } else { number.abs().log10().floor() };
    if !(-4.0..9.0).contains(&size) {
        return format!("{number:.3e}");
    }
    let text = format!("{:.*}", (3.0 - size).max(0.0) as usize, number);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').into() } else { text }
}

/// Confidence set of the setting at which the line meets the target.
pub(super) fn fieller(line: &DialLine, target: f64, level: f64) -> SettingInterval {
    let t = line.t(level);
    let off = target - line.middle_value.value;
    let slope = line.slope.value;
    let (of_slope, of_middle) = (t * line.slope.sd, t * line.middle_value.sd);
    // (off - slope u)^2 <= of_middle^2 + of_slope^2 u^2 for the distance u from the middle.
    let steep = (slope.abs() - of_slope) * (slope.abs() + of_slope);
    let discriminant = of_middle * of_middle * steep + (of_slope * off).powi(2);
    if steep == 0.0 || (steep < 0.0 && discriminant < 0.0) {
        return SettingInterval::Anywhere;
    }
    // This form of the roots avoids cancellation.
    let half = off * slope + (off * slope).signum() * discriminant.max(0.0).sqrt();
    let far = half / steep;
    let near = if half == 0.0 { 0.0 } else { (off * off - of_middle * of_middle) / half };
    let (low, high) = (line.middle + far.min(near), line.middle + far.max(near));
    if steep > 0.0 {
        SettingInterval::Between { low, high }
    } else {
        SettingInterval::Outside { at_most: low, at_least: high }
    }
}

/// Whether the slope is significant at that level.
pub(super) fn clear(line: &DialLine, level: f64) -> bool {
    line.slope.value.abs() > line.t(level) * line.slope.sd
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_at_most_four_significant_digits() {
        let of = [0.0, 12.345_67, 9.5, 120_000.0, 0.001_234_56, 1.234e-5, 1.234e9, 123_456_789.0].map(short);
        assert_eq!(of, ["0", "12.35", "9.5", "120000", "0.001235", "1.234e-5", "1.234e9", "123456789"]);
    }

    fn line(slope: f64, slope_sd: f64) -> DialLine {
        let none = || Err(crate::estimate::Undefined::because("not asked"));
        DialLine {
            slope: crate::estimate::Estimate::new(slope, slope_sd),
            slope_interval: [0.0; 2],
            intercept: crate::estimate::Estimate::exact(0.0),
            middle: 5.0,
            middle_value: crate::estimate::Estimate::new(10.0, 0.2),
            residual_sd: 1.0,
            degrees: 10,
            r2: 1.0,
            lack_of_fit: Err(crate::estimate::Undefined::because("not asked")),
            curvature: Err(crate::estimate::Undefined::because("not asked")),
            measurement_share: none(),
        }
    }

    #[test]
    fn at_both_ends_the_t_statistic_of_the_target_is_the_quantile() {
        // t(0.975, 10) = 2.228139 (tables).
        let off = |line: &DialLine, setting: f64, target: f64| {
            let u = setting - 5.0;
            let sd = 0.2_f64.hypot(line.slope.sd * u);
            (10.0 + line.slope.value * u - target).abs() / sd
        };
        for (slope, target) in [(2.0, 13.0), (-2.0, 13.0), (2.0, 10.0), (0.5, 4.0)] {
            let line = line(slope, 0.1);
            let found = fieller(&line, target, 0.95);
            let SettingInterval::Between { low, high } = found else { panic!("{found}") };
            assert!(
                (off(&line, low, target) - 2.228_139).abs() < 1e-5
                    && (off(&line, high, target) - 2.228_139).abs() < 1e-5
            );
            assert!(low < high && off(&line, f64::midpoint(low, high), target) < 2.228);
        }
        // A slope that may be 0: far from the middle's value a gap is excluded, near to it nothing is.
        let unclear = line(0.1, 0.1);
        let found = fieller(&unclear, 11.0, 0.95);
        let SettingInterval::Outside { at_most, at_least } = found else { panic!("{found}") };
        assert!([at_most, at_least].iter().all(|s| (off(&unclear, *s, 11.0) - 2.228_139).abs() < 1e-5));
        assert!(off(&unclear, f64::midpoint(at_most, at_least), 11.0) > 2.228);
        assert_eq!(fieller(&unclear, 10.1, 0.95), SettingInterval::Anywhere);
        assert!(clear(&line(0.23, 0.1), 0.95) && !clear(&line(-0.22, 0.1), 0.95));
    }

    #[test]
    fn intersection_and_inclusion_depend_on_the_ends() {
        let between = SettingInterval::Between { low: 2.0, high: 4.0 };
        assert_eq!(
            [(0.0, 1.9), (0.0, 2.0), (4.0, 9.0), (4.1, 9.0)].map(|(a, b)| between.reaches(a, b)),
            [false, true, true, false]
        );
        let outside = SettingInterval::Outside { at_most: 2.0, at_least: 4.0 };
        assert_eq!(
            [(1.0, 2.0), (2.1, 3.9), (3.0, 4.0)].map(|(a, b)| outside.reaches(a, b)),
            [true, false, true]
        );
        assert!(
            SettingInterval::AtLeast { low: 2.0 }.contains(2.0)
                && !SettingInterval::AtLeast { low: 2.0 }.contains(1.9)
        );
        assert!(
            SettingInterval::AtMost { high: 2.0 }.contains(2.0)
                && !SettingInterval::AtMost { high: 2.0 }.contains(2.1)
        );
        assert!(
            between.lies_within(2.0, 4.0) && !between.lies_within(2.1, 4.0) && !between.lies_within(2.0, 3.9)
        );
        assert_eq!(between.ends(), [2.0, 4.0]);
    }
}
