//! Tables: named columns with units.

use serde::Serialize;

/// The values of one column.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Values {
    /// Numbers; NaN is an undefined one, whose reason is in the stage's own result.
    Number(Vec<f64>),
    /// Whole numbers, such as a pour's place in its brew.
    Whole(Vec<i64>),
    /// Texts; empty if unknown.
    Text(Vec<String>),
}

impl Values {
    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        match self {
            Self::Number(v) => v.len(),
            Self::Whole(v) => v.len(),
            Self::Text(v) => v.len(),
        }
    }

    /// Whether there are no rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// One column: its name, which ends in its unit, the unit for metadata, and the values.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Column {
    /// Name such as `mass_g`; the standard deviation of that column is `mass_sd_g`.
    pub name: String,
    /// Unit such as `g/s`; empty for a text or a count.
    pub unit: String,
    /// A limit of its use, such as that it is an ordinal proxy; mostly empty.
    pub note: String,
    /// The values, one per row.
    pub values: Values,
}

/// Columns of equal length.
///
/// ```
/// use pourline::{Column, Table, Values};
/// let mut table = Table::default();
/// table.push("mass_g", "g", Values::Number(vec![40.1, 60.2]));
/// let mass: &Column = table.column("mass_g").unwrap();
/// assert_eq!((mass.unit.as_str(), table.rows()), ("g", 2));
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Table {
    /// The columns, in order.
    pub columns: Vec<Column>,
}

impl Table {
    /// Number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.columns.first().map_or(0, |c| c.values.len())
    }

    /// The column of that name.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<&Column> {
        self.columns.iter().find(|c| c.name == name)
    }

    /// Adds a column; every column of a table has the same length.
    pub fn push(&mut self, name: &str, unit: &str, values: Values) {
        debug_assert!(self.columns.is_empty() || values.len() == self.rows());
        self.columns.push(Column { name: name.into(), unit: unit.into(), note: String::new(), values });
    }

    /// Sets the note of the column of that name.
    pub fn note(&mut self, name: &str, note: &str) {
        self.columns
            .iter_mut()
            .filter(|column| column.name == name)
            .for_each(|column| column.note = note.into());
    }
}
