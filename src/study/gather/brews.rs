//! In: brews. Out: a [`Study`] of them, one row per brew.

use crate::brew::result::Brew;
use crate::brew::rows::{factors, of_brew, of_pours};
use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::study::gather::study::{Study, StudyRow};
use std::collections::BTreeMap;

/// Rows of a study from the pours of a brew.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Pours {
    /// One row per brew; each number of a pour is the mean over the brew's pours. Pours without it are left out of the
    /// mean, and listed.
    #[default]
    Mean,
    /// One row per brew; the numbers are those of the pour with that number, from 1.
    Number(usize),
    /// One row per pour. The pours of one brew are never counted as independent experimental units.
    Each,
}

/// Study of these brews. A brew without a name is named by its index.
///
/// ```
/// use pourline::{Pours, gather};
/// use pourline::{Options, Recipe, analyze, simulate};
/// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// let second = brew.segments.pours[1].mass_g;
/// let study = gather(&[brew], Pours::Number(2))?;
/// assert_eq!(study.rows[0].numbers["mass_g"], Ok(second));
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `empty` without a brew, `argument` for pour 0.
pub fn gather(brews: &[Brew], pours: Pours) -> Result<Study> {
    if brews.is_empty() {
        return Err(Error::Empty { what: "brews".into() });
    }
    if pours == Pours::Number(0) {
        return Err(Error::Argument { name: "pours".into(), message: "pours are counted from 1".into() });
    }
    let mut study = Study::default();
    for (i, brew) in brews.iter().enumerate() {
        let mut row = of_whole(brew);
        row.brew = brew.meta.name.clone().unwrap_or_else(|| format!("brew {}", i + 1));
        let named = of_pours(brew);
        for (name, unit, _) in &named {
            study.units.insert((*name).into(), (*unit).into());
        }
        for (name, unit, _) in of_brew(brew) {
            study.units.insert(name.into(), unit.into());
        }
        match pours {
            Pours::Mean => {
                for (name, _, values) in named {
                    let (mean, left_out) = mean(&values);
                    row.numbers.insert(name.into(), mean);
                    if !left_out.is_empty() {
                        row.left_out.insert(name.into(), left_out);
                    }
                }
                study.rows.push(row);
            }
            Pours::Number(place) => {
                for (name, _, values) in named {
                    let none = || Err(Undefined::because(format!("the brew has {} pours", values.len())));
                    let value = values.get(place - 1).cloned().unwrap_or_else(none);
                    row.numbers.insert(name.into(), value);
                }
                study.rows.push(row);
            }
            Pours::Each => {
                for k in 0..brew.segments.pours.len() {
                    let mut row = StudyRow { pour: Some(k + 1), ..row.clone() };
                    for (name, _, values) in &named {
                        row.numbers.insert((*name).into(), values[k].clone());
                    }
                    study.rows.push(row);
                }
            }
        }
    }
    for (name, unit) in [("dose_g", "g"), ("tds_pct", "%"), ("strength_pct", "%"), ("water_c", "C")] {
        study.units.insert(name.into(), unit.into());
    }
    Ok(study)
}

/// Numbers of the whole brew.
fn of_whole(brew: &Brew) -> StudyRow {
    let mut row = StudyRow {
        started_at: brew.meta.started_at.clone(),
        time_zero_s: brew.time_zero_s(),
        warnings: brew.warnings.clone(),
        ..StudyRow::default()
    };
    for (name, level) in factors(&brew.meta) {
        if let Some(level) = level {
            row.factors.entry(name.into()).or_insert_with(|| level.into());
        }
    }
    for (name, _, value) in of_brew(brew) {
        row.numbers.insert(name.into(), value.clone());
    }
    row.numbers.insert("brew_ratio".into(), brew.extraction.brew_ratio.clone());
    row.numbers.insert("strength_pct".into(), brew.extraction.strength_pct.clone());
    let meta = &brew.meta;
    let given = [
        ("dose_g", meta.dose_g, meta.dose_sd_g),
        ("tds_pct", meta.tds_pct, meta.tds_sd_pct),
        ("water_c", meta.water_c, None),
    ];
    for (name, value, sd) in given {
        let number = value.map(|value| Estimate::new(value, sd.unwrap_or(0.0)));
        row.numbers.insert(name.into(), number.ok_or_else(|| Undefined::because("it was not given")));
    }
    let pours = brew.segments.pours.len() as f64;
    row.numbers.insert("pours".into(), Ok(Estimate::exact(pours)));
    row
}

/// The mean over the pours that have the number, and the reasons of the others.
fn mean(values: &[Maybe]) -> (Maybe, Vec<String>) {
    let known: Vec<Estimate> = values.iter().filter_map(|v| v.as_ref().ok()).copied().collect();
    let mut reasons: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for (k, value) in values.iter().enumerate() {
        if let Err(why) = value {
            reasons.entry(&why.reason).or_default().push((k + 1).to_string());
        }
    }
    let left_out: Vec<String> =
        reasons.iter().map(|(why, places)| format!("pour {}: {why}", places.join(", "))).collect();
    if known.is_empty() {
        let why = if values.is_empty() { "the brew has no pour".into() } else { left_out.join("; ") };
        return (Err(Undefined::because(why)), Vec::new());
    }
    let n = known.len() as f64;
    let sum = known.into_iter().fold(Estimate::exact(0.0), Estimate::plus);
    (Ok(sum.scaled(1.0 / n)), left_out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_brew_has_the_mean_of_its_pours_and_lists_the_undefined_ones() {
        let none = |why: &str| Err(Undefined::because(why));
        let values = [Ok(Estimate::new(2.0, 0.3)), none("short"), Ok(Estimate::new(4.0, 0.4)), none("short")];
        let (found, left_out) = mean(&values);
        // (2 + 4)/2, and the root of 0.09 + 0.16 over two.
        let found = found.unwrap();
        assert!((found.value - 3.0).abs() < 1e-12 && (found.sd - 0.25).abs() < 1e-12, "{found}");
        assert_eq!(left_out, ["pour 2, 4: short"]);
        assert_eq!(mean(&[]).0.unwrap_err().reason, "the brew has no pour");
        assert_eq!(mean(&values[1..2]).0.unwrap_err().reason, "pour 1: short");
    }
}
