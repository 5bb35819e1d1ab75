//! Meaning of the columns of this stage's table.

use crate::rows::columns;

columns! {
    /// File of the brew's log: the row is joined to it by this name.
    file {},
    /// Place of the brew in the planned order, from 1.
    planned_order {
        reference: "the schedule",
    },
}
