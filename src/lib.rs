//! pourline turns the timestamped weights of a hand-poured coffee into pours, rests, flow rate and extraction, each number with its sd.
//!
//! `Log -> condition -> Trace -> segment -> Segments -> flow -> Flow -> {measures, agitation, bed} -> extraction -> Brew -> gather -> Study -> {compare, repeatability, dial_in}`
//!
//! Beside the last three stand `plan`, `profile` and `live`: [`Live`] takes samples one by one while a brew is poured.
//!
//! A stage is a module; its name is that of its one function; each takes what the stage before it gives. [`analyze`] does them all.
//!
//! ```
//! use pourline::{Options, Recipe, analyze, simulate};
//!
//! let (log, truth) = simulate(&Recipe::default(), 1)?;
//! let brew = analyze(&log, &Options::default())?;
//! assert_eq!(brew.segments.pours.len(), truth.pours.len());
//! let (first, true_first) = (&brew.segments.pours[0], &truth.pours[0]);
//! assert!((first.mass_g.value - true_first.mass_g).abs() < 0.15);
//! assert!((first.half_rise_s.value - true_first.half_rise_s).abs() < 0.1);
//! # Ok::<(), pourline::Error>(())
//! ```

#[cfg(feature = "python")]
mod bindings;
mod error;
mod estimate;
mod math;
mod table;

pub mod agitation;
pub mod bed;
pub mod brew;
pub mod condition;
pub mod extraction;
pub mod live;
pub mod log;
pub mod metrics;
mod model;
pub mod plan;
pub mod scale;
pub mod segment;
pub mod simulate;
pub mod study;

pub use agitation::{Agitation, AgitationOptions, Arrival, PourAgitation, SpeedSource, Stream, agitation};
pub use bed::{Bed, BedCurve, BedOptions, DrainLaw, FlatBed, PourDrain, bed};
pub use brew::{
    Brew, EdgesByHand, Labelled, LabelledPour, Labels, Options, analyze, analyze_labelled, analyze_many,
};
pub use condition::{Channel, ChannelTrace, ConditionOptions, Event, EventKind, Flag, Trace, condition};
pub use error::{Error, Result};
pub use estimate::{Estimate, Maybe, Undefined};
pub use extraction::{BeverageSource, BudgetRow, Convention, Extraction, ExtractionOptions, extraction};
pub use live::{Live, LiveFlag, LiveState, Now};
pub use log::{Log, MassUnit, Meta, Missing, ReadOptions, TimeUnit};
pub use math::water;
pub use metrics::{Measures, MeasuresOptions, PourMeasures, measures};
pub use plan::{
    ExtraPour, Plan, PlanResult, PlannedPour, PlannedPourResult, Progress, ProgressDay, WithinTolerance,
    progress,
};
pub use scale::{CalibrateOptions, Calibration, LoadStep, calibrate};
pub use segment::{Flow, flow};
pub use segment::{LagSource, Pour, Rest, SegmentOptions, Segments, segment};
pub use simulate::{Level, Recipe, Score, Truth, score, simulate};
pub use study::compare::{
    Comparison, ContrastOptions, Contrasts, MeanBeverage, brews_needed, compare, contrast, difference_seen,
    equivalence, mean_beverage, power_to_see,
};
pub use study::dial_in::{DialOptions, Dialled, dial_in};
pub use study::gather::{Design, Pours, Study, gather};
pub use study::profile::{Align, Axis, Distance, OddOne, Profile, ProfileOptions, distance, profile};
pub use study::repeatability::{
    Agreement, Crossed, Icc, Repeatability, agreement, crossed, icc, repeatability,
};
pub use table::{Column, Table, Values};

/// The examples of the readme run as tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
pub struct Readme;
