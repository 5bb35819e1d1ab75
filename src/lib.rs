//! pourline turns the timestamped weights of a hand-poured coffee into pours, rests, flow rate and extraction, each
//! number with its sd.
//!
//! `Log -> condition -> Trace -> segment -> Segments -> flow -> Flow -> {measures, agitation, bed} -> extraction ->
//! Brew -> gather -> Study -> {compare, repeatability, dial_in}`
//!
//! Beside the last three stand `plan`, `profile` and `live`: [`Live`] takes samples one by one while a brew is poured.
//!
//! A stage is a module; its name is that of its one function; each takes what the stage before it gives. [`analyze`]
//! does them all.
//!
//! ```
//! use pourline::{Options, Recipe, analyze, simulate};
//!
//! let (log, truth) = simulate(&Recipe::default(), 1)?;
//! let brew = analyze(&log, &Options::default())?;
//! assert_eq!(brew.segments.pours.len(), truth.pours.len());
//! let (first, true_first) = (&brew.segments.pours[0], &truth.pours[0]);
//! assert!((first.mass_g.value - true_first.mass_g).abs() < 0.15);
//! assert!((first.half_rise_s.as_ref().unwrap().value - true_first.half_rise_s).abs() < 0.1);
//! # Ok::<(), pourline::Error>(())
//! ```

#[cfg(feature = "python")]
mod bindings;
mod error;
mod estimate;
mod math;
mod rows;
mod table;

pub mod agitation;
mod bed;
mod brew;
mod condition;
pub mod extraction;
mod live;
pub mod log;
mod metrics;
mod model;
mod plan;
pub mod scale;
mod segment;
pub mod simulate;
pub mod study;

pub use agitation::break_up::Arrival;
pub use agitation::options::AgitationOptions;
pub use agitation::result::{Agitation, PourAgitation, SpeedSource};
pub use agitation::stage::agitation;
pub use agitation::stream::Stream;
pub use bed::darcy::FlatBed;
pub use bed::options::BedOptions;
pub use bed::result::{Bed, BedCurve, DrainLaw, PourDrain};
pub use bed::stage::bed;
pub use brew::analyze::{analyze, analyze_labelled};
pub use brew::labels::{EdgesByHand, Labelled, LabelledPour, Labels};
pub use brew::many::{analyze_all, analyze_many};
pub use brew::options::Options;
pub use brew::result::Brew;
pub use brew::scale_resolution::{ScaleResolution, scale_resolution};
pub use condition::options::ConditionOptions;
pub use condition::split::split;
pub use condition::stage::condition;
pub use condition::trace::{Channel, ChannelTrace, Event, EventKind, Flag, Trace};
pub use error::{Error, Result};
pub use estimate::{Estimate, Maybe, Undefined};
pub use extraction::options::ExtractionOptions;
pub use extraction::result::{BeverageSource, BudgetRow, Convention, Extraction};
pub use extraction::stage::extraction;
pub use live::now::{LiveFlag, LivePhase, LiveState};
pub use live::stage::Live;
pub use log::meta::Meta;
pub use log::missing::Missing;
pub use log::options::ReadOptions;
pub use log::record::Log;
pub use log::rules::{ReadRule, ReadRules};
pub use log::units::{MassUnit, TimeUnit};
pub use math::water;
pub use metrics::options::MetricsOptions;
pub use metrics::result::{Metrics, PourMetrics};
pub use metrics::stage::metrics;
pub use model::response::{ResponseFamily, ResponseSource, ScaleResponse};
pub use plan::control::{ControlChart, ControlPoint, control_chart};
pub use plan::habit::{Habit, habits};
pub use plan::planned::Plan;
pub use plan::pour::PlannedPour;
pub use plan::progress::{Progress, ProgressChange, ProgressDay, progress};
pub use plan::result::{ExtraPour, PlanResult, PlannedPourResult};
pub use plan::score::PlanItem;
pub use plan::within::WithinTolerance;
pub use rows::{Cell, Kind, Row, Rows};
pub use scale::calibrate::{CalibrateOptions, Calibration, calibrate};
pub use segment::covariance::Covariance;
pub use segment::flow::{Flow, flow};
pub use segment::options::SegmentOptions;
pub use segment::pour::{FlowRegime, Pour, Rest, Segments};
pub use segment::spectrum::FlowSpectrum;
pub use segment::stage::segment;
pub use simulate::level::Level;
pub use simulate::make::simulate;
pub use simulate::recipe::Recipe;
pub use simulate::score::{Score, score};
pub use simulate::truth::Truth;
pub use study::compare::beverage::mean_beverage;
pub use study::compare::comparison::{Comparison, compare};
pub use study::compare::contrast::contrast;
pub use study::compare::contrast_options::ContrastOptions;
pub use study::compare::contrasted::Contrasts;
pub use study::compare::equivalence::equivalence;
pub use study::compare::power::{
    PowerCurve, PowerOptions, minimum_detectable_difference, power, power_curve, sample_size,
};
pub use study::compare::two_yields::MeanBeverage;
pub use study::dial_in::dial::{DialOptions, dial_in};
pub use study::dial_in::dialled::SettingFit;
pub use study::gather::brews::{Pours, gather};
pub use study::gather::design::Design;
pub use study::gather::study::Study;
pub use study::profile::difference::profile_difference;
pub use study::profile::different::ProfileDifference;
pub use study::profile::distance::{Distance, distance};
pub use study::profile::options::{Align, Axis, ProfileOptions};
pub use study::profile::outlier::Outlier;
pub use study::profile::result::Profile;
pub use study::profile::stage::profile;
pub use study::repeatability::agreement::{Agreement, agreement};
pub use study::repeatability::crossed::{Crossed, crossed};
pub use study::repeatability::icc::{Icc, icc};
pub use study::repeatability::spread::{Repeatability, repeatability};
pub use study::schedule::design::{Schedule, design};
pub use table::{Column, Table, Values};

/// The examples of the readme run as tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
pub struct Readme;
