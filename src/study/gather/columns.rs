//! Meaning of the columns of this stage's tables.

use crate::rows::columns;

columns! {
    /// Name of the missing value.
    what {},
    /// Reason why it is missing.
    reason {},
}
