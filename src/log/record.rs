//! A log: stamps, weights and metadata.

use crate::error::Result;
use crate::log::check;
use crate::log::meta::Meta;
use crate::log::missing::Missing;
use crate::math::digest;
use serde::{Deserialize, Serialize};

/// The timestamped weights of one brew as they were logged, in the order in which they were logged.
///
/// At least one of the two channels is present. Time is in s, mass in g. Stamps may be uneven, doubled or out of order:
/// `condition` sorts them and says so.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Log {
    time_s: Vec<f64>,
    water_g: Option<Vec<f64>>,
    beverage_g: Option<Vec<f64>>,
    /// What is known of the brew beside the weights.
    pub meta: Meta,
    notes: Vec<String>,
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

    /// What was concluded while the file was read, each a sentence without its full stop: lines that hold no sample and
    /// were skipped, a unit or a clock that only the cells show. Empty if the file states all of it, and for arrays.
    ///
    /// ```
    /// use pourline::{Log, Meta, ReadOptions};
    /// let text = "time_s,water_g\n0.0,0.0\n0.1,0.4\n0.2,1.1\nTotal,1.1\n";
    /// let log = Log::read_bytes(text.as_bytes(), &ReadOptions::default(), Meta::default())?;
    /// assert_eq!(log.notes(), ["line 5 (\"Total,1.1\") holds no sample and was skipped"]);
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// The log with what was concluded before its columns were read.
    /// Some of its samples, as the log of a part that is named.
    pub(crate) fn part(&self, rows: &[usize], part: &str) -> Self {
        let of = |all: &[f64]| rows.iter().map(|&i| all[i]).collect::<Vec<f64>>();
        let name = self.meta.name.as_ref().map_or_else(|| part.to_owned(), |name| format!("{name}, {part}"));
        Self {
            time_s: of(&self.time_s),
            water_g: self.water_g.as_deref().map(of),
            beverage_g: self.beverage_g.as_deref().map(of),
            meta: Meta { name: Some(name), ..self.meta.clone() },
            notes: self.notes.clone(),
        }
    }

    pub(crate) fn noted(mut self, mut notes: Vec<String>) -> Self {
        notes.append(&mut self.notes);
        self.notes = notes;
        self
    }

    /// Number of samples.
    #[must_use]
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// SHA-256 of the samples, as 64 hexadecimal digits. It identifies a log whatever the text of the numbers in its
    /// file. It covers the columns `time_s`, `water_g` and `beverage_g`, as far as they were weighed: of each its
    /// name, a line feed, and its values as IEEE 754 doubles, the least significant byte first; a negative zero as
    /// zero, a missing reading as `0x7ff8000000000000`.
    ///
    /// ```
    /// use pourline::{Log, Meta, Options, analyze};
    /// let log = Log::new(vec![0.0, 0.1, 0.2], Some(vec![0.0, 0.4, 1.1]), None, Meta::default())?;
    /// assert_eq!(analyze(&log, &Options::default())?.log_digest, Some(log.digest()));
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn digest(&self) -> String {
        let columns =
            [("time_s", Some(self.time_s())), ("water_g", self.water_g()), ("beverage_g", self.beverage_g())];
        digest::of_columns(columns.into_iter().filter_map(|(name, values)| Some((name, values?))))
    }

    /// Whether the log has no samples; false for every log that passed the checks.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }

    /// A log from arrays. Missing readings (NaN) are refused; see [`Log::with_missing`].
    ///
    /// ```
    /// use pourline::{Log, Meta};
    /// let meta = Meta { dose_g: Some(15.0), ..Meta::default() };
    /// let log = Log::new(vec![0.0, 0.1, 0.2], Some(vec![0.0, 0.4, 1.1]), None, meta)?;
    /// assert_eq!(log.len(), 3);
    ///
    /// let backwards = Log::new(vec![2.0, 1.0, 0.0], Some(vec![0.0; 3]), None, Meta::default());
    /// assert_eq!(backwards.unwrap_err().kind(), "time");
    /// # Ok::<(), pourline::Error>(())
    /// ```
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

    /// A log from arrays, with a rule for missing readings. A stamp is never missing, and infinity is always refused.
    ///
    /// # Errors
    /// - `column`: neither channel is there.
    /// - `empty`: no samples, or a channel without a single reading.
    /// - `unequal_length`: a channel is not as long as `time_s`.
    /// - `too_short`: fewer than 3 samples, or fewer than 3 readings in a channel.
    /// - `not_finite`: an infinity, a stamp that is NaN, or a missing reading under [`Missing::Refuse`].
    /// - `out_of_range`: a stamp beyond 1e11 s, a mass beyond 1e7 g (10 t), or metadata outside its range.
    /// - `time`: all stamps are equal, or no stamp is later than the one before it.
    pub fn with_missing(
        time_s: Vec<f64>,
        water_g: Option<Vec<f64>>,
        beverage_g: Option<Vec<f64>>,
        meta: Meta,
        missing: Missing,
    ) -> Result<Self> {
        check::log(&time_s, water_g.as_deref(), beverage_g.as_deref(), missing)?;
        check::meta(&meta)?;
        Ok(Self { time_s, water_g, beverage_g, meta, notes: Vec::new() })
    }
}
