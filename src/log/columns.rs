//! In: the names of the columns of a table, and the caller's options. Out: the columns of the time and the weights,
//! and their units.
//!
//! Nothing is guessed: if no column or more than one matches, the error names the argument that resolves it. The same
//! rules serve files and Arrow tables.

use crate::error::{Error, Result};
use crate::log::options::ReadOptions;
use crate::log::roles::{BEVERAGE, Role, TIME, WATER};
use crate::log::units::{MassUnit, TimeUnit, Unit, cut};
use crate::log::{units, words};

/// A log of one brew has a handful of columns; a table with more than this is no log.
pub(super) const MAX_COLUMNS: usize = 4096;

/// One column that was chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pick<U> {
    /// Its index, from 0.
    pub index: usize,
    /// Its name, or `column 2` if it has none.
    pub name: String,
    /// The unit that its name states.
    pub unit: Option<U>,
    /// Whether an argument named it, rather than its own name.
    pub by_argument: bool,
}

/// The columns of a log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chosen {
    /// Stamps.
    pub time: Pick<TimeUnit>,
    /// Weight of the water poured.
    pub water: Option<Pick<MassUnit>>,
    /// Weight of the beverage.
    pub beverage: Option<Pick<MassUnit>>,
}

/// Chooses the columns of a log by their names and by the `time`, `water` and `beverage` of the options, which may be a
/// name or a number from 1. Columns that match no part are ignored. A table without names has empty ones.
///
/// By name, upper and lower case alike: time is `time`, `t`, `timestamp`, `datetime`, `elapsed` or a unit such as
/// `seconds`; water is `water`, `poured`, `weight`, `mass` or a unit such as `grams`; beverage is `beverage`, `cup`,
/// `server`, `carafe` or `drip`; `weight`, `mass`, `total`, `scale` and `reading` may be added, as in
/// `server weight (g)`. If these do not settle all parts, so do the words of further languages, such as `Zeit (s)`.
///
/// # Errors
/// `column`: no time, no weight, two columns for one part, an argument that names no column, more than 4096 columns.
pub fn choose<S: AsRef<str>>(names: &[S], options: &ReadOptions) -> Result<Chosen> {
    let names: Vec<&str> = names.iter().map(|n| n.as_ref().trim()).collect();
    if names.len() > MAX_COLUMNS {
        let message = format!("{} columns, but a log has a time and one or two weights", names.len());
        return Err(Error::Column { message });
    }
    // The words of `roles` come first, so that a column in further words changes no log that they settle.
    select(&names, &names, options).or_else(|_| select(&names, &meanings(&names), options))
}

/// The names in the words of `roles`.
fn meanings(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| words::meaning(name)).collect()
}

/// Whether the time and whether any weight is missing, if that is what keeps the columns from being chosen.
pub(super) fn lacking<S: AsRef<str>>(names: &[S], options: &ReadOptions) -> (bool, bool) {
    let names: Vec<&str> = names.iter().map(|n| n.as_ref().trim()).collect();
    let meanings = meanings(&names);
    let none = |fits: &dyn Fn(&str) -> bool| !meanings.iter().any(|name| fits(name));
    let no_weight = options.water.is_none()
        && options.beverage.is_none()
        && none(&|name| WATER.fits::<MassUnit>(name) || BEVERAGE.fits::<MassUnit>(name));
    (options.time.is_none() && none(&|name| TIME.fits::<TimeUnit>(name)), no_weight)
}

/// Chooses by the meanings of the names.
fn select<S: AsRef<str>>(names: &[&str], meanings: &[S], options: &ReadOptions) -> Result<Chosen> {
    let time = named(names, &TIME, options.time.as_deref())?;
    let water = named(names, &WATER, options.water.as_deref())?;
    let beverage = named(names, &BEVERAGE, options.beverage.as_deref())?;
    let taken = [&time, &water, &beverage].map(|p| p.as_ref().map(|&(index, _)| index));
    for (i, index) in taken.iter().enumerate() {
        if index.is_some() && taken[..i].contains(index) {
            let message = "time, water and beverage name the same column twice".into();
            return Err(Error::Column { message });
        }
    }
    let time = one(names, meanings, &TIME, time, &taken)?;
    let water = one(names, meanings, &WATER, water, &taken)?;
    let beverage = one(names, meanings, &BEVERAGE, beverage, &taken)?;
    match time {
        Some(time) if water.is_some() || beverage.is_some() => Ok(Chosen { time, water, beverage }),
        Some(_) => Err(none(names, "weight", WEIGHTS)),
        None if water.is_some() || beverage.is_some() => Err(none(names, "time", TIMES)),
        None => Err(none(names, "time and no weight", &format!("{TIMES}, and {WEIGHTS}"))),
    }
}

