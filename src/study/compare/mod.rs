//! In: a `Study`, or values with groups and blocks. Out: differences between groups with their
//! warnings, and the effect of one mean beverage mass on the yields.

pub(crate) mod beverage;
pub(crate) mod blocks;
pub(crate) mod columns;
pub(crate) mod comparison;
pub(crate) mod contrast;
pub(crate) mod contrast_options;
pub(crate) mod contrasted;
pub(crate) mod deal;
pub(crate) mod effect;
pub(crate) mod equivalence;
pub(crate) mod family;
pub(crate) mod inference;
pub(crate) mod overall;
pub(crate) mod pair;
pub(crate) mod people;
pub(crate) mod permute;
pub(crate) mod power;
pub(crate) mod together;
pub(crate) mod two_yields;
pub(crate) mod warnings;
pub(crate) mod welch;
