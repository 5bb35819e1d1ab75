//! In: a calibration. Out: its TOML file, and back.

use crate::error::{Error, Result};
use crate::log::read::small_text;
use crate::scale::calibrate::Calibration;
use std::path::Path;

/// Version of the file. Another one is refused: its numbers may mean something else.
const FORMAT: i64 = 1;
/// A longer text is no calibration, bytes.
const MOST_BYTES: usize = 1 << 20;
const NEEDED: &str = "make the file again with `calibrate`";

impl Calibration {
    /// Writes it as TOML, for [`Calibration::read`].
    ///
    /// ```
    /// use pourline::{CalibrateOptions, Calibration, Log, Meta, ScaleResponse, calibrate};
    /// let time_s: Vec<f64> = (0..100).map(|i| f64::from(i) * 0.1).collect();
    /// let reading_g = time_s.iter().map(|t| 100.0 * ScaleResponse::lag(0.2).shown(t - 3.0)).collect();
    /// let log = Log::new(time_s, Some(reading_g), None, Meta::default())?;
    /// let found = calibrate(&log, &CalibrateOptions::default())?;
    /// assert_eq!(Calibration::parse(&found.to_toml()?)?, found);
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// `format` for a number that TOML cannot hold.
    pub fn to_toml(&self) -> Result<String> {
        let mut table = toml::Table::try_from(self).map_err(|e| wrong("", &e.to_string()))?;
        table.insert("format".into(), FORMAT.into());
        Ok(format!("# How a scale shows a load: give this file to an analysis as condition.scale.\n{table}"))
    }

    /// Reads it from a TOML text.
    ///
    /// # Errors
    /// `format` for a text that is no calibration, or one of another version.
    pub fn parse(text: &str) -> Result<Self> {
        parsed(text, "")
    }

    /// Reads it from a TOML file.
    ///
    /// # Errors
    /// `io` for a file that cannot be read, and those of [`Calibration::parse`].
    pub fn read(path: impl AsRef<Path>) -> Result<Self> {
        let path = path.as_ref();
        let text = small_text(path)?;
        parsed(&text, &format!("{}: ", path.display()))
    }
}

fn parsed(text: &str, file: &str) -> Result<Calibration> {
    if text.len() > MOST_BYTES {
        return Err(wrong(file, "the text is too long for a calibration"));
    }
    let mut table: toml::Table = toml::from_str(text).map_err(|e| wrong(file, e.message().trim()))?;
    match table.remove("format").as_ref().and_then(toml::Value::as_integer) {
        Some(FORMAT) => {}
        Some(other) => {
            let message = format!("it is of version {other}, and this is version {FORMAT}: {NEEDED}");
            return Err(wrong(file, &message));
        }
        None => return Err(wrong(file, &format!("it has no line `format`: {NEEDED}"))),
    }
    let found: Calibration = table
        .try_into()
        .map_err(|e: toml::de::Error| wrong(file, &format!("{}: {NEEDED}", e.message().trim())))?;
    match found.response.broken() {
        Some(rule) => Err(wrong(file, rule)),
        None => Ok(found),
    }
}

fn wrong(file: &str, message: &str) -> Error {
    Error::Format { row: 0, message: format!("{file}{message}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_that_is_no_calibration_says_what_to_do() {
        for (text, says) in [
            ("", "no line `format`"),
            ("format = 2", "version 2"),
            ("format = 1\nstep_g = 0.1", "missing field"),
            ("format = ", "string"),
        ] {
            let error = Calibration::parse(text).unwrap_err();
            assert_eq!(error.kind(), "format");
            assert!(error.to_string().contains(says), "{error}");
        }
        let error = Calibration::read("no_such_scale.toml").unwrap_err();
        assert!(error.to_string().contains("no_such_scale.toml"), "{error}");
    }
}
