//! In: one measure with its groups and blocks. Out: one value per brew, and the least-squares fit of groups and cells.

use crate::study::gather::study::{Study, Taken};
use std::collections::BTreeMap;

/// The compared brews, one value each.
#[derive(Debug, Clone, Default)]
pub(super) struct View {
    /// Names of the groups, in the order of their first rows.
    pub groups: Vec<String>,
    pub group: Vec<usize>,
    /// Combination of the levels of the blocks.
    pub cell: Vec<usize>,
    pub cells: usize,
    pub value: Vec<f64>,
    pub brew: Vec<String>,
    /// The first row of each brew in the study.
    pub row: Vec<usize>,
}

impl View {
    pub(super) fn new(taken: &Taken) -> Self {
        let mut found = Self::default();
        let (mut brews, mut groups, mut cells) = (BTreeMap::new(), BTreeMap::new(), BTreeMap::new());
        let mut rows: Vec<f64> = Vec::new();
        for (i, name) in taken.brews.iter().enumerate() {
            let level = &taken.levels[0][i];
            let group = *groups.entry(level).or_insert_with(|| {
                found.groups.push(level.clone());
                found.groups.len() - 1
            });
            let levels: Vec<&String> = taken.levels[1..].iter().map(|block| &block[i]).collect();
            let next = cells.len();
            let cell = *cells.entry(levels).or_insert(next);
            let k = *brews.entry(name).or_insert(rows.len());
            if k == rows.len() {
                rows.push(0.0);
                found.value.push(0.0);
                found.group.push(group);
                found.cell.push(cell);
                found.brew.push(name.clone());
                found.row.push(taken.rows[i]);
            }
            rows[k] += 1.0;
            found.value[k] += (taken.values[i].value - found.value[k]) / rows[k];
        }
        found.cells = cells.len();
        found
    }

    /// The level of a factor for each brew; None if a brew has none.
    pub(super) fn factor<'a>(&self, study: &'a Study, name: &str) -> Option<Vec<&'a str>> {
        self.row.iter().map(|&row| study.rows[row].factors.get(name).map(String::as_str)).collect()
    }

    /// Degrees of freedom left by groups and cells.
    pub(super) fn degrees(&self) -> f64 {
        self.value.len() as f64 - (self.groups.len() + self.cells) as f64 + 1.0
    }

    /// Numbers less their least-squares fit by group and cell, and the effect of each group.
    pub(super) fn fit(&self, numbers: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let (mut left, mut effects) = (numbers.to_vec(), vec![0.0; self.groups.len()]);
        let mut scratch = vec![0.0; self.cells];
        let scale = spread(numbers);
        // Backfitting: each turn takes off the means of the cells, then of the groups.
        for _ in 0..1000 {
            take_off(&mut left, &self.cell, &mut scratch);
            scratch.fill(0.0);
            let mut turn = vec![0.0; effects.len()];
            let moved = take_off(&mut left, &self.group, &mut turn);
            effects.iter_mut().zip(&turn).for_each(|(effect, step)| *effect += step);
            if self.cells == 1 || moved <= 1e-12 * scale {
                break;
            }
        }
        (left, effects)
    }
}

/// Takes the mean of each class off; returns the largest of them, and adds them to `means`.
fn take_off(numbers: &mut [f64], class: &[usize], means: &mut [f64]) -> f64 {
    let mut counts = vec![0.0; means.len()];
    for (x, &c) in numbers.iter().zip(class) {
        counts[c] += 1.0;
        means[c] += (x - means[c]) / counts[c];
    }
    numbers.iter_mut().zip(class).for_each(|(x, &c)| *x -= means[c]);
    means.iter().fold(0.0, |most, mean| mean.abs().max(most))
}

fn spread(numbers: &[f64]) -> f64 {
    let low = numbers.iter().copied().fold(f64::INFINITY, f64::min);
    numbers.iter().copied().fold(f64::NEG_INFINITY, f64::max) - low
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fit_is_that_of_two_way_least_squares() {
        // Arithmetic by hand: cells 0 and 1 differ by 10, groups by 2; the cells hold two to one and one to two.
        let view = View {
            groups: vec!["a".into(), "b".into()],
            group: vec![0, 0, 1, 0, 1, 1],
            cell: vec![0, 0, 0, 1, 1, 1],
            cells: 2,
            ..View::default()
        };
        let exact = [1.0, 1.0, 3.0, 11.0, 13.0, 13.0];
        let (left, effects) = view.fit(&exact);
        assert!(left.iter().all(|x| x.abs() < 1e-9), "{left:?}");
        assert!((effects[1] - effects[0] - 2.0).abs() < 1e-9, "{effects:?}");
        // A step of one brew of the first group and its neighbour keeps both means: it is all residual.
        let (left, _) = view.fit(&[1.5, 0.5, 3.0, 11.0, 13.0, 13.0]);
        assert!((left[0] - 0.5).abs() < 1e-9 && (left[1] + 0.5).abs() < 1e-9, "{left:?}");
    }
}
