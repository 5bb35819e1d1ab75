//! In: values with group, blocking factors and unit. Out: one value per experimental unit, in cells within which
//! groups can be compared.
//!
//! A cell is one combination of the blocking factors, such as one person on one day. If the group never varies within
//! a level of a factor (each person uses one kettle), that level is the experimental unit. Its rows are averaged and
//! counted once (Hurlbert 1984, Ecol. Monogr. 54, 187, pseudoreplication).

use crate::error::{Error, Result};
use crate::estimate::Estimate;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// A blocking factor: its name, such as "person", and its level in each row.
///
/// ```
/// use pourline::study::Block;
/// let person = Block { name: "person", labels: &["Ada", "Ada", "Bo", "Bo"] };
/// assert_eq!(person.labels.len(), 4);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Block<'a, S = String> {
    /// Name of the factor in warnings.
    pub name: &'a str,
    /// Its level in each row.
    pub labels: &'a [S],
}

/// The experimental units. All vectors but `groups` have one element per unit.
#[derive(Debug, Clone, Default)]
pub(super) struct Units {
    pub values: Vec<f64>,
    /// Measurement variance of each value.
    pub variances: Vec<f64>,
    pub group: Vec<usize>,
    pub cell: Vec<usize>,
    pub cells: usize,
    /// Level of the first blocking factor; all 0 without one.
    pub first: Vec<usize>,
    /// Names of the groups, in the order of their first rows.
    pub groups: Vec<String>,
    /// The experimental unit: "brew", or the factor whose levels are the units.
    pub unit: String,
    /// The blocking factors.
    pub blocks: Vec<String>,
    /// Number of rows beyond the first of each unit that the caller named.
    pub repeated: usize,
    /// Number of rows.
    pub rows: usize,
}

struct Factor {
    name: String,
    level: Vec<usize>,
}

impl Units {
    pub(super) fn new<S: AsRef<str>>(
        values: &[Estimate],
        group: &[S],
        blocks: &[Block<S>],
        units: &[S],
    ) -> Result<Self> {
        check(values, group, blocks, units)?;
        let (level, groups) = coded(group);
        let mut found = Self {
            values: values.iter().map(|e| e.value).collect(),
            variances: values.iter().map(|e| e.sd * e.sd).collect(),
            group: level,
            groups,
            unit: "brew".into(),
            rows: values.len(),
            ..Self::default()
        };
        let mut factors: Vec<Factor> =
            blocks.iter().map(|b| Factor { name: b.name.into(), level: coded(b.labels).0 }).collect();
        if !units.is_empty() {
            let (unit, names) = coded(units);
            if let Some(k) = found.mixed(&unit) {
                return Err(Error::Argument {
                    name: "unit".into(),
                    message: format!("the rows of {:?} belong to more than one group", names[k]),
                });
            }
            found.repeated = values.len() - names.len();
            found.average(&unit, &mut factors);
        }
        found.treated(&mut factors);
        (found.cell, found.cells) = cells(&factors, found.values.len());
        found.first = factors.first().map_or(vec![0; found.values.len()], |f| f.level.clone());
        found.blocks = factors.into_iter().map(|f| f.name).collect();
        Ok(found)
    }

    /// Averages until the group varies within some cell, or no blocking factor is left.
    fn treated(&mut self, factors: &mut Vec<Factor>) {
        loop {
            let counts = |f: &Factor| f.level.iter().collect::<BTreeSet<_>>().len();
            let carriers = (0..factors.len()).filter(|&i| self.mixed(&factors[i].level).is_none());
            let (dropped, unit, level) = if let Some(i) = carriers.min_by_key(|&i| counts(&factors[i])) {
                (i, factors[i].name.clone(), factors[i].level.clone())
            } else {
                let (cell, _) = cells(factors, self.values.len());
                if factors.is_empty() || self.mixed(&cell).is_some() {
                    return;
                }
                let names: Vec<&str> = factors.iter().map(|f| f.name.as_str()).collect();
                (factors.len() - 1, names.join(" and "), cell)
            };
            factors.remove(dropped);
            let before = self.values.len();
            self.average(&level, factors);
            if self.values.len() < before {
                self.unit = unit;
            }
        }
    }

