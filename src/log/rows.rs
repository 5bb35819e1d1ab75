//! In: the chosen cells, row by row, or whole columns in their own units. Out: a [`Log`] in s and g.

use super::numbers::Numbers;
use super::stamps::{Clock, not_a_stamp};
use super::units::{MassUnit, Unit};
use super::{Chosen, Log, Meta, Pick, ReadOptions, Stamps};
use crate::{Error, Result};

/// A log of a brew at 100 Hz that lasts five days; what is longer is another kind of file, and would fill the memory.
const MAX_SAMPLES: usize = 50_000_000;

/// One cell.
#[derive(Debug, Clone, Copy)]
pub(super) enum Cell<'a> {
    /// Nothing there.
    Missing,
    /// A number of a format that has numbers.
    Number(f64),
    /// A text that may be a number or a stamp.
    Text(&'a [u8]),
}

/// The rows read so far.
pub(super) struct Rows {
    chosen: Chosen,
    time: Vec<f64>,
    clock: Option<Clock>,
    water: Vec<f64>,
    beverage: Vec<f64>,
    numbers: Numbers,
    /// Where rows of the source were left out: the sample from which on, and how many in all.
    skipped: Vec<(usize, usize)>,
}

impl Rows {
    pub(super) fn new(chosen: Chosen) -> Self {
        Self {
            chosen,
            time: Vec::new(),
            clock: None,
            water: Vec::new(),
            beverage: Vec::new(),
            numbers: Numbers::default(),
            skipped: Vec::new(),
        }
    }

    /// The columns, whose units may still be learnt.
    pub(super) fn chosen(&mut self) -> &mut Chosen {
        &mut self.chosen
    }

    pub(super) fn is_empty(&self) -> bool {
        self.time.is_empty()
    }

    /// Takes in one row of the source, counted from 1.
    pub(super) fn push<'a>(&mut self, row: usize, cell: impl Fn(usize) -> Cell<'a>) -> Result<()> {
        let samples = self.time.len();
        if samples == MAX_SAMPLES {
            return Err(Error::Format { row, message: format!("more than {MAX_SAMPLES} rows") });
        }
        let skipped = row - 1 - samples;
        if skipped != self.skipped.last().map_or(0, |&(_, n)| n) {
            self.skipped.push((samples, skipped));
        }
        let time = self.stamp(row, cell(self.chosen.time.index))?;
        self.time.push(time);
        for (pick, values) in
            [(&self.chosen.water, &mut self.water), (&self.chosen.beverage, &mut self.beverage)]
        {
            if let Some(pick) = pick {
                values.push(match cell(pick.index) {
                    Cell::Missing => f64::NAN,
                    Cell::Number(value) => value,
                    Cell::Text(text) => self.numbers.read(text, &pick.name, row)?,
                });
            }
        }
        Ok(())
    }

    /// The first stamp decides whether the column holds numbers or dates and times.
    fn stamp(&mut self, row: usize, cell: Cell) -> Result<f64> {
        let column = &self.chosen.time.name;
        let text = match (cell, &self.clock) {
            (Cell::Number(value), None) => return Ok(value),
            (Cell::Number(value), Some(_)) => return Err(not_a_stamp(column, row, &value.to_string())),
            (Cell::Missing, _) => {
                return Err(Error::NotFinite { column: column.clone(), row, value: f64::NAN });
            }
            (Cell::Text(text), _) => text,
        };
        let as_text = || String::from_utf8_lossy(text);
        if let Some(clock) = &self.clock {
            return clock.since_first(&as_text()).ok_or_else(|| not_a_stamp(column, row, as_text().trim()));
        }
        match self.numbers.read(text, column, row) {
            Ok(value) => Ok(value),
            Err(error) => {
                self.clock = if self.time.is_empty() { Clock::start(&as_text()) } else { None };
                if self.clock.is_some() { Ok(0.0) } else { Err(error) }
            }
        }
    }

    /// The log, with errors that speak of the rows and columns of the source.
    pub(super) fn finish(self, options: &ReadOptions, meta: Meta) -> Result<Log> {
        self.numbers.finish()?;
        let stamps = match self.clock {
            Some(clock) => Stamps::SinceFirst { time_s: self.time, started_at: clock.started_at },
            None => Stamps::Numbers(self.time),
        };
        let water = self.chosen.water.is_some().then_some(self.water);
        let beverage = self.chosen.beverage.is_some().then_some(self.beverage);
        Log::from_columns(&self.chosen, stamps, water, beverage, options, meta).map_err(|mut error| {
            if let Error::NotFinite { row, .. } | Error::OutOfRange { row, .. } | Error::Time { row, .. } =
                &mut error
                && *row > 0
            {
                let before = self.skipped.iter().rev().find(|&&(sample, _)| sample < *row);
                *row += before.map_or(0, |&(_, n)| n);
            }
            error
        })
    }
}

