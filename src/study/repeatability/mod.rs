//! In: a `Study`, or values with groups. Out: repeatability of people, kettles or two scales:
//! variances within and between groups, intraclass correlation, crossed random effects, limits of agreement.

pub(crate) mod agreement;
pub(crate) mod asked;
pub(crate) mod cells;
pub(crate) mod columns;
#[cfg(test)]
pub(crate) mod coverage;
pub(crate) mod crossed;
pub(crate) mod icc;
pub(crate) mod interval;
pub(crate) mod oneway;
pub(crate) mod reml;
pub(crate) mod spread;
