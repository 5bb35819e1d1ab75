//! In: a table of numbers and texts. Out: a [`Study`] of its rows; and back.

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Undefined};
use crate::rows::sd_name;
use crate::study::gather::study::{Missing, Study, StudyRow, Taken};
use crate::table::{Column, Table, Values};

impl Study {
    /// A study from a table: texts are factors, numbers are measures, `mass_sd_g` is the sd of `mass_g` (0 if there is
    /// no such column), `brew` names the brew, `pour` its pour, and `started_at` its begin. A number that is NaN is missing.
    ///
    /// ```
    /// use pourline::{Study, Table, Values};
    /// let mut table = Table::default();
    /// table.push("kettle", "", Values::Text(vec!["Fernspout".into(), "Broadlip".into()]));
    /// table.push("yield_pct", "%", Values::Number(vec![20.1, f64::NAN]));
    /// let study = Study::of(&table)?;
    /// assert_eq!(study.take("yield_pct", &["kettle"])?.missing[0].brew, "row 2");
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// `empty` for a table without rows, `not_finite` for an infinite number or an sd below 0.
    pub fn of(table: &Table) -> Result<Self> {
        if table.rows() == 0 {
            return Err(Error::Empty { what: "table".into() });
        }
        let mut study = Self { rows: vec![StudyRow::default(); table.rows()], ..Self::default() };
        for (i, row) in study.rows.iter_mut().enumerate() {
            row.brew = format!("row {}", i + 1);
        }
        let names: Vec<&str> = table.columns.iter().map(|c| c.name.as_str()).collect();
        let sds: Vec<String> = names.iter().map(|name| sd_name(name)).collect();
        for Column { name, unit, values, .. } in &table.columns {
            if sds.contains(name) {
                continue;
            }
            if !unit.is_empty() {
                study.units.insert(name.clone(), unit.clone());
            }
            let sd = table.column(&sd_name(name)).and_then(|c| numbers(&c.values));
            match values {
                Values::Text(texts) => {
                    for (row, text) in study.rows.iter_mut().zip(texts).filter(|(_, t)| !t.is_empty()) {
                        match name.as_str() {
                            "brew" => row.brew.clone_from(text),
                            "started_at" => row.started_at = Some(text.clone()),
                            "warnings" => row.warnings = text.split("; ").map(Into::into).collect(),
                            _ => drop(row.factors.insert(name.clone(), text.clone())),
                        }
                    }
                }
                Values::Whole(places) if name == "pour" => {
                    for (row, place) in study.rows.iter_mut().zip(places) {
                        row.pour = usize::try_from(*place).ok();
                    }
                }
                _ => {
                    let values = numbers(values).unwrap_or_default();
                    for (i, (row, &value)) in study.rows.iter_mut().zip(&values).enumerate() {
                        let sd = sd.as_ref().map_or(0.0, |sd| sd[i]);
                        if value.is_infinite() || sd.is_infinite() || sd < 0.0 {
                            let wrong = if value.is_infinite() { value } else { sd };
                            return Err(Error::NotFinite { column: name.clone(), row: i + 1, value: wrong });
                        }
                        let number = if value.is_nan() {
                            Err(Undefined::because("the table has no value there"))
                        } else {
                            Ok(Estimate::new(value, if sd.is_nan() { 0.0 } else { sd }))
                        };
                        row.numbers.insert(name.clone(), number);
                    }
                }
            }
        }
        Ok(study)
    }

    /// One row per brew, or per pour: name, factors, every number with its sd, and warnings.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let texts = |of: &dyn Fn(&StudyRow) -> String| Values::Text(self.rows.iter().map(of).collect());
        table.push("brew", "", texts(&|row| row.brew.clone()));
        if self.rows.iter().any(|row| row.pour.is_some()) {
            let place = |row: &StudyRow| row.pour.and_then(|p| i64::try_from(p).ok()).unwrap_or(0);
            table.push("pour", "", Values::Whole(self.rows.iter().map(place).collect()));
        }
        if self.rows.iter().any(|row| row.started_at.is_some()) {
            table.push("started_at", "", texts(&|row| row.started_at.clone().unwrap_or_default()));
        }
        for factor in self.factors() {
            table.push(&factor, "", texts(&|row| row.factors.get(&factor).cloned().unwrap_or_default()));
        }
        for measure in self.measures() {
            let unit = self.units.get(&measure).map_or("", String::as_str);
            let part = |of: fn(&Estimate) -> f64| {
                let known = |row: &StudyRow| row.numbers.get(&measure).and_then(|n| n.as_ref().ok().map(of));
                Values::Number(self.rows.iter().map(|row| known(row).unwrap_or(f64::NAN)).collect())
            };
            table.push(&measure, unit, part(|e| e.value));
            table.push(&sd_name(&measure), unit, part(|e| e.sd));
        }
        table.push("warnings", "", texts(&|row| row.warnings.join("; ")));
        table
    }
}

impl Taken {
    /// One row per value: brew, the levels of the factors by their names, the measure and its sd.
    #[must_use]
    pub fn table(&self, factors: &[String]) -> Table {
        let mut table = Table::default();
        table.push("brew", "", Values::Text(self.brews.clone()));
        for (name, levels) in factors.iter().zip(&self.levels) {
            table.push(name, "", Values::Text(levels.clone()));
        }
        let part = |of: fn(&Estimate) -> f64| Values::Number(self.values.iter().map(of).collect());
        table.push(&self.measure, &self.unit, part(|e| e.value));
        table.push(&sd_name(&self.measure), &self.unit, part(|e| e.sd));
        table
    }
}

impl Missing {
    /// One row per missing value: brew, pour (0 if the row is a brew), name, and reason.
    #[must_use]
    pub fn table(all: &[Self]) -> Table {
        let mut table = Table::default();
        let texts = |of: fn(&Self) -> &String| Values::Text(all.iter().map(|m| of(m).clone()).collect());
        table.push("brew", "", texts(|m| &m.brew));
        table.push("pour", "", Values::Whole(all.iter().map(|m| m.pour.unwrap_or(0) as i64).collect()));
        table.push("what", "", texts(|m| &m.what));
        table.push("reason", "", texts(|m| &m.reason));
        table
    }
}

fn numbers(values: &Values) -> Option<Vec<f64>> {
    match values {
        Values::Number(numbers) => Some(numbers.clone()),
        Values::Whole(numbers) => Some(numbers.iter().map(|&n| n as f64).collect()),
        Values::Text(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_invalid_number_or_sd_is_an_error_with_its_row() {
        let of = |value: f64, sd: f64| {
            let mut table = Table::default();
            table.push("mass_g", "g", Values::Number(vec![1.0, value]));
            table.push("mass_sd_g", "g", Values::Number(vec![0.1, sd]));
            Study::of(&table)
        };
        let number = |value: f64, sd: f64| of(value, sd).unwrap().rows[1].numbers["mass_g"].clone();
        assert_eq!(number(2.0, 0.2), Ok(Estimate::new(2.0, 0.2)));
        assert_eq!(number(2.0, 0.0), Ok(Estimate::exact(2.0)));
        assert_eq!(number(2.0, f64::NAN), Ok(Estimate::exact(2.0)));
        assert!(number(f64::NAN, 0.2).is_err());
        for (value, sd) in [(2.0, -0.1), (f64::INFINITY, 0.2), (2.0, f64::INFINITY)] {
            let Err(Error::NotFinite { row, .. }) = of(value, sd) else { panic!("{value} {sd}") };
            assert_eq!(row, 2);
        }
    }
}
