//! What many logs of a kind of hand gave, in tables and against the bars.

pub mod bars;
pub mod calibrated;
pub mod scales;
pub mod show;
pub mod tables;
mod tally;

pub use tally::Tally;
