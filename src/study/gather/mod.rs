//! In: many `Brew`s, or a table of numbers. Out: a `Study`: one row per brew, with its factors and
//! its numbers, for comparisons of kettles, grinders, brewers and people.

pub(crate) mod brews;
pub(crate) mod columns;
pub(crate) mod design;
pub(crate) mod study;
pub(crate) mod tabled;
