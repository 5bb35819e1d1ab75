//! In: many [`Brew`](crate::Brew)s, or a table of numbers. Out: a [`Study`]: one row a brew, with its factors and its numbers, from which
//! questions about kettles, grinders, brewers and people are answered.

mod agreement;
mod asked;
mod cells;
#[cfg(test)]
mod coverage;
mod crossed;
mod design;
mod gather;
mod icc;
mod interval;
mod oneway;
mod reml;
mod repeatability;
mod study;
mod tabled;
pub use agreement::{Agreement, agreement};
pub use crossed::{Component, Components, Crossed, crossed};
pub use design::{Design, Layout};
pub use gather::{Pours, gather};
pub use icc::{Icc, IccForm, icc};
pub use interval::{FTest, Interval};
pub use repeatability::{GroupSpread, Repeatability, repeatability};
pub use study::{Missing, Study, StudyRow, Taken};
