//! In: values with a row label and a column label each. Out: `Cells`: number, mean and sum of squares of each cell
//! that is not empty.
//!
//! These are sufficient statistics of a model of rows, columns and cells.

use crate::error::Result;
use crate::estimate::Estimate;
use crate::study::repeatability::interval::MeanSquare;
use crate::study::repeatability::oneway::{check, levels, total};
use std::collections::BTreeMap;

/// One cell: its row and column, and the statistics of its values. `mean` is relative to the first value.
pub(super) struct Cell {
    pub(super) row: usize,
    pub(super) column: usize,
    pub(super) size: f64,
    pub(super) mean: f64,
}

/// Values in a two-way table.
pub(super) struct Cells {
    pub(super) rows: Vec<String>,
    pub(super) columns: Vec<String>,
    pub(super) cells: Vec<Cell>,
    /// Number of values.
    pub(super) size: f64,
    /// Sum of squares of the values about the means of their cells.
    pub(super) squares: f64,
    /// Mean measurement variance of the values.
    pub(super) own_variance: f64,
    /// The first value.
    pub(super) origin: f64,
}

/// Mean squares of rows, columns and interaction, on the scale of single values.
pub(super) struct Squares {
    pub(super) rows: MeanSquare,
    pub(super) columns: MeanSquare,
    pub(super) rest: MeanSquare,
}

impl Cells {
    pub(super) fn of<R: AsRef<str>, C: AsRef<str>>(
        values: &[Estimate],
        (rows_name, rows): (&str, &[R]),
        (columns_name, columns): (&str, &[C]),
    ) -> Result<Self> {
        check(values, &[(rows_name, rows.len()), (columns_name, columns.len())])?;
        let ((rows, row_of), (columns, column_of)) = (levels(rows), levels(columns));
        let origin = values.first().map_or(0.0, |first| first.value);
        let mut held: BTreeMap<(usize, usize), Vec<f64>> = BTreeMap::new();
        for (i, value) in values.iter().enumerate() {
            held.entry((row_of[i], column_of[i])).or_default().push(value.value - origin);
        }
        let mut squares = 0.0;
        let mut cells = Vec::with_capacity(held.len());
        for ((row, column), held) in held {
            let size = held.len() as f64;
            let mean = total(held.iter().copied()) / size;
            squares += total(held.iter().map(|x| (x - mean).powi(2)));
            cells.push(Cell { row, column, size, mean });
        }
        let size = values.len() as f64;
        let own_variance = values.iter().map(|v| v.sd * v.sd).sum::<f64>() / size;
        Ok(Self { rows, columns, cells, size, squares, own_variance, origin })
    }

    /// Whether no cell is empty.
    pub(super) fn is_full(&self) -> bool {
        self.cells.len() == self.rows.len() * self.columns.len()
    }

    /// The number of values in each cell, if it is the same in all and none is empty.
    pub(super) fn each(&self) -> Option<f64> {
        let each = self.cells.first()?.size;
        (self.is_full() && self.cells.iter().all(|cell| cell.size == each)).then_some(each)
    }

    /// The two-way analysis of variance of a full table with `each` values per cell.
    pub(super) fn squares(&self, each: f64) -> Squares {
        let (n, k) = (self.rows.len() as f64, self.columns.len() as f64);
        let (mut row, mut column) = (vec![0.0; self.rows.len()], vec![0.0; self.columns.len()]);
        for cell in &self.cells {
            row[cell.row] += cell.mean / k;
            column[cell.column] += cell.mean / n;
        }
        let mean = total(row.iter().copied()) / n;
        let about = |means: &[f64]| total(means.iter().map(|m| (m - mean).powi(2)));
        let rest = total(self.cells.iter().map(|c| (c.mean - row[c.row] - column[c.column] + mean).powi(2)));
        let square = |sum: f64, degrees: f64| MeanSquare { value: each * sum / degrees, degrees };
        Squares {
            rows: square(k * about(&row), n - 1.0),
            columns: square(n * about(&column), k - 1.0),
            rest: square(rest, (n - 1.0) * (k - 1.0)),
        }
    }
}
