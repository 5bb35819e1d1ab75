//! In: factors and their levels, repeats and days. Out: a [`Schedule`]: the brews of a study in a balanced random
//! order.

pub(crate) mod columns;
pub(crate) mod design;
pub(crate) mod squares;
