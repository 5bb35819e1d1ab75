//! In: a [`Study`](crate::Study), or values with groups. Out: how far brews of one hand, people, kettles or two scales repeat each other: variances
//! within and between, intraclass correlation, crossed random effects, limits of agreement.

mod agreement;
mod asked;
mod cells;
mod columns;
#[cfg(test)]
mod coverage;
mod crossed;
mod icc;
mod interval;
mod oneway;
mod reml;
mod spread;
pub use agreement::{Agreement, agreement};
pub use columns::columns;
pub use crossed::{Component, Components, Crossed, crossed};
pub use icc::{Icc, IccForm, icc};
pub use interval::{FTest, Interval};
pub use spread::{GroupSpread, Repeatability, repeatability};
