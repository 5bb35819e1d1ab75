//! In: many brews, or a table of numbers. Out: whether kettles, grinders, brewers or people differ, how far brews repeat each other,
//! which setting meets a target, and the mean flow of a group.

pub mod compare;
pub mod dial_in;
pub mod gather;
pub mod profile;
pub mod repeatability;
