//! In: a file or arrays. Out: a [`Log`]: time stamps, the two weight channels, and what is known of the brew.

mod meta;
pub use meta::Meta;

use crate::{Error, Result};

/// What to do with a reading that is missing (NaN in an array, an empty cell in a file).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Missing {
    /// Refuse the log and name the row.
    #[default]
    Refuse,
    /// Let it through; `condition` flags the sample and uses it for nothing.
    Flag,
}

/// The timestamped weights of one brew as they were logged, in the order in which they were logged.
///
/// At least one of the two channels is present. Time is in s, mass in g. Stamps may be uneven, doubled or out of order:
/// `condition` sorts them and says so.
#[derive(Debug, Clone, PartialEq)]
pub struct Log {
    time_s: Vec<f64>,
    water_g: Option<Vec<f64>>,
    beverage_g: Option<Vec<f64>>,
    /// What is known of the brew beside the weights.
    pub meta: Meta,
}

impl Log {
    /// Stamps in s, as logged.
    #[must_use]
    pub fn time_s(&self) -> &[f64] {
        &self.time_s
    }

    /// Reading of the scale under the brewer, g: water poured so far, up to a constant.
    #[must_use]
    pub fn water_g(&self) -> Option<&[f64]> {
        self.water_g.as_deref()
    }

    /// Reading of the scale under the server alone, g: beverage collected so far, up to a constant.
    #[must_use]
    pub fn beverage_g(&self) -> Option<&[f64]> {
        self.beverage_g.as_deref()
    }

    /// Number of samples.
    #[must_use]
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// Whether the log holds no sample; a log that was built never is empty.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }

    /// A log from arrays. Missing readings (NaN) are refused; see [`Log::with_missing`].
    ///
    /// # Errors
    /// See [`Log::with_missing`].
    pub fn new(
        time_s: Vec<f64>,
        water_g: Option<Vec<f64>>,
        beverage_g: Option<Vec<f64>>,
        meta: Meta,
    ) -> Result<Self> {
        Self::with_missing(time_s, water_g, beverage_g, meta, Missing::Refuse)
    }

    /// A log from arrays, with a rule for missing readings.
    ///
    /// # Errors
    /// `empty`, `too_short`, `unequal_length`, `not_finite`, `time`, `out_of_range` or `column`.
    pub fn with_missing(
        time_s: Vec<f64>,
        water_g: Option<Vec<f64>>,
        beverage_g: Option<Vec<f64>>,
        meta: Meta,
        missing: Missing,
    ) -> Result<Self> {
        let _ = missing; // replaced by check.rs
        if water_g.is_none() && beverage_g.is_none() {
            return Err(Error::Column { message: "a log needs water_g, beverage_g or both".into() });
        }
        Ok(Self { time_s, water_g, beverage_g, meta })
    }
}
