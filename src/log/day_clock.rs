//! In: stamps as a clock shows them: `1:05.2`, `0:01:05`, `09:30:05.2`, `9:30:05 AM`, with or without a date before
//! them. Out: seconds.
//!
//! Two parts are minutes and seconds, three are hours, minutes and seconds, a fourth of three digits is milliseconds.
//! The order of day and month is not needed: a date that changes while the clock falls back is the next day, and so is
//! a clock without a date that falls by more than half a day.

use crate::error::{Error, Result};
use crate::log::units::cut;

/// Samples with the same whole second; a faster scale writes fractions.
const MOST_ALIKE: usize = 30;
/// A day of 24 h (ISO 8601-1:2019).
const DAY_NS: i64 = 86_400_000_000_000;

/// One stamp.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Stamp<'a> {
    date: &'a str,
    of_day_ns: i64,
}

/// Counts from the first stamp.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DayClock {
    first_ns: i64,
    last_ns: i64,
    days: i64,
    date: String,
}

impl DayClock {
    /// A clock that starts at this stamp, if it is one.
    pub(super) fn start(text: &str) -> Option<Self> {
        let stamp = stamp(text)?;
        let date = stamp.date.into();
        Some(Self { first_ns: stamp.of_day_ns, last_ns: stamp.of_day_ns, days: 0, date })
    }

    /// Whether the stamps have a date.
    pub(super) fn has_date(&self) -> bool {
        !self.date.is_empty()
    }

    /// How stamps such as the first one were read.
    ///
    /// # Errors
    /// `format`: two parts that stay the same over many samples are hours and minutes, which are no stamps of a log.
    pub(super) fn note(&self, first: &str, time_s: &[f64]) -> Result<String> {
        let is_coarse = first.matches(':').count() == 1 && !first.contains(['.', ',']);
        let steps = 1 + time_s.windows(2).filter(|pair| pair[0] != pair[1]).count();
        if is_coarse && time_s.len() > MOST_ALIKE * steps {
            let message = format!(
                "stamps such as {:?} stay the same over {} lines, like hours and minutes: a log needs seconds",
                cut(first),
                time_s.len() / steps
            );
            return Err(Error::Format { row: 0, message });
        }
        let parts = if first.matches(':').count() == 1 {
            "minutes and seconds"
        } else {
            "hours, minutes and seconds"
        };
        Ok(format!("stamps such as {:?} were read as {parts}", cut(first)))
    }

    /// Seconds from the first stamp to this one, if it is a stamp of the same kind.
    pub(super) fn since_first(&mut self, text: &str) -> Option<f64> {
        let Stamp { date, of_day_ns } = stamp(text)?;
        if date.is_empty() != self.date.is_empty() {
            return None;
        }
        let fell_ns = self.last_ns - of_day_ns;
        if date != self.date {
            // Any other change of the date depends on the order of day and month.
            if fell_ns <= 0 {
                return None;
            }
            self.days += 1;
            self.date = date.into();
        } else if date.is_empty() && fell_ns > DAY_NS / 2 {
            self.days += 1;
        }
        self.last_ns = of_day_ns;
        Some((self.days * DAY_NS + of_day_ns - self.first_ns) as f64 / 1e9)
    }
}

fn stamp(text: &str) -> Option<Stamp<'_>> {
    let text = text.trim();
    if text.len() > 64 {
        return None;
    }
    let (text, half) = half_of_day(text);
    let at = text
        .rfind([' ', 'T', '\u{a0}'])
        .map_or(0, |at| at + text[at..].chars().next().map_or(1, char::len_utf8));
    let (date, clock) = (text[..at].trim_end_matches([' ', 'T', ',', '\u{a0}']), &text[at..]);
    let of_day_ns = nanoseconds(clock, half)?;
    is_date(date).then_some(Stamp { date, of_day_ns })
}

/// The clock without AM or PM; whether it is PM, if either stands there.
fn half_of_day(text: &str) -> (&str, Option<bool>) {
    for (word, is_pm) in [("am", false), ("a.m.", false), ("pm", true), ("p.m.", true)] {
        let at = text.len().saturating_sub(word.len());
        if text.get(at..).is_some_and(|end| end.eq_ignore_ascii_case(word)) {
            return (text[..at].trim_end(), Some(is_pm));
        }
    }
    (text, None)
}

/// Digits in three groups, or nothing.
fn is_date(text: &str) -> bool {
    const YEAR_MONTH_DAY: [char; 3] = ['\u{5e74}', '\u{6708}', '\u{65e5}'];
    let is_break = |c: char| matches!(c, '.' | '/' | '-' | ' ') || YEAR_MONTH_DAY.contains(&c);
    let mut groups = text.split(is_break).filter(|group| !group.is_empty());
    let is_group = |group: &str| group.len() <= 4 && group.bytes().all(|b| b.is_ascii_digit());
    text.is_empty()
        || (groups.by_ref().take(3).filter(|group| is_group(group)).count() == 3 && groups.next().is_none())
}

