//! In: a file or arrays. Out: a `Log`: time stamps, the two weight channels, and the metadata of the brew.

pub(crate) mod assemble;
pub(crate) mod check;
pub(crate) mod columns;
pub(crate) mod day_clock;
pub(crate) mod decode;
pub(crate) mod delimited;
pub(crate) mod fields;
pub(crate) mod foreign;
pub(crate) mod guess;
pub(crate) mod item;
pub(crate) mod json;
pub(crate) mod lines;
pub(crate) mod meta;
pub(crate) mod missing;
pub(crate) mod notes;
pub(crate) mod numbers;
pub(crate) mod options;
pub(crate) mod pattern;
pub(crate) mod plain;
pub(crate) mod quantity;
pub(crate) mod read;
pub(crate) mod record;
pub(crate) mod roles;
pub(crate) mod rows;
pub(crate) mod rules;
pub(crate) mod skipped;
pub(crate) mod stamps;
pub(crate) mod survey;
pub(crate) mod units;
pub(crate) mod words;

pub use columns::{Chosen, Pick, choose};
pub use stamps::Stamps;
