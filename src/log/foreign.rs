//! In: a text of columns that the plain rules refuse. Out: its log, with notes on what was skipped and concluded.
//!
//! A line holds no sample if it has no stamp: a text stands there, or nothing beside another text. Such a line is
//! skipped and listed. A stamp or a weight that begins as one but cannot be read is an error, as in any log.

use crate::error::Error;
use crate::log::columns::{Chosen, Pick, settle};
use crate::log::day_clock::DayClock;
use crate::log::meta::Meta;
use crate::log::notes::Notes;
use crate::log::numbers::is_missing;
use crate::log::options::ReadOptions;
use crate::log::quantity::{Decimal, Quantity, Signs};
use crate::log::record::Log;
use crate::log::skipped::Skipped;
use crate::log::stamps::{Clock, Stamps, not_a_stamp};
use crate::log::survey::{Line, Survey, cells, is_comment, is_reading, lines, survey};
use crate::log::units::{MassUnit, TimeUnit, Unit, cut};
use crate::log::{decode, words};

/// None: the error of the plain rules is the better one.
type Tried<T> = std::result::Result<T, Option<Error>>;

/// Skipped lines among the samples: this many, and one in ten lines.
const MAY_SKIP: usize = 5;

/// Whether a text with this error may be a log all the same.
pub(super) fn may_help(error: &Error) -> bool {
    match error {
        Error::Format { row, .. } => *row > 0,
        Error::Column { .. }
        | Error::Argument { .. }
        | Error::NotANumber { .. }
        | Error::NotFinite { .. } => true,
        _ => false,
    }
}

pub(super) fn read(bytes: &[u8], options: &ReadOptions, meta: Meta) -> Tried<Log> {
    let (text, encoding) = decode::text(bytes);
    let text = decode::with_line_feeds(text);
    let lines = lines(&text);
    let survey = survey(&lines, options)?;
    let mut samples = Samples::new(&survey, &lines)?;
    let below = lines.iter().position(|(number, _)| *number > survey.header).unwrap_or(lines.len());
    let units = samples.units(lines.get(below))?;
    for (i, &(number, line)) in lines.iter().enumerate() {
        let after = if i == 0 { 0 } else { lines[i - 1].0 };
        if is_comment(line) {
            // A comment may also be the header.
            samples
                .comments
                .comment(line.trim_start().trim_start_matches(['#', '%']).as_bytes())
                .map_err(|_| None)?;
        } else if number < survey.header
            || (survey.header == 0 && samples.rows.is_empty() && !samples.fits(line))
        {
            samples.skipped.add(number, after, line, "holds no sample");
        } else if number > survey.header && !(units && i == below) {
            samples.take(number, after, line)?;
        }
    }
    samples.finish(encoding, options, meta)
}

enum Time {
    Unknown,
    Numbers(Vec<f64>),
    Iso(Clock, Vec<f64>),
    Day(DayClock, Vec<f64>, String),
}

struct Samples<'a> {
    survey: &'a Survey,
    chosen: Chosen,
    header: Option<&'a str>,
    decimal: Option<Decimal>,
    signs: Signs,
    time: Time,
    weights: [Option<Vec<f64>>; 2],
    /// Units in the cells of time, water and beverage, from their first sample on.
    units: [Option<Option<&'static str>>; 3],
    /// The row of each sample, from 1 below the header.
    rows: Vec<usize>,
    skipped: Skipped,
    comments: Notes,
    /// Whether the header is the first line of the text.
    is_first: bool,
    is_second: Option<usize>,
    last_s: f64,
}

