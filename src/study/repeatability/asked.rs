//! In: a [`Study`] and names of a measure and factors. Out: repeatability, intraclass correlation, crossed study or
//! agreement of these.

use crate::error::{Error, Result};
use crate::study::gather::study::{Missing, Study, Taken};
use crate::study::repeatability::agreement::{Agreement, agreement};
use crate::study::repeatability::crossed::{Crossed, crossed};
use crate::study::repeatability::icc::{Icc, icc};
use crate::study::repeatability::spread::{Repeatability, repeatability};
use std::collections::BTreeSet;

impl Study {
    /// [`repeatability`] of a measure within and between the levels of a factor. The warnings name the excluded brews.
    ///
    /// # Errors
    /// Those of [`Study::take`] and [`repeatability`]; `argument` if rows are pours of one brew, which are not
    /// independent.
    ///
    /// ```
    /// use pourline::Study;
    /// use pourline::{Table, Values};
    /// let mut own = Table::default();
    /// own.push("person", "", Values::Text(["Ada", "Ada", "Bo", "Bo"].map(String::from).into()));
    /// own.push("mass_g", "g", Values::Number(vec![60.0, 61.0, 59.0, 60.2]));
    /// let found = Study::of(&own)?.repeatability("mass_g", "person")?;
    /// assert_eq!((found.brews, found.groups.len()), (4, 2));
    /// # Ok::<(), pourline::Error>(())
    /// ```
    pub fn repeatability(&self, measure: &str, by: &str) -> Result<Repeatability> {
        let taken = self.independent(measure, &[by])?;
        let mut found = repeatability(&taken.values, &taken.levels[0])?;
        found.warnings.extend(absent(&taken));
        Ok(found)
    }

    /// [`icc`] of a measure, with the factors that name its subjects and its raters.
    ///
    /// # Errors
    /// Those of [`Study::take`] and [`icc`]; `argument` if rows are pours of one brew.
    pub fn icc(&self, measure: &str, subjects: &str, raters: &str) -> Result<Icc> {
        let taken = self.independent(measure, &[subjects, raters])?;
        icc(&taken.values, &taken.levels[0], &taken.levels[1])
    }

    /// [`crossed`] study of a measure, with the factors that are its rows and its columns. The warnings name the
    /// excluded brews.
    ///
    /// # Errors
    /// Those of [`Study::take`] and [`crossed`]; `argument` if rows are pours of one brew.
    pub fn crossed(&self, measure: &str, rows: &str, columns: &str) -> Result<Crossed> {
        let taken = self.independent(measure, &[rows, columns])?;
        let mut found = crossed(&taken.values, &taken.levels[0], &taken.levels[1])?;
        found.warnings.extend(absent(&taken));
        Ok(found)
    }

    /// [`agreement`] of two measures of the same brews, such as a strength by two instruments. The warnings name brews
    /// that lack either.
    ///
    /// # Errors
    /// Those of [`Study::take`] and [`agreement`]; `argument` if rows are pours of one brew.
    pub fn agreement(&self, first: &str, second: &str) -> Result<Agreement> {
        let (one, other) = (self.independent(first, &[])?, self.independent(second, &[])?);
        let both: BTreeSet<usize> = one.rows.iter().copied().filter(|row| other.rows.contains(row)).collect();
        let of = |taken: &Taken| {
            let paired = taken.rows.iter().zip(&taken.values).filter(|(row, _)| both.contains(row));
            paired.map(|(_, value)| *value).collect::<Vec<_>>()
        };
        let mut found = agreement(&of(&one), &of(&other))?;
        found.warnings.extend([&one, &other].into_iter().flat_map(absent));
        Ok(found)
    }

    fn independent(&self, measure: &str, factors: &[&str]) -> Result<Taken> {
        let taken = self.take(measure, factors)?;
        let mut seen = BTreeSet::new();
        let twice = taken
            .rows
            .iter()
            .find(|row| self.rows[**row].pour.is_some() && !seen.insert(&self.rows[**row].brew));
        let Some(row) = twice else { return Ok(taken) };
        let message = format!(
            "{:?} has several rows in the study; pours of one brew are not independent. Build the study with the \
             mean of the pours, or with one pour per brew",
            self.rows[*row].brew
        );
        Err(Error::Argument { name: "study".into(), message })
    }
}

/// Warnings: excluded brews, and brews with some of their pours.
fn absent(taken: &Taken) -> Vec<String> {
    let state = |all: &[Missing], what: &str| {
        let first = all.first()?;
        Some(format!(
            "{} of {} {what}: {:?}, {}: {}",
            all.len(),
            taken.measure,
            first.brew,
            first.what,
            first.reason
        ))
    };
    let absent = state(&taken.missing, "missing, such as");
    absent.into_iter().chain(state(&taken.partial, "means over some pours only, such as")).collect()
}