impl Log {
    /// A log from the columns of a table, as [`choose`](super::choose) chose them, each in its own unit. `water` and
    /// `beverage` are needed where `chosen` has them. A weight that no argument named and that holds no reading at all
    /// was not weighed, and is left out.
    ///
    /// # Errors
    /// `argument`: a unit that neither the column nor the options state, or that they state differently. `column`: a
    /// column that was chosen is not given. `not_a_number`: a text that is no date and time. Further as
    /// [`Log::with_missing`].
    pub fn from_columns(
        chosen: &Chosen,
        stamps: Stamps,
        water: Option<Vec<f64>>,
        beverage: Option<Vec<f64>>,
        options: &ReadOptions,
        mut meta: Meta,
    ) -> Result<Self> {
        let (time_s, started_at) = stamps.seconds(&chosen.time, options.time_unit)?;
        let water_g = grams(chosen.water.as_ref(), water, options)?;
        let beverage_g = grams(chosen.beverage.as_ref(), beverage, options)?;
        if water_g.is_none() && beverage_g.is_none() {
            let what = chosen.water.as_ref().or(chosen.beverage.as_ref()).map(|p| p.name.clone());
            return Err(Error::Empty { what: what.unwrap_or_default() });
        }
        meta.started_at = meta.started_at.or(started_at);
        Self::with_missing(time_s, water_g, beverage_g, meta, options.missing)
            .map_err(|error| named(error, chosen))
    }
}

fn grams(
    pick: Option<&Pick<MassUnit>>,
    values: Option<Vec<f64>>,
    options: &ReadOptions,
) -> Result<Option<Vec<f64>>> {
    let Some(pick) = pick else { return Ok(None) };
    let Some(mut values) = values else {
        return Err(Error::Column { message: format!("column {:?} was chosen and is not given", pick.name) });
    };
    if !pick.by_argument && !values.is_empty() && values.iter().all(|v| v.is_nan()) {
        return Ok(None);
    }
    let unit = settle(options.mass_unit, pick)?;
    if unit != MassUnit::G {
        values.iter_mut().for_each(|m| *m = unit.to_g(*m));
    }
    Ok(Some(values))
}

/// The unit that the caller and the column agree on.
pub(super) fn settle<U: Unit>(stated: Option<U>, pick: &Pick<U>) -> Result<U> {
    let error = |message| Err(Error::Argument { name: U::ARGUMENT.into(), message });
    match (stated, pick.unit) {
        (Some(a), Some(b)) if a != b => error(format!(
            "column {:?} says {} where {} is asked for; give the column by its number to leave its name aside",
            pick.name,
            b.symbol(),
            a.symbol()
        )),
        (Some(unit), _) | (None, Some(unit)) => Ok(unit),
        (None, None) => {
            error(format!("column {:?} names no unit; say which it is: {}", pick.name, U::CHOICES))
        }
    }
}

/// Calls the column of a missing or infinite reading by the name that it has in its source.
fn named(mut error: Error, chosen: &Chosen) -> Error {
    if let Error::NotFinite { column, .. } | Error::UnequalLength { column, .. } = &mut error {
        let source = match column.as_str() {
            "time_s" => Some(&chosen.time.name),
            "water_g" => chosen.water.as_ref().map(|p| &p.name),
            _ => chosen.beverage.as_ref().map(|p| &p.name),
        };
        if let Some(name) = source {
            column.clone_from(name);
        }
    }
    error
}
