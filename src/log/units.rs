//! In: the name of a column or a word. Out: the unit it states, and the conversion to s or g.
//!
//! A unit is stated, never guessed from magnitudes. Ounce: the international avoirdupois ounce of 28.349523125 g,
//! exact by the agreement of 1959 (NIST Handbook 44, Appendix C).

use crate::error::{Error, Result};
use std::str::FromStr;

/// Unit of a time column.
///
/// ```
/// use pourline::TimeUnit;
/// let unit: TimeUnit = "ms".parse()?;
/// assert_eq!(unit.to_s(250.0), 0.25);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TimeUnit {
    /// Second.
    S,
    /// Millisecond.
    Ms,
    /// Microsecond.
    Us,
    /// Nanosecond.
    Ns,
    /// Minute.
    Min,
}

/// Unit of a weight column.
///
/// ```
/// use pourline::MassUnit;
/// let unit: MassUnit = "oz".parse()?;
/// assert_eq!(unit.to_g(1.0), 28.349523125);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MassUnit {
    /// Gram.
    G,
    /// Kilogram.
    Kg,
    /// Milligram.
    Mg,
    /// Avoirdupois ounce, 28.349523125 g.
    Oz,
}

impl TimeUnit {
    /// A number of this unit in s. Divides if possible, so that 100 ms is the same number as 0.1 s.
    #[must_use]
    pub fn to_s(self, value: f64) -> f64 {
        match self {
            Self::S => value,
            Self::Ms => value / 1e3,
            Self::Us => value / 1e6,
            Self::Ns => value / 1e9,
            Self::Min => value * 60.0,
        }
    }
}

/// The international avoirdupois ounce, g (NIST Handbook 44, Appendix C).
pub(crate) const OUNCE_G: f64 = 28.349_523_125;

impl MassUnit {
    /// A number of this unit in g.
    #[must_use]
    pub fn to_g(self, value: f64) -> f64 {
        match self {
            Self::G => value,
            Self::Kg => value * 1e3,
            Self::Mg => value / 1e3,
            Self::Oz => value * OUNCE_G,
        }
    }
}

/// Common interface of the two units.
pub(crate) trait Unit: Copy + PartialEq + std::fmt::Debug {
    /// The argument that states it.
    const ARGUMENT: &'static str;
    /// The short words, for messages.
    const CHOICES: &'static str;
    /// The unit that a word in lower case names.
    fn from_word(word: &str) -> Option<Self>;
    /// The short word.
    fn symbol(self) -> String {
        format!("{self:?}").to_lowercase()
    }
}

impl Unit for TimeUnit {
    const ARGUMENT: &'static str = "time_unit";
    const CHOICES: &'static str = "s, ms, us, ns or min";

    fn from_word(word: &str) -> Option<Self> {
        Some(match word {
            "s" | "sec" | "secs" | "second" | "seconds" => Self::S,
            "ms" | "msec" | "millis" | "millisecond" | "milliseconds" => Self::Ms,
            // Micro is written with the micro sign or with the Greek letter.
            "us" | "\u{b5}s" | "\u{3bc}s" | "usec" | "micros" | "microsecond" | "microseconds" => Self::Us,
            "ns" | "nsec" | "nanos" | "nanosecond" | "nanoseconds" => Self::Ns,
            "min" | "mins" | "minute" | "minutes" => Self::Min,
            _ => return None,
        })
    }
}

impl Unit for MassUnit {
    const ARGUMENT: &'static str = "mass_unit";
    const CHOICES: &'static str = "g, kg, mg or oz";

    fn from_word(word: &str) -> Option<Self> {
        Some(match word {
            "g" | "gram" | "grams" => Self::G,
            "kg" | "kilogram" | "kilograms" => Self::Kg,
            "mg" | "milligram" | "milligrams" => Self::Mg,
            "oz" | "ounce" | "ounces" => Self::Oz,
            _ => return None,
        })
    }
}

fn parse<U: Unit>(text: &str) -> Result<U> {
    U::from_word(text.trim().to_lowercase().as_str()).ok_or_else(|| Error::Argument {
        name: U::ARGUMENT.into(),
        message: format!("{:?} is not a known unit; it must be {}", cut(text), U::CHOICES),
    })
}

impl FromStr for TimeUnit {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        parse(text)
    }
}

impl FromStr for MassUnit {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self> {
        parse(text)
    }
}

/// Splits a column's name in lower case into stem and unit, if there is one: `time_ms`, `t [s]`, `weight (oz)`,
/// `mass/g`. A name that is only a unit, such as `seconds`, has an empty stem.
pub(super) fn split(name: &str) -> (String, Option<String>) {
    let name = name.trim().to_lowercase();
    let (stem, unit) = match name.strip_suffix([')', ']']).map(|open| open.rsplit_once(['(', '['])) {
        Some(Some(parts)) => parts,
        Some(None) => return (name, None),
        None => name.rsplit_once(|c: char| !c.is_alphanumeric()).unwrap_or(("", &name)),
    };
    let unit = unit.trim();
    let stem = stem.trim_end_matches(|c: char| !c.is_alphanumeric());
    // `flow_g_per_s` and `water fl oz` end in a part of a unit, not in a unit.
    let part = stem.ends_with("per") || stem.ends_with("fl");
    let known = TimeUnit::from_word(unit).is_some() || MassUnit::from_word(unit).is_some();
    if known && !part { (stem.into(), Some(unit.into())) } else { (name, None) }
}

/// The text, or its first 80 characters.
pub(super) fn cut(text: &str) -> &str {
    text.char_indices().nth(80).map_or(text, |(end, _)| &text[..end])
}

#[cfg(test)]
mod tests {
    use super::split;

    fn parts(name: &str) -> (String, String) {
        let (stem, unit) = split(name);
        (stem, unit.unwrap_or_default())
    }

    #[test]
    fn a_name_states_its_unit_after_an_underscore_a_blank_a_slash_or_in_brackets() {
        for (name, stem, unit) in [
            ("time_ms", "time", "ms"),
            ("t [s]", "t", "s"),
            ("Weight (oz)", "weight", "oz"),
            ("mass/kg", "mass", "kg"),
            ("water mass g", "water mass", "g"),
            ("elapsed (\u{b5}s)", "elapsed", "\u{b5}s"),
            ("seconds", "", "seconds"),
        ] {
            assert_eq!(parts(name), (stem.into(), unit.into()), "{name}");
        }
    }

    #[test]
    fn a_word_that_only_resembles_a_unit_is_part_of_the_name() {
        for name in
            ["flow_g_per_s", "water (fl oz)", "water fl oz", "flow (g/s)", "water_ml", "weight", ")", "time)"]
        {
            assert_eq!(parts(name), (name.into(), String::new()), "{name}");
        }
    }
}
