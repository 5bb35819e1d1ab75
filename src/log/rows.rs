//! In: the cells of a file, row by row. Out: a [`Log`], or an error with the row in the file.

use crate::error::{Error, Result};
use crate::log::columns::Chosen;
use crate::log::meta::Meta;
use crate::log::numbers::Numbers;
use crate::log::options::ReadOptions;
use crate::log::record::Log;
use crate::log::stamps::{Clock, Stamps, not_a_stamp};

/// A brew of five days at 100 Hz; a longer file is no log, and would fill the memory.
const MAX_SAMPLES: usize = 50_000_000;

/// One cell.
#[derive(Debug, Clone, Copy)]
pub(super) enum Cell<'a> {
    /// An empty cell.
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
    /// Rows of the source without a sample: the index of the next sample, and their number up to there.
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

    /// The columns; their units may still be set.
    pub(super) fn chosen(&mut self) -> &mut Chosen {
        &mut self.chosen
    }

    pub(super) fn is_empty(&self) -> bool {
        self.time.is_empty()
    }

    /// Takes in one row of the source, counted from 1.
    pub(super) fn push<'a>(&mut self, row: usize, cell: impl Fn(usize) -> Cell<'a>) -> Result<()> {
        if self.time.len() == MAX_SAMPLES {
            return Err(Error::Format { row, message: format!("more than {MAX_SAMPLES} rows") });
        }
        self.count(row);
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

    /// Whether rows of plain numbers are accepted: the stamps are numbers, and there is room. The value states
    /// whether they may have a decimal point.
    pub(super) fn takes_plain(&self) -> Option<bool> {
        let fits = self.clock.is_none() && !self.is_empty() && self.time.len() < MAX_SAMPLES;
        fits.then(|| self.numbers.has_point())
    }

    /// Takes in one row of numbers, counted from 1: time, water and beverage.
    pub(super) fn push_plain(&mut self, row: usize, [time, water, beverage]: [f64; 3]) {
        self.count(row);
        self.time.push(time);
        if self.chosen.water.is_some() {
            self.water.push(water);
        }
        if self.chosen.beverage.is_some() {
            self.beverage.push(beverage);
        }
    }

    /// Records that rows before this one have no sample.
    fn count(&mut self, row: usize) {
        let samples = self.time.len();
        let skipped = row - 1 - samples;
        if skipped != self.skipped.last().map_or(0, |&(_, n)| n) {
            self.skipped.push((samples, skipped));
        }
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

    /// The log; errors name the rows and columns of the source.
    pub(super) fn finish(self, options: &ReadOptions, meta: Meta) -> Result<Log> {
        self.numbers.finish()?;
        let stamps = match self.clock {
            Some(clock) => Stamps::SinceFirst { time_s: self.time, started_at: clock.started_at },
            None => Stamps::Numbers(self.time),
        };
        let water = self.chosen.water.is_some().then_some(self.water);
        let beverage = self.chosen.beverage.is_some().then_some(self.beverage);
        Log::from_columns(&self.chosen, stamps, water, beverage, options, meta).map_err(|mut error| {
            if let Error::NotFinite { row, .. }
            | Error::OutOfRange { row, .. }
            | Error::Time { row, .. }
            | Error::Format { row, .. } = &mut error
                && *row > 0
            {
                let before = self.skipped.iter().rev().find(|&&(sample, _)| sample < *row);
                *row += before.map_or(0, |&(_, n)| n);
            }
            error
        })
    }
}