const TIMES: &str = "time=\"...\"";
const WEIGHTS: &str = "water=\"...\" or beverage=\"...\"";

/// The column that an argument names, and whether it did so by number.
fn named(names: &[&str], role: &Role, wanted: Option<&str>) -> Result<Option<(usize, bool)>> {
    let Some(wanted) = wanted.map(str::trim) else { return Ok(None) };
    let mut same = (0..names.len()).filter(|&i| !wanted.is_empty() && names[i] == wanted);
    match (same.next(), same.next()) {
        (Some(index), None) => return Ok(Some((index, false))),
        (Some(_), Some(_)) => {
            let message = format!(
                "two columns are called {:?}; give {} as a number from 1 to {}",
                cut(wanted),
                role.argument,
                names.len()
            );
            return Err(Error::Column { message });
        }
        _ => {}
    }
    match wanted.parse::<usize>() {
        Ok(number) if (1..=names.len()).contains(&number) => Ok(Some((number - 1, true))),
        _ => {
            let message = format!(
                "{}={:?} names no column; there are {}, by name or by number from 1",
                role.argument,
                cut(wanted),
                listed(names)
            );
            Err(Error::Column { message })
        }
    }
}

/// The column that an argument names, or otherwise the one whose name matches.
fn one<U: Unit, S: AsRef<str>>(
    names: &[&str],
    meanings: &[S],
    role: &Role,
    found: Option<(usize, bool)>,
    taken: &[Option<usize>],
) -> Result<Option<Pick<U>>> {
    if let Some((index, by_number)) = found {
        let name =
            if names[index].is_empty() { format!("column {}", index + 1) } else { names[index].into() };
        // The header of a column that is given by number is ignored, its unit included.
        let unit = if by_number { None } else { stated(&name).or_else(|| stated(&words::meaning(&name))) };
        return Ok(Some(Pick { index, name, unit, by_argument: true }));
    }
    let fits: Vec<usize> = (0..names.len())
        .filter(|i| !taken.contains(&Some(*i)) && role.fits::<U>(meanings[*i].as_ref()))
        .collect();
    match fits[..] {
        [] => Ok(None),
        [index] => {
            let unit = stated(meanings[index].as_ref());
            Ok(Some(Pick { index, unit, name: names[index].into(), by_argument: false }))
        }
        _ => {
            let both: Vec<&str> = fits.iter().map(|&i| names[i]).collect();
            let message =
                format!("{} could all be {a}: choose one with {a}=\"...\"", listed(&both), a = role.argument);
            Err(Error::Column { message })
        }
    }
}

fn stated<U: Unit>(name: &str) -> Option<U> {
    units::split(name).1.and_then(|word| U::from_word(&word))
}

fn none(names: &[&str], what: &str, argument: &str) -> Error {
    let message = if names.iter().all(|n| n.is_empty()) {
        format!(
            "{} columns without a header: choose them by number, such as time=\"1\", water=\"2\"",
            names.len()
        )
    } else {
        format!(
            "no {what} among the columns {}: name {} with {argument}; if these are no names, remove \
             the lines above the header, or begin each with #",
            listed(names),
            if what.contains(" and ") { "them" } else { "it" }
        )
    };
    Error::Column { message }
}

/// The first names, for a message.
fn listed(names: &[&str]) -> String {
    const SHOWN: usize = 12;
    let mut list: Vec<String> = names.iter().take(SHOWN).map(|n| format!("{:?}", cut(n))).collect();
    if names.len() > SHOWN {
        list.push(format!("and {} more", names.len() - SHOWN));
    }
    list.join(", ")
}

/// The unit that the caller and the column agree on.
pub(super) fn settle<U: Unit>(stated: Option<U>, pick: &Pick<U>) -> Result<U> {
    let error = |message| Err(Error::Argument { name: U::ARGUMENT.into(), message });
    match (stated, pick.unit) {
        (Some(a), Some(b)) if a != b => error(format!(
            "column {:?} states {} but {} was requested; give the column by its number to ignore its name",
            pick.name,
            b.symbol(),
            a.symbol()
        )),
        (Some(unit), _) | (None, Some(unit)) => Ok(unit),
        (None, None) => error(format!("column {:?} states no unit; give one of: {}", pick.name, U::CHOICES)),
    }
}