fn nanoseconds(clock: &str, half: Option<bool>) -> Option<i64> {
    let parts: Vec<&str> = clock.split(':').collect();
    let (whole, milliseconds) = match parts[..] {
        [_, _, _, ms] if ms.len() == 3 => (&parts[..3], whole_number(ms)?),
        [_, _] | [_, _, _] => (&parts[..], 0),
        _ => return None,
    };
    let (seconds, higher) = whole.split_last()?;
    let (seconds, fraction) = seconds.split_once(['.', ',']).unwrap_or((*seconds, ""));
    let seconds_ns =
        whole_number(seconds).filter(|_| seconds.len() <= 2)? * 1_000_000_000 + billionths(fraction)?;
    if seconds_ns >= 61_000_000_000 || (milliseconds > 0 && !fraction.is_empty()) {
        return None;
    }
    let minutes = whole_number(higher.last()?)?;
    let mut hours = 0;
    if let [first, _] = higher {
        hours = whole_number(first)?;
        if minutes > 59 {
            return None;
        }
    }
    if let Some(is_pm) = half {
        if higher.len() < 2 || !(1..=12).contains(&hours) {
            return None;
        }
        hours = hours % 12 + if is_pm { 12 } else { 0 };
    }
    Some((hours * 3600 + minutes * 60) * 1_000_000_000 + seconds_ns + milliseconds * 1_000_000)
}

fn whole_number(text: &str) -> Option<i64> {
    let fits = (1..=4).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
    if fits { text.parse().ok() } else { None }
}

/// The digits of a fraction as billionths; further digits are cut.
fn billionths(digits: &str) -> Option<i64> {
    if !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let nine: String = digits.chars().chain("000000000".chars()).take(9).collect();
    nine.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::DayClock;

    fn seconds(stamps: &[&str]) -> Option<Vec<f64>> {
        let mut clock = DayClock::start(stamps[0])?;
        stamps.iter().map(|stamp| clock.since_first(stamp)).collect()
    }

    /// ISO 8601: 60 s a minute, 60 minutes an hour, 24 h a day.
    #[test]
    fn a_clock_counts_seconds_minutes_hours_and_days() {
        for (stamps, expected) in [
            (["0:00", "0:59", "1:00"], [0.0, 59.0, 60.0]),
            (["00:00.0", "00:00.1", "59:59.9"], [0.0, 0.1, 3599.9]),
            (["59:59.5", "1:00:00.0", "1:00:00,5"], [0.0, 0.5, 1.0]),
            (["09:30:00", "09:30:00.25", "11:30:01"], [0.0, 0.25, 7201.0]),
            (["23:59:59.5", "00:00:00", "00:00:01"], [0.0, 0.5, 1.5]),
            (["11:59:59 AM", "12:00:00 PM", "1:00:00 p.m."], [0.0, 1.0, 3601.0]),
            (["12:59:59 am", "1:00:00 AM", "1:00:01 AM"], [0.0, 1.0, 2.0]),
            (["31.12.2041 23:59:59", "01.01.2042 00:00:00", "01.01.2042 00:00:01"], [0.0, 1.0, 2.0]),
            (["5/4/2041 9:30:00 AM", "5/4/2041 9:30:01 AM", "5/4/2041 9:29:59 AM"], [0.0, 1.0, -1.0]),
            (
                [
                    "2041\u{5e74}5\u{6708}4\u{65e5} 9:30:00",
                    "2041\u{5e74}5\u{6708}4\u{65e5} 9:30:01",
                    "2041\u{5e74}5\u{6708}4\u{65e5} 9:30:02",
                ],
                [0.0, 1.0, 2.0],
            ),
            (["09:30:00:000", "09:30:00:250", "09:30:01:000"], [0.0, 0.25, 1.0]),
        ] {
            assert_eq!(seconds(&stamps), Some(expected.to_vec()), "{stamps:?}");
        }
    }

    #[test]
    fn what_is_no_clock_is_none() {
        for text in [
            "",
            ":",
            "1:",
            ":30",
            "1.5",
            "9",
            "0:75",
            "1:60:00",
            "13:00:00 PM",
            "9:30 AM",
            "1:2:3:4:5",
            "-1:00",
            "a 1:00",
            "1:00 b",
            "1/2 9:30:00",
            "09:30:00:25",
            "00:00.5:250",
            "1e3:00",
            "\u{e9}:00",
        ] {
            assert_eq!(DayClock::start(text), None, "{text}");
        }
        assert_eq!(seconds(&["1.1.2041 9:00:00", "2.1.2041 9:00:01"]), None, "a day more, or a month");
    }
}
