//! In: the metadata in the comments of a file. Out: the merged metadata, in which the caller's values take
//! precedence.
//!
//! A line `# dose_g: 15` or `# kettle = Gooseneck A` fills the field of [`Meta`] of that very name, `# factors.day: 3`
//! a further factor, `# time_unit: ms` and `# mass_unit: kg` the units. All other comments are ignored.

use crate::error::{Error, Result};
use crate::log::check;
use crate::log::meta::Meta;
use crate::log::options::ReadOptions;
use crate::log::units::cut;
use serde_json::{Map, Value};
use std::str::FromStr;

/// The fields of `Meta` that are numbers.
const NUMBERS: [&str; 7] =
    ["dose_g", "dose_sd_g", "tds_pct", "tds_sd_pct", "brix_pct", "brix_sd_pct", "water_c"];
const TEXTS: [&str; 11] = [
    "name",
    "coffee",
    "roast",
    "grinder",
    "grinder_setting",
    "kettle",
    "brewer",
    "person",
    "device",
    "note",
    "started_at",
];

/// The notes read so far.
#[derive(Debug, Default)]
pub(super) struct Notes {
    meta: Map<String, Value>,
    factors: Map<String, Value>,
    time_unit: Option<String>,
    mass_unit: Option<String>,
}

impl Notes {
    /// Takes in a comment line, without its `#`.
    pub(super) fn comment(&mut self, line: &[u8]) -> Result<()> {
        let Some(at) = line.iter().position(|b| matches!(b, b':' | b'=')) else { return Ok(()) };
        let Ok(key) = std::str::from_utf8(line[..at].trim_ascii()) else { return Ok(()) };
        match std::str::from_utf8(line[at + 1..].trim_ascii()) {
            Ok(text) => self.put(key, text),
            Err(_) if is_known(key) => bad(key, "is not UTF-8 text"),
            Err(_) => Ok(()),
        }
    }

    /// Takes in a key and its value, if it is a known key.
    pub(super) fn put(&mut self, key: &str, text: &str) -> Result<()> {
        if !is_known(key) {
            return Ok(());
        }
        let factor = key.strip_prefix("factors.");
        if text.is_empty() {
            return Ok(());
        }
        let value = if NUMBERS.contains(&key) {
            match text.parse::<f64>().ok().and_then(serde_json::Number::from_f64) {
                Some(number) => Value::Number(number),
                None => return bad(key, &format!("holds {:?}, which is not a finite number", cut(text))),
            }
        } else {
            Value::String(text.into())
        };
        let earlier = match (key, factor) {
            ("time_unit", _) => self.time_unit.replace(text.into()).map(Value::String),
            ("mass_unit", _) => self.mass_unit.replace(text.into()).map(Value::String),
            (_, Some(name)) => self.factors.insert(name.into(), value.clone()),
            _ => self.meta.insert(key.into(), value.clone()),
        };
        if earlier.is_some_and(|earlier| earlier != value) {
            bad(key, "is there twice, with two values")
        } else {
            Ok(())
        }
    }

    /// The merged metadata and options.
    pub(super) fn apply(self, options: &ReadOptions, meta: Meta) -> Result<(ReadOptions, Meta)> {
        // Before the numbers pass through JSON, which has no NaN.
        check::meta(&meta)?;
        let mut options = options.clone();
        options.time_unit = options.time_unit.or(unit(self.time_unit)?);
        options.mass_unit = options.mass_unit.or(unit(self.mass_unit)?);
        if self.meta.is_empty() && self.factors.is_empty() {
            return Ok((options, meta));
        }
        let broken = |e: serde_json::Error| Error::Format { row: 0, message: format!("metadata: {e}") };
        let mut all = serde_json::to_value(meta).map_err(broken)?;
        if let Value::Object(own) = &mut all {
            for (key, value) in self.meta {
                own.entry(key)
                    .and_modify(|v| {
                        if v.is_null() {
                            *v = value.clone()
                        }
                    })
                    .or_insert(value);
            }
            if let Some(Value::Object(own)) = own.get_mut("factors") {
                for (name, value) in self.factors {
                    own.entry(name).or_insert(value);
                }
            }
        }
        Ok((options, serde_json::from_value(all).map_err(broken)?))
    }
}

pub(super) fn is_known(key: &str) -> bool {
    NUMBERS.contains(&key)
        || TEXTS.contains(&key)
        || matches!(key, "time_unit" | "mass_unit")
        || key.starts_with("factors.")
}

fn bad(key: &str, what: &str) -> Result<()> {
    Err(Error::Format { row: 0, message: format!("the note {key} {what}") })
}

fn unit<U: FromStr<Err = Error>>(text: Option<String>) -> Result<Option<U>> {
    text.map(|t| t.parse()).transpose()
}
