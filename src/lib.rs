//! pourline turns the timestamped weights of a hand-poured coffee into pours, rests, flow rate and extraction.
//!
//! `Log -> condition -> Trace -> segment -> Segments -> flow -> Flow -> extraction -> Brew`

#[cfg(feature = "python")]
mod bindings;
mod error;
mod estimate;
mod math;
mod table;

pub mod brew;
pub mod condition;
pub mod extraction;
pub mod flow;
pub mod log;
pub mod segment;
pub mod simulate;
pub mod water;

pub use brew::{Brew, Options, analyze, analyze_many};
pub use condition::{
    CalibrateOptions, Calibration, Channel, ChannelTrace, ConditionOptions, Event, EventKind, Flag, Trace,
    calibrate, condition,
};
pub use error::{Error, Result};
pub use estimate::{Estimate, Maybe, Undefined};
pub use extraction::{BeverageSource, BudgetRow, Convention, Extraction, ExtractionOptions, extraction};
pub use flow::{Flow, flow};
pub use log::{Log, MassUnit, Meta, Missing, ReadOptions, TimeUnit};
pub use segment::{LagSource, Pour, Rest, SegmentOptions, Segments, segment};
pub use simulate::{Level, Recipe, Score, Truth, score, simulate};
pub use table::{Column, Table, Values};

/// The examples of the readme run as tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
pub struct Readme;
