//! In: whole columns in their own units. Out: a [`Log`] in s and g.

use crate::error::{Error, Result};
use crate::log::columns::{Chosen, Pick, settle};
use crate::log::guess;
use crate::log::meta::Meta;
use crate::log::options::ReadOptions;
use crate::log::record::Log;
use crate::log::stamps::{Seconds, Stamps};
use crate::log::units::MassUnit;

/// A log lasts this long, s, and has this many samples; the first stamp is returned to within this share.
const RUNS_S: f64 = 20.0;
const RUNS: usize = 20;
const BACK_SHARE: f64 = 0.02;

impl Log {
    /// A log from the columns of a table that [`choose`](super::choose) selected, each in its own unit. `water` and
    /// `beverage` are required if `chosen` has them. A weight without any reading is left out, unless an argument
    /// named it.
    ///
    /// # Errors
    /// `argument`: a unit that neither the column nor the options state, or that they state differently. `column`: a
    /// chosen column is not given. `not_a_number`: a text that is no date and time. Otherwise as
    /// [`Log::with_missing`].
    pub fn from_columns(
        chosen: &Chosen,
        stamps: Stamps,
        water: Option<Vec<f64>>,
        beverage: Option<Vec<f64>>,
        options: &ReadOptions,
        mut meta: Meta,
    ) -> Result<Self> {
        let stamps = stamps.seconds(&chosen.time, options.time_unit);
        let water_g = grams(chosen.water.as_ref(), water, options);
        let beverage_g = grams(chosen.beverage.as_ref(), beverage, options);
        let (stamps, water_g, beverage_g) = together(stamps, water_g, beverage_g)?;
        if water_g.is_none() && beverage_g.is_none() {
            let what = chosen.water.as_ref().or(chosen.beverage.as_ref()).map(|p| p.name.clone());
            return Err(Error::Empty { what: what.unwrap_or_default() });
        }
        starts_once(&stamps.time_s)?;
        meta.started_at = meta.started_at.or(stamps.started_at);
        let log = Self::with_missing(stamps.time_s, water_g, beverage_g, meta, options.missing)
            .map_err(|error| named(error, chosen))?;
        Ok(log.noted(stamps.note.into_iter().collect()))
    }
}

/// Refuses stamps that run for a while, return to the first one and run for a while again.
fn starts_once(time_s: &[f64]) -> Result<()> {
    let Some(&first_s) = time_s.first() else { return Ok(()) };
    for (i, pair) in time_s.windows(2).enumerate() {
        let (ran_s, back_s) = (pair[0] - first_s, pair[1] - first_s);
        if ran_s >= RUNS_S && back_s.abs() <= BACK_SHARE * ran_s {
            let again = &time_s[i + 1..];
            if again.len() >= RUNS && again.iter().any(|t| t - pair[1] >= RUNS_S) {
                let message = "time starts again from here on: these are two logs, so split the file here";
                return Err(Error::Format { row: i + 2, message: message.into() });
            }
        }
    }
    Ok(())
}

/// The readings in g, if they were weighed.
type Weight = Option<Vec<f64>>;

/// All parts, or one error with all units that are missing.
fn together(
    stamps: Result<Seconds>,
    water_g: Result<Weight>,
    beverage_g: Result<Weight>,
) -> Result<(Seconds, Weight, Weight)> {
    let stamps = match (stamps, &water_g, &beverage_g) {
        (
            Err(Error::Argument { name, message }),
            Err(Error::Argument { name: other, message: further }),
            _,
        )
        | (
            Err(Error::Argument { name, message }),
            _,
            Err(Error::Argument { name: other, message: further }),
        ) => return Err(Error::Argument { name, message: format!("{message}; {other}: {further}") }),
        (stamps, _, _) => stamps?,
    };
    Ok((stamps, water_g?, beverage_g?))
}

fn grams(
    pick: Option<&Pick<MassUnit>>,
    values: Option<Vec<f64>>,
    options: &ReadOptions,
) -> Result<Option<Vec<f64>>> {
    let Some(pick) = pick else { return Ok(None) };
    let Some(mut values) = values else {
        return Err(Error::Column { message: format!("column {:?} was chosen but is not given", pick.name) });
    };
    if !pick.by_argument && !values.is_empty() && values.iter().all(|v| v.is_nan()) {
        return Ok(None);
    }
    let unit = settle(options.mass_unit, pick).map_err(|error| guess::with_mass_unit(error, &values))?;
    if unit != MassUnit::G {
        values.iter_mut().for_each(|m| *m = unit.to_g(*m));
    }
    Ok(Some(values))
}

/// Replaces the column of an error by its name in the source.
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
