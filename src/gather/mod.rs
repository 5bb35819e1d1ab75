//! In: many [`Brew`](crate::Brew)s, or a table of numbers. Out: a [`Study`]: one row a brew, with its factors and its numbers, from which
//! questions about kettles, grinders, brewers and people are answered.

mod brews;
mod columns;
mod design;
mod study;
mod tabled;
pub use brews::{Pours, gather};
pub use columns::columns;
pub use design::{Design, Layout};
pub use study::{Missing, Study, StudyRow, Taken};
