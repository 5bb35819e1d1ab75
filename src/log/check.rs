//! In: the arrays and the metadata of a log. Out: nothing, or the violated rule, with its row and value.
//!
//! Only invalid logs are refused here. Duplicate stamps, stamps out of order, knocks and gaps pass: `condition`
//! handles and lists them.

use crate::error::{Error, Result};
use crate::log::meta::Meta;
use crate::log::missing::Missing;

/// With fewer samples than this a level and a slope leave no degree of freedom.
const MIN_SAMPLES: usize = 3;
/// Up to this limit an f64 resolves 0.02 ms. Stamps since 1970 in ms that are declared as s exceed it.
const MAX_TIME_S: f64 = 1e11;
/// Ten tonnes.
const MAX_MASS_G: f64 = 1e7;

/// Checks a log against the rules of `Log::with_missing`.
pub(super) fn log(
    time_s: &[f64],
    water_g: Option<&[f64]>,
    beverage_g: Option<&[f64]>,
    missing: Missing,
) -> Result<()> {
    if water_g.is_none() && beverage_g.is_none() {
        return Err(Error::Column { message: "a log needs water_g, beverage_g or both".into() });
    }
    let channels = [("water_g", water_g), ("beverage_g", beverage_g)];
    let channels = || channels.iter().filter_map(|&(name, mass_g)| Some((name, mass_g?)));

    let samples = time_s.len();
    if samples == 0 {
        return Err(Error::Empty { what: "time_s".into() });
    }
    for (column, mass_g) in channels() {
        if mass_g.len() != samples {
            return Err(Error::UnequalLength {
                column: column.into(),
                found: mass_g.len(),
                expected: samples,
            });
        }
    }
    enough(samples)?;
    time(time_s)?;
    for (column, mass_g) in channels() {
        mass(column, mass_g, missing)?;
    }
    Ok(())
}

/// Checks one sample against the limits: its stamp and its readings, if any.
pub(crate) fn within_limits(row: usize, time_s: f64, [water_g, beverage_g]: [Option<f64>; 2]) -> Result<()> {
    within("time_s", row, time_s, MAX_TIME_S, "s")?;
    for (column, mass_g) in [("water_g", water_g), ("beverage_g", beverage_g)] {
        if let Some(mass_g) = mass_g.filter(|mass_g| !mass_g.is_nan()) {
            within(column, row, mass_g, MAX_MASS_G, "g")?;
        }
    }
    Ok(())
}

fn enough(samples: usize) -> Result<()> {
    if samples < MIN_SAMPLES { Err(Error::TooShort { samples, needed: MIN_SAMPLES }) } else { Ok(()) }
}

/// A stamp is never optional: a reading without one has no place.
fn time(time_s: &[f64]) -> Result<()> {
    let mut forward = false;
    let mut backward = None;
    let mut last = f64::NAN;
    for (i, &t) in time_s.iter().enumerate() {
        within("time_s", i + 1, t, MAX_TIME_S, "s")?;
        forward |= t > last;
        if t < last && backward.is_none() {
            backward = Some((i + 1, t));
        }
        last = t;
    }
    match (forward, backward) {
        (true, _) => Ok(()),
        (false, Some((row, value_s))) => Err(Error::Time {
            row,
            value_s,
            rule: "time runs backwards throughout: the log is upside down, sort its rows by time",
        }),
        (false, None) => Err(Error::Time { row: 2, value_s: last, rule: "all stamps are equal" }),
    }
}

fn mass(column: &str, mass_g: &[f64], missing: Missing) -> Result<()> {
    let mut readings = 0;
    for (i, &m) in mass_g.iter().enumerate() {
        if m.is_nan() && missing == Missing::Flag {
            continue;
        }
        within(column, i + 1, m, MAX_MASS_G, "g")?;
        readings += 1;
    }
    if readings == 0 { Err(Error::Empty { what: column.into() }) } else { enough(readings) }
}

fn within(column: &str, row: usize, value: f64, limit: f64, unit: &str) -> Result<()> {
    if value.abs() <= limit {
        Ok(())
    } else if value.is_finite() {
        let rule = format!("it must lie between -{limit:e} and {limit:e} {unit}");
        Err(Error::OutOfRange { name: column.into(), value, rule, row })
    } else {
        Err(Error::NotFinite { column: column.into(), row, value })
    }
}

