//! Uncertain numbers: a value with its standard deviation, or the reason why it is undefined.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A number and its standard deviation, in the same unit.
///
/// ```
/// use pourline::Estimate;
/// let mass_g = Estimate::new(60.0, 0.1);
/// let dose_g = Estimate::exact(15.0);
/// assert!((mass_g.over(dose_g).value - 4.0).abs() < 1e-12);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard deviation; 0 for an exact number.
    pub sd: f64,
}

impl Estimate {
    /// A value with its standard deviation.
    #[must_use]
    pub const fn new(value: f64, sd: f64) -> Self {
        Self { value, sd }
    }

    /// An exact value.
    #[must_use]
    pub const fn exact(value: f64) -> Self {
        Self { value, sd: 0.0 }
    }

    /// Sum of two independent estimates.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self::new(self.value + other.value, self.sd.hypot(other.sd))
    }

    /// Difference of two independent estimates.
    #[must_use]
    pub fn minus(self, other: Self) -> Self {
        Self::new(self.value - other.value, self.sd.hypot(other.sd))
    }

    /// Product of two independent estimates, first order (JCGM 100:2008, 5.1.2).
    #[must_use]
    pub fn times(self, other: Self) -> Self {
        Self::new(self.value * other.value, (self.sd * other.value).hypot(other.sd * self.value))
    }

    /// Ratio of two independent estimates, first order (JCGM 100:2008, 5.1.2).
    #[must_use]
    pub fn over(self, other: Self) -> Self {
        let value = self.value / other.value;
        Self::new(value, (self.sd / other.value).hypot(value * other.sd / other.value))
    }

    /// The estimate in another unit, with `factor` of the new unit per unit of the old.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self::new(self.value * factor, self.sd * factor.abs())
    }
}

impl fmt::Display for Estimate {
    /// The value to two significant digits of its sd, `60.02 ± 0.11`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let decimals = if self.sd > 0.0 && self.sd.is_finite() {
            // The exponent after rounding, so that 0.0996 is written 0.10 and not 0.100.
            let rounded = format!("{:.1e}", self.sd);
            let exponent = rounded.split('e').nth(1).and_then(|e| e.parse().ok()).unwrap_or(0_i32);
            1_i32.saturating_sub(exponent).clamp(0, 9) as usize
        } else {
            3
        };
        write!(f, "{:.*} ± {:.*}", decimals, self.value, decimals, self.sd)
    }
}

/// Why a number is undefined, in a sentence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Undefined {
    /// The reason.
    pub reason: String,
}

impl Undefined {
    /// An undefined number with its reason.
    pub fn because(reason: impl Into<String>) -> Self {
        Self { reason: reason.into() }
    }
}

impl fmt::Display for Undefined {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "undefined: {}", self.reason)
    }
}

/// A number that may be undefined: an [`Estimate`], or the reason why it is.
///
/// ```
/// use pourline::{Estimate, Maybe, Undefined};
/// let known: Maybe = Ok(Estimate::new(22.08, 0.502));
/// let unknown: Maybe = Err(Undefined::because("tds_pct was not given"));
/// assert_eq!(known.unwrap().to_string(), "22.08 ± 0.50");
/// assert_eq!(unknown.unwrap_err().to_string(), "undefined: tds_pct was not given");
/// ```
pub type Maybe = std::result::Result<Estimate, Undefined>;

/// Reads a series of numbers in which null is NaN, a missing sample.
pub(crate) fn or_nan<'de, D: serde::Deserializer<'de>>(from: D) -> Result<Vec<f64>, D::Error> {
    let numbers = Vec::<Option<f64>>::deserialize(from)?;
    Ok(numbers.into_iter().map(|number| number.unwrap_or(f64::NAN)).collect())
}

/// The JSON of a [`Maybe`], or any other result that may be undefined: `{"value": .., "sd": ..}` or `{"reason": ..}`,
/// without the variant's name.
pub(crate) mod maybe {
    use super::{Deserialize, Serialize, Undefined};

    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Written<T> {
        // First, so that a value whose fields all have defaults does not match a reason.
        Unknown(Undefined),
        Known(T),
    }

    pub(crate) fn serialize<T: Serialize, S: serde::Serializer>(
        maybe: &Result<T, Undefined>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        match maybe {
            Ok(known) => known.serialize(to),
            Err(why) => why.serialize(to),
        }
    }

    pub(crate) fn deserialize<'de, T: Deserialize<'de>, D: serde::Deserializer<'de>>(
        from: D,
    ) -> Result<Result<T, Undefined>, D::Error> {
        Ok(match Written::deserialize(from)? {
            Written::Known(known) => Ok(known),
            Written::Unknown(why) => Err(why),
        })
    }
}
