//! In: a study and two factors. Out: their layout: crossed, nested or partial.

use crate::error::Result;
use crate::rows::{rows, words};
use crate::study::gather::study::Study;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

words! {
/// Layout of two factors: crossed, nested or partial.
pub enum Layout {
    /// Every level of one occurs with every level of the other.
    Crossed = "crossed",
    /// Each level of the first occurs with one level of the second only: their effects cannot be separated.
    Nested = "nested",
    /// Some pairs of levels occur, others do not.
    Partial = "partial",
}
}

rows! { $
/// Number of brews of each pair of levels of two factors.
///
/// ```
/// use pourline::study::{Layout};
/// use pourline::{Design, Study};
/// use pourline::{Table, Values};
/// let text = |words: [&str; 4]| Values::Text(words.map(String::from).to_vec());
/// let mut table = Table::default();
/// table.push("person", "", text(["Ada", "Ada", "Bo", "Bo"]));
/// table.push("kettle", "", text(["Fernspout", "Fernspout", "Broadlip", "Broadlip"]));
/// let study = Study::of(&table)?;
/// let design: Design = study.design("person", "kettle")?;
/// assert_eq!((design.layout, design.balanced), (Layout::Nested, false));
/// assert_eq!(design.brews, [[0, 2], [2, 0]]);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Design {
    /// The two factors.
    pub factors: [String; 2],
    /// Levels of the first factor.
    pub first: Vec<String> { hidden },
    /// Levels of the second factor.
    pub second: Vec<String> { hidden },
    /// Number of brews: one row per level of the first, one column per level of the second.
    pub brews: Vec<Vec<usize>> { hidden },
    /// Layout: "crossed" (all pairs), "nested" (each level of the first has one of the second) or "partial".
    pub layout: Layout,
    /// Whether the design is balanced: every pair has the same number of brews.
    pub balanced: bool,
    /// Number of brews that lack one of the two factors.
    pub missing: usize,
}
}

impl Study {
    /// Layout of two factors.
    ///
    /// # Errors
    /// `argument` if there is no such factor.
    pub fn design(&self, first: &str, second: &str) -> Result<Design> {
        for factor in [first, second] {
            self.known_factor(factor)?;
        }
        let levels = [self.levels(first), self.levels(second)];
        let (mut brews, mut missing) =
            (vec![vec![BTreeSet::new(); levels[1].len()]; levels[0].len()], BTreeSet::new());
        for row in &self.rows {
            let place = |k: usize, factor: &str| {
                row.factors.get(factor).and_then(|level| levels[k].iter().position(|l| l == level))
            };
            match (place(0, first), place(1, second)) {
                (Some(i), Some(j)) => drop(brews[i][j].insert(&row.brew)),
                _ => drop(missing.insert(&row.brew)),
            }
        }
        let brews: Vec<Vec<usize>> =
            brews.iter().map(|row| row.iter().map(BTreeSet::len).collect()).collect();
        let mut counts = brews.iter().flatten();
        let layout = if counts.clone().all(|&n| n > 0) {
            Layout::Crossed
        } else if brews.iter().all(|row| row.iter().filter(|&&n| n > 0).count() == 1) {
            Layout::Nested
        } else {
            Layout::Partial
        };
        let one = brews.first().and_then(|row| row.first());
        Ok(Design {
            factors: [first.into(), second.into()],
            balanced: counts.all(|n| Some(n) == one),
            layout,
            brews,
            missing: missing.len(),
            first: levels[0].clone(),
            second: levels[1].clone(),
        })
    }
}

impl Design {
    /// One row per level of the first factor, one column per level of the second.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        table.push(&self.factors[0], "", Values::Text(self.first.clone()));
        for (j, level) in self.second.iter().enumerate() {
            table.push(level, "", Values::Whole(self.brews.iter().map(|row| row[j] as i64).collect()));
        }
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::gather::study::StudyRow;

    fn design(pairs: &[(&str, &str)]) -> Design {
        let row = |(i, (who, what)): (usize, &(&str, &str))| {
            let mut row = StudyRow { brew: format!("brew {i}"), ..StudyRow::default() };
            row.factors.insert("person".into(), (*who).into());
            row.factors.insert("kettle".into(), (*what).into());
            row
        };
        let study = Study { rows: pairs.iter().enumerate().map(row).collect(), ..Study::default() };
        study.design("person", "kettle").unwrap()
    }

    #[test]
    fn a_layout_is_crossed_nested_or_partial_by_which_pairs_there_are() {
        let (ada, bo) = ([("Ada", "thin"), ("Ada", "wide")], [("Bo", "thin"), ("Bo", "wide")]);
        let crossed = design(&[ada, bo].concat());
        assert_eq!(
            (crossed.layout, crossed.balanced, crossed.brews),
            (Layout::Crossed, true, vec![vec![1, 1]; 2])
        );
        let more = design(&[&ada[..], &bo, &ada[..1]].concat());
        assert_eq!(
            (more.layout, more.balanced, more.brews),
            (Layout::Crossed, false, vec![vec![2, 1], vec![1, 1]])
        );
        assert_eq!(design(&[ada[0], bo[1]]).layout, Layout::Nested);
        assert_eq!(design(&[ada[0], ada[1], bo[0]]).layout, Layout::Partial);
    }
}
