//! In: a time column as it was written. Out: seconds.
//!
//! Dates and times follow ISO 8601 / RFC 3339 (`2031-05-04T09:30:00.25+02:00`, a blank for the T, no offset). Either
//! all stamps of a log have an offset or none has. Without one they are read as a clock without changes for summer
//! time. A leap second `:60` is read as `:59`.

use crate::error::{Error, Result};
use crate::log::columns::{Pick, settle};
use crate::log::day_clock::DayClock;
use crate::log::guess;
use crate::log::units::{TimeUnit, Unit, cut};
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;

/// The stamps of a log before conversion to seconds.
#[derive(Debug, Clone, PartialEq)]
pub enum Stamps {
    /// Numbers, in a unit that the column's name or the options state.
    Numbers(Vec<f64>),
    /// Dates and times as texts.
    Texts(Vec<String>),
    /// Dates and times that are seconds since the first of them already, with that first one as it was written.
    SinceFirst {
        /// Seconds since the first stamp.
        time_s: Vec<f64>,
        /// The first stamp.
        started_at: String,
    },
}

/// The stamps of a log in seconds.
#[derive(Debug)]
pub(super) struct Seconds {
    pub(super) time_s: Vec<f64>,
    /// The first stamp, if it was a date and time.
    pub(super) started_at: Option<String>,
    /// What was concluded from the stamps.
    pub(super) note: Option<String>,
}

impl Stamps {
    /// The stamps in s.
    pub(super) fn seconds(self, pick: &Pick<TimeUnit>, unit: Option<TimeUnit>) -> Result<Seconds> {
        let (time_s, started_at) = match self {
            Self::Numbers(values) => return numbers(values, pick, unit),
            Self::SinceFirst { time_s, started_at } => (time_s, Some(started_at)),
            Self::Texts(texts) => {
                let first = texts.first().map_or("", String::as_str);
                let wrong = |(i, text): (usize, &String)| not_a_stamp(&pick.name, i + 1, text);
                let numbered = || texts.iter().enumerate();
                if let Some(clock) = Clock::start(first) {
                    let seen = |one: (usize, &String)| clock.since_first(one.1).ok_or_else(|| wrong(one));
                    (numbered().map(seen).collect::<Result<_>>()?, Some(clock.started_at.clone()))
                } else if let Some(mut clock) = DayClock::start(first) {
                    let seen = |one: (usize, &String)| clock.since_first(one.1).ok_or_else(|| wrong(one));
                    let time_s: Vec<f64> = numbered().map(seen).collect::<Result<_>>()?;
                    let note = Some(clock.note(first, &time_s)?);
                    return Ok(Seconds { time_s, started_at: clock.has_date().then(|| first.into()), note });
                } else {
                    match numbered().next() {
                        Some(one) => return Err(wrong(one)),
                        None => (Vec::new(), None),
                    }
                }
            }
        };
        Ok(Seconds { time_s, started_at, note: None })
    }
}

fn numbers(mut values: Vec<f64>, pick: &Pick<TimeUnit>, unit: Option<TimeUnit>) -> Result<Seconds> {
    if unit.is_none()
        && pick.unit.is_none()
        && let Some((unit, started_at)) = since_1970(&values)
    {
        let first = values[0];
        values.iter_mut().for_each(|t| *t = unit.to_s(*t - first));
        let note = format!(
            "the numbers in column {:?} are read as {} since 1970, as no other unit gives a date of this century",
            cut(&pick.name),
            unit.symbol()
        );
        return Ok(Seconds { time_s: values, started_at: Some(started_at), note: Some(note) });
    }
    let unit = settle(unit, pick).map_err(|error| guess::with_time_unit(error, &values))?;
    if unit != TimeUnit::S {
        values.iter_mut().for_each(|t| *t = unit.to_s(*t));
    }
    Ok(Seconds { time_s: values, started_at: None, note: None })
}

/// The unit in which all stamps count from 1970 to a date of this century, and the first of them. The units lie a
/// thousandfold apart, so that no more than one fits.
fn since_1970(values: &[f64]) -> Option<(TimeUnit, String)> {
    /// 2001-01-01 and 2101-01-01, s.
    const CENTURY_S: std::ops::Range<f64> = 978_307_200.0..4_133_980_800.0;
    let first = *values.first()?;
    let units = [TimeUnit::S, TimeUnit::Ms, TimeUnit::Us, TimeUnit::Ns];
    let unit = units.into_iter().find(|unit| values.iter().all(|t| CENTURY_S.contains(&unit.to_s(*t))))?;
    let microseconds = (unit.to_s(first) * 1e6).round() as i64;
    Some((unit, Timestamp::from_microsecond(microseconds).ok()?.to_string()))
}

/// The error of a text that is no stamp.
pub(super) fn not_a_stamp(column: &str, row: usize, text: &str) -> Error {
    Error::NotANumber { column: column.into(), row, text: cut(text).into() }
}

/// Counts from the first stamp.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Clock {
    first: Timestamp,
    has_offset: bool,
    /// The first stamp as it was written.
    pub started_at: String,
}

impl Clock {
    /// A clock that starts at this stamp, if it is one.
    pub(crate) fn start(text: &str) -> Option<Self> {
        let text = text.trim();
        let (first, has_offset) = match text.parse::<Timestamp>() {
            Ok(first) => (first, true),
            Err(_) => (local(text)?, false),
        };
        Some(Self { first, has_offset, started_at: text.into() })
    }

    /// Seconds from the first stamp to this one, if it is a stamp of the same kind.
    pub(crate) fn since_first(&self, text: &str) -> Option<f64> {
        let text = text.trim();
        let stamp = if self.has_offset { text.parse().ok()? } else { local(text)? };
        Some((stamp.as_nanosecond() - self.first.as_nanosecond()) as f64 / 1e9)
    }
}

/// A date and time without an offset, read as UTC; only differences are used.
fn local(text: &str) -> Option<Timestamp> {
    let stamp: DateTime = text.parse().ok()?;
    // A civil time would ignore an offset or a zone without an error.
    if text.contains('[') || text.parse::<Timestamp>().is_ok() {
        return None;
    }
    TimeZone::UTC.to_timestamp(stamp).ok()
}