    /// The first level with two groups.
    fn mixed(&self, level: &[usize]) -> Option<usize> {
        let mut seen = BTreeMap::new();
        level.iter().zip(&self.group).find(|(l, g)| *seen.entry(**l).or_insert(**g) != **g).map(|(l, _)| *l)
    }

    /// One value per level. A factor that varies within a level is no longer a blocking factor.
    fn average(&mut self, level: &[usize], factors: &mut Vec<Factor>) {
        let mut rows: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (i, &l) in level.iter().enumerate() {
            rows.entry(l).or_default().push(i);
        }
        let mut rows: Vec<Vec<usize>> = rows.into_values().collect();
        rows.sort();
        let mean = |of: &[f64], rows: &[usize]| rows.iter().map(|&i| of[i]).sum::<f64>() / rows.len() as f64;
        let first = |of: &[usize]| rows.iter().map(|r| of[r[0]]).collect::<Vec<_>>();
        factors.retain(|f| rows.iter().all(|r| r.iter().all(|&i| f.level[i] == f.level[r[0]])));
        for f in factors.iter_mut() {
            f.level = first(&f.level);
        }
        self.group = first(&self.group);
        self.values = rows.iter().map(|r| mean(&self.values, r)).collect();
        // Measurement errors of two rows are taken as independent.
        self.variances = rows.iter().map(|r| mean(&self.variances, r) / r.len() as f64).collect();
    }
}

/// The cell of each row, and the number of cells.
fn cells(factors: &[Factor], rows: usize) -> (Vec<usize>, usize) {
    let mut seen = BTreeMap::new();
    let cell = (0..rows).map(|i| {
        let levels: Vec<usize> = factors.iter().map(|f| f.level[i]).collect();
        let next = seen.len();
        *seen.entry(levels).or_insert(next)
    });
    let cell = cell.collect();
    (cell, seen.len())
}

/// Labels as numbers, in the order of their first rows.
fn coded<S: AsRef<str>>(labels: &[S]) -> (Vec<usize>, Vec<String>) {
    let (mut seen, mut names) = (BTreeMap::new(), Vec::new());
    let mut code = |label: &str| {
        *seen.entry(label.to_string()).or_insert_with(|| {
            names.push(label.to_string());
            names.len() - 1
        })
    };
    let codes = labels.iter().map(|l| code(l.as_ref())).collect();
    (codes, names)
}

fn check<S>(values: &[Estimate], group: &[S], blocks: &[Block<S>], units: &[S]) -> Result<()> {
    if values.is_empty() {
        return Err(Error::Empty { what: "values".into() });
    }
    let unit = (!units.is_empty()).then_some(("unit", units.len()));
    let lengths = blocks.iter().map(|b| (b.name, b.labels.len())).chain(unit).chain([("group", group.len())]);
    for (name, found) in lengths {
        if found != values.len() {
            let expected = values.len();
            return Err(Error::Argument {
                name: name.into(),
                message: format!("it has {found} labels, and there are {expected} values"),
            });
        }
    }
    for (i, e) in values.iter().enumerate() {
        if let Some(&value) = [e.value, e.sd].iter().find(|x| !x.is_finite()) {
            return Err(Error::NotFinite { column: "values".into(), row: i + 1, value });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_of_a_unit_are_averaged_and_a_factor_varying_within_it_is_no_block() {
        let values = [1.0, 3.0, 5.0, 9.0].map(|v| Estimate::new(v, 0.2));
        let block = |name, labels| Block { name, labels };
        let person: &[&str] = &["Ada", "Ada", "Ada", "Ada"];
        let pour: &[&str] = &["1", "2", "1", "1"];
        let blocks = [block("person", person), block("pour", pour)];
        let found = Units::new(&values, &["a", "a", "b", "b"], &blocks, &["x", "x", "y", "z"]).unwrap();
        assert_eq!((found.values.clone(), found.group.clone()), (vec![2.0, 5.0, 9.0], vec![0, 1, 1]));
        // The mean of two has half of the variance of one.
        let variances = [0.02, 0.04, 0.04];
        assert!(
            found.variances.iter().zip(variances).all(|(a, b)| (a - b).abs() < 1e-15),
            "{:?}",
            found.variances
        );
        assert_eq!((found.blocks, found.repeated, found.cells), (vec!["person".to_string()], 1, 1));
    }
}
