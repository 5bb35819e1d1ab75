//! What is known of the columns of this stage's tables.

use crate::rows::columns;

columns! {
    /// What is missing.
    what {},
    /// Why it is missing.
    reason {},
}