/// Checks metadata against the ranges of the fields of [`Meta`]. Absent fields pass. So does a dose of 0: only the
/// yield is then undefined.
pub(super) fn meta(meta: &Meta) -> Result<()> {
    let above_0 = f64::MIN_POSITIVE;
    let rules = [
        ("dose_g", meta.dose_g, 0.0..=MAX_MASS_G, "it must be 0 to 1e7 g"),
        ("dose_sd_g", meta.dose_sd_g, 0.0..=MAX_MASS_G, "it must be 0 to 1e7 g"),
        ("tds_pct", meta.tds_pct, above_0..=100.0, "it must be above 0 and at most 100 %"),
        ("tds_sd_pct", meta.tds_sd_pct, 0.0..=100.0, "it must be 0 to 100 percentage points"),
        ("brix_pct", meta.brix_pct, above_0..=100.0, "it must be above 0 and at most 100 %"),
        ("brix_sd_pct", meta.brix_sd_pct, 0.0..=100.0, "it must be 0 to 100 percentage points"),
        ("water_c", meta.water_c, 0.0..=100.0, "it must be 0 to 100 C"),
    ];
    for (name, value, range, rule) in rules {
        if let Some(value) = value
            && !range.contains(&value)
        {
            return Err(Error::OutOfRange { name: name.into(), value, rule: rule.into(), row: 0 });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_invalid_number_is_an_error_with_its_row_counted_from_one() {
        let row =
            |time_s: &[f64], water_g: &[f64]| match (time(time_s), mass("water_g", water_g, Missing::Refuse))
            {
                (
                    Err(
                        Error::OutOfRange { row, .. }
                        | Error::NotFinite { row, .. }
                        | Error::Time { row, .. },
                    ),
                    _,
                ) => Some(row),
                (Ok(()), Err(Error::OutOfRange { row, .. } | Error::NotFinite { row, .. })) => Some(row),
                _ => None,
            };
        let good = [0.0, 1.0, 2.0, 3.0];
        assert_eq!(row(&good, &good), None);
        assert_eq!(row(&[0.0, f64::NAN, 2.0, 3.0], &good), Some(2));
        assert_eq!(row(&[0.0, 1.0, 2.0 * MAX_TIME_S, 3.0], &good), Some(3));
        assert_eq!(row(&good, &[0.0, 1.0, 2.0, f64::INFINITY]), Some(4));
        assert_eq!(row(&good, &[2.0 * MAX_MASS_G, 1.0, 2.0, 3.0]), Some(1));
        assert_eq!(row(&[3.0, 2.0, 1.0, 0.0], &good), Some(2), "backwards throughout");
        assert_eq!(row(&[1.0; 4], &good), Some(2), "all equal");
        assert_eq!(row(&[0.0, 2.0, 1.0, 3.0], &good), None, "one pair swapped");
    }

    #[test]
    fn metadata_are_checked_against_their_ranges() {
        let with = |set: fn(&mut Meta, f64)| {
            move |value: f64| {
                let mut known = Meta::default();
                set(&mut known, value);
                meta(&known).is_ok()
            }
        };
        let ends = [false, true, true, false];
        assert_eq!([-0.1, 0.0, 1e7, 1.01e7].map(with(|m, v| m.dose_g = Some(v))), ends);
        assert_eq!([-0.1, 0.0, 1e7, 1.01e7].map(with(|m, v| m.dose_sd_g = Some(v))), ends);
        assert_eq!([0.0, 1e-9, 100.0, 100.1].map(with(|m, v| m.tds_pct = Some(v))), ends);
        assert_eq!([-0.1, 0.0, 100.0, 100.1].map(with(|m, v| m.tds_sd_pct = Some(v))), ends);
        assert_eq!([0.0, 1e-9, 100.0, 100.1].map(with(|m, v| m.brix_pct = Some(v))), ends);
        assert_eq!([-0.1, 0.0, 100.0, 100.1].map(with(|m, v| m.brix_sd_pct = Some(v))), ends);
        assert_eq!([-0.1, 0.0, 100.0, 100.1].map(with(|m, v| m.water_c = Some(v))), ends);
    }
}
