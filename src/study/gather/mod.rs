//! In: many [`Brew`](crate::Brew)s, or a table of numbers. Out: a [`Study`]: one row a brew, with its factors and its
//! numbers, from which questions about kettles, grinders, brewers and people are answered.

pub(crate) mod brews;
pub(crate) mod columns;
pub(crate) mod design;
pub(crate) mod study;
pub(crate) mod tabled;