impl<'a> Samples<'a> {
    fn new(survey: &'a Survey, lines: &[Line<'a>]) -> Tried<Self> {
        let chosen = survey.chosen.clone();
        let first = lines.iter().find(|(_, line)| !is_comment(line));
        let header = lines.iter().find(|(number, _)| *number == survey.header).map(|(_, line)| *line);
        let weights = [chosen.water.is_some(), chosen.beverage.is_some()].map(|is| is.then(Vec::new));
        let mut signs = Signs::default();
        let mut fields = Vec::new();
        for (_, line) in lines.iter().filter(|(number, line)| *number > survey.header && !is_comment(line)) {
            let cells = cells(line, survey.separator, &mut fields);
            // A line that holds no sample shows nothing.
            if !cells.get(chosen.time.index).is_some_and(|stamp| is_reading(stamp)) {
                continue;
            }
            for index in indices(&chosen).into_iter().flatten() {
                if let Some(quantity) = cells.get(index).and_then(|cell| Quantity::parse(cell)) {
                    quantity.show(&mut signs);
                }
            }
        }
        Ok(Self {
            survey,
            chosen,
            header,
            decimal: signs.decimal(),
            signs,
            time: Time::Unknown,
            weights,
            units: [None; 3],
            rows: Vec::new(),
            skipped: Skipped::default(),
            comments: Notes::default(),
            is_first: survey.header == 0 || first.is_some_and(|(number, _)| *number == survey.header),
            is_second: None,
            last_s: f64::NEG_INFINITY,
        })
    }

    /// Whether a line of a text without a header can be a sample.
    fn fits(&self, line: &str) -> bool {
        let cells = cells(line, self.survey.separator, &mut Vec::new());
        let is = |index: usize| cells.get(index).is_some_and(|cell| is_reading(cell));
        cells.len() == self.survey.width && indices(&self.chosen).into_iter().flatten().all(is)
    }

    /// Takes in the units of the line below the header, if it states any.
    fn units(&mut self, line: Option<&Line>) -> Tried<bool> {
        let Some((_, line)) = line.filter(|_| self.survey.header > 0) else { return Ok(false) };
        let cells = cells(line, self.survey.separator, &mut Vec::new());
        let cell = |index: usize| {
            let cell = cells.get(index).copied().unwrap_or_default();
            cell.trim_matches(|c: char| c.is_whitespace() || "()[]".contains(c))
        };
        let mut found = [None; 3];
        for (part, index) in indices(&self.chosen).into_iter().enumerate() {
            let Some(cell) = index.map(cell).filter(|cell| !cell.is_empty()) else { continue };
            let fits = |unit: &&str| if part == 0 { fits::<TimeUnit>(unit) } else { fits::<MassUnit>(unit) };
            found[part] = words::unit(cell).filter(fits);
            if found[part].is_none() {
                return Ok(false);
            }
        }
        self.adopt(found)?;
        Ok(found.iter().any(Option::is_some))
    }

    /// Adopts the units of time, water and beverage.
    fn adopt(&mut self, [time, water, beverage]: [Option<&'static str>; 3]) -> Tried<()> {
        adopt(Some(&mut self.chosen.time), time)?;
        adopt(self.chosen.water.as_mut(), water)?;
        adopt(self.chosen.beverage.as_mut(), beverage)
    }

    fn take(&mut self, number: usize, after: usize, line: &str) -> Tried<()> {
        let row = number - self.survey.header;
        if self.header == Some(line) {
            self.is_second = Some(number);
            self.skipped.add(number, after, line, "repeats the header");
            return Ok(());
        }
        let cells = cells(line, self.survey.separator, &mut Vec::new());
        let stamp = cells.get(self.chosen.time.index).copied().unwrap_or_default();
        if !is_reading(stamp) {
            let weighs = indices(&self.chosen)[1..]
                .iter()
                .flatten()
                .any(|i| cells.get(*i).is_some_and(|c| is_reading(c)));
            let is_word = |cell: &str| !is_missing(cell.as_bytes()) && !is_reading(cell);
            let has_words = cells.iter().any(|cell| is_word(cell));
            let begins = stamp.starts_with(|c: char| c.is_ascii_digit());
            if begins {
                return Err(self.own(not_a_stamp(&self.chosen.time.name, row, stamp)));
            }
            if weighs && !has_words {
                let column = self.chosen.time.name.clone();
                return Err(self.own(Error::NotFinite { column, row, value: f64::NAN }));
            }
            if cells.iter().any(|cell| !cell.is_empty()) {
                self.skipped.add(number, after, line, "holds no sample");
            }
            return Ok(());
        }
        let excess = cells.iter().skip(self.survey.width).any(|cell| !cell.is_empty());
        let needed = indices(&self.chosen).into_iter().flatten().max().unwrap_or(0);
        if excess || cells.len() <= needed {
            let message = format!("{} fields, but most lines have {}", cells.len(), self.survey.width);
            return Err(self.own(Error::Format { row, message }));
        }
        self.rows.push(row);
        let time = self.stamp(stamp, row)?;
        if let Some(second) = self.is_second.filter(|_| time < self.last_s) {
            let message = format!(
                "line {second} repeats the header and time starts again below it: these are two logs, so split the \
                 file there"
            );
            return Err(Some(Error::Format { row: 0, message }));
        }
        self.last_s = time;
        for part in 0..2 {
            let index = indices(&self.chosen)[part + 1].unwrap_or(0);
            if self.weights[part].is_some() {
                let value = self.number(part + 1, cells[index])?;
                self.weights[part].iter_mut().for_each(|values| values.push(value));
            }
        }
        Ok(())
    }

    /// The first stamp decides what the column holds.
    fn stamp(&mut self, text: &str, row: usize) -> Tried<f64> {
        if let Time::Unknown = self.time {
            self.time = if Quantity::parse(text).is_some() {
                Time::Numbers(Vec::new())
            } else if let Some(clock) = Clock::start(text) {
                Time::Iso(clock, Vec::new())
            } else {
                Time::Day(DayClock::start(text).ok_or(None)?, Vec::new(), text.into())
            };
        }
        let number = if matches!(self.time, Time::Numbers(_)) { Some(self.number(0, text)?) } else { None };
        let (value, values) = match &mut self.time {
            Time::Unknown => return Err(None),
            Time::Numbers(values) => (number, values),
            Time::Iso(clock, values) => (clock.since_first(text), values),
            Time::Day(clock, values, _) => (clock.since_first(text), values),
        };
        let value = value.ok_or_else(|| Some(not_a_stamp(&self.chosen.time.name, row, text)))?;
        values.push(value);
        Ok(value)
    }

    /// The number of a cell of time (0), water (1) or beverage (2), whose unit must not change.
    fn number(&mut self, part: usize, cell: &str) -> Tried<f64> {
        if is_missing(cell.as_bytes()) {
            return Ok(f64::NAN);
        }
        let row = self.rows.last().copied().unwrap_or(0);
        let wrong = || self.own(not_a_stamp(&self.name(part), row, cell));
        let quantity = Quantity::parse(cell).ok_or_else(wrong)?;
        let unit = *self.units[part].get_or_insert(quantity.unit);
        if unit != quantity.unit {
            let words = [unit, quantity.unit].map(|unit| unit.unwrap_or("none"));
            let message = format!(
                "the unit in the cells changes from {} to {}: {:?}; write one throughout, or state it in the header",
                words[0],
                words[1],
                cut(cell)
            );
            return Err(Some(Error::Format { row, message }));
        }
        let Some(decimal) = self.decimal else {
            let message =
                "points and commas could both be the decimal sign: write one of them throughout".into();
            return Err(self.own(Error::Format { row: 0, message }));
        };
        quantity.value(decimal).ok_or_else(|| self.own(not_a_stamp(&self.name(part), row, cell)))
    }

    /// The name of the column of time (0), water (1) or beverage (2).
    fn name(&self, part: usize) -> String {
        let mass = [&self.chosen.water, &self.chosen.beverage];
        match part.checked_sub(1).and_then(|part| mass[part].as_ref()) {
            Some(pick) => pick.name.clone(),
            None => self.chosen.time.name.clone(),
        }
    }

    /// An error of this reading; None if the plain rules saw the same header, so that theirs says the same.
    fn own(&self, error: Error) -> Option<Error> {
        (!self.is_first).then_some(error)
    }

    fn finish(mut self, encoding: Option<&str>, options: &ReadOptions, meta: Meta) -> Tried<Log> {
        let above = self.skipped.count;
        if self.rows.is_empty() || above > MAY_SKIP + self.survey.header + self.rows.len() / 10 {
            let message =
                format!("{above} lines hold no sample, beside {} that do: this is no log", self.rows.len());
            return Err(self.own(Error::Format { row: 0, message }));
        }
        let mut notes: Vec<String> = encoding.into_iter().map(String::from).collect();
        notes.extend(self.survey.notes.iter().cloned());
        let found = self.units.map(Option::flatten);
        self.adopt(found)?;
        notes.extend(self.concluded()?);
        let (options, meta) = self.comments.apply(options, meta).map_err(|_| None)?;
        let stamps = match self.time {
            Time::Unknown => return Err(None),
            Time::Numbers(values) => Stamps::Numbers(values),
            Time::Iso(clock, time_s) => Stamps::SinceFirst { time_s, started_at: clock.started_at },
            Time::Day(clock, time_s, first) if clock.has_date() => {
                Stamps::SinceFirst { time_s, started_at: first }
            }
            Time::Day(_, time_s, _) => {
                // A clock is in s, whatever its name.
                self.chosen.time.unit = Some(TimeUnit::S);
                Stamps::Numbers(time_s)
            }
        };
        let [water, beverage] = self.weights;
        let log = Log::from_columns(&self.chosen, stamps, water, beverage, &options, meta);
        let log = log.map_err(|error| Some(in_file(error, &self.rows)))?;
        notes.extend(self.skipped.notes());
        Ok(log.noted(notes))
    }

    /// What the cells showed and nothing states.
    fn concluded(&self) -> Tried<Vec<String>> {
        let mut notes = Vec::new();
        if let Time::Day(clock, time_s, first) = &self.time {
            notes.push(clock.note(first, time_s).map_err(Some)?);
        }
        if self.signs.has_thousands() {
            let [thousands, decimal] = match self.decimal {
                Some(Decimal::Comma) => ["points", "commas"],
                _ => ["commas", "points"],
            };
            notes.push(format!(
                "{thousands} were read as separators of thousands, since {decimal} are the decimal sign"
            ));
        }
        Ok(notes)
    }
}

fn indices(chosen: &Chosen) -> [Option<usize>; 3] {
    let mass = |pick: &Option<Pick<MassUnit>>| pick.as_ref().map(|pick| pick.index);
    [Some(chosen.time.index), mass(&chosen.water), mass(&chosen.beverage)]
}

fn fits<U: Unit>(word: &str) -> bool {
    U::from_word(word).is_some()
}

fn adopt<U: Unit>(pick: Option<&mut Pick<U>>, word: Option<&'static str>) -> Tried<()> {
    if let (Some(pick), Some(word)) = (pick, word) {
        let unit = U::from_word(word).ok_or(None)?;
        pick.unit = Some(settle(Some(unit), pick).map_err(Some)?);
    }
    Ok(())
}

/// The error by its row in the file.
fn in_file(mut error: Error, rows: &[usize]) -> Error {
    if let Error::NotFinite { row, .. }
    | Error::OutOfRange { row, .. }
    | Error::Time { row, .. }
    | Error::Format { row, .. } = &mut error
        && let Some(of_file) = row.checked_sub(1).and_then(|sample| rows.get(sample))
    {
        *row = *of_file;
    }
    error
}
