//! The conditioned samples of a log, with a flag each and the list of events.

use crate::estimate::Estimate;
use crate::log::meta::Meta;
use serde::{Deserialize, Serialize};

/// Which weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Channel {
    /// Water poured.
    Water,
    /// Beverage collected.
    Beverage,
}

/// Use of one sample. Only [`Flag::Used`] samples enter an estimate; the others are shown in pictures.
///
/// ```
/// use pourline::{ConditionOptions, Flag, Log, Meta, Missing, condition};
/// let (time_s, water_g) = (vec![0.0, 0.1, 0.2, 0.3], vec![0.0, f64::NAN, 0.1, 0.0]);
/// let log = Log::with_missing(time_s, Some(water_g), None, Meta::default(), Missing::Flag)?;
/// let trace = condition(&log, &ConditionOptions::default())?;
/// assert_eq!(trace.water.unwrap().flag[1], Flag::Missing);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Flag {
    /// Used as it is, up to the offsets listed as events.
    Used,
    /// No reading.
    Missing,
    /// Same stamp as an earlier sample.
    Duplicate,
    /// One or a few samples far off, or one sample that is inconsistent with its neighbours.
    Knock,
    /// Vessel off the scale, or being swirled.
    Lift,
    /// The reading settles after a load was added or removed, or after the zero key.
    Settling,
    /// The reading did not move while the water did.
    Stuck,
    /// Before the zeroing that starts the brew.
    Preparation,
    /// After the vessel was removed for good.
    Removed,
}

/// Kind of event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EventKind {
    /// One or a few samples far off.
    Knock,
    /// Vessel off and back.
    Lift,
    /// The reading swings while the vessel is swirled on the scale; the mass is the same before and after.
    Swirl,
    /// The zero key.
    Zeroing,
    /// No samples for longer than `gap_s`.
    Gap,
    /// Missing readings.
    Missing,
    /// The reading did not move while the water did.
    Stuck,
    /// A load added or removed: a jump faster than any pour.
    Placed,
    /// The vessel was removed and did not come back.
    Removed,
    /// Stamps out of order, put in order.
    Reordered,
    /// Stamps that occur twice.
    Duplicate,
    /// A slow drift of zero, subtracted.
    Drift,
    /// Rinse and set-up before the brew.
    Preparation,
}

/// One thing that the scale did and the hand did not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// What kind.
    pub kind: EventKind,
    /// On which weight.
    pub channel: Channel,
    /// First instant, s.
    pub start_s: f64,
    /// Last instant, s.
    pub end_s: f64,
    /// Size, g: how far the reading moved; 0 where that has no meaning (gap, reordered).
    pub size_g: f64,
    /// Number of samples concerned.
    pub samples: usize,
    /// What was done about it, in a sentence.
    pub action: String,
}

/// One weight after conditioning. All vectors are as long as `Trace::time_s`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelTrace {
    /// The reading with offsets (zeroing, lift, things put down) and drift taken out, g; 0 at the start of the brew.
    /// NaN where the sample is [`Flag::Missing`]; not smoothed, not filled.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub mass_g: Vec<f64>,
    /// What became of each sample.
    pub flag: Vec<Flag>,
    /// Standard deviation of the noise at rest, quantisation included, g.
    pub noise_sd_g: Estimate,
    /// Step of the readout, g; 0 where none is seen.
    pub step_g: f64,
    /// Drift of zero that was taken out, g/s; sd tells how well it is known.
    pub drift_g_per_s: Estimate,
    /// Intensity of the walk of zero that its rests show, g2/s.
    #[serde(default)]
    pub(crate) walk_g2_per_s: f64,
}

/// A conditioned log: stamps in order, each weight with its flags, the events. The log's own samples, none added.
///
/// ```
/// use pourline::{Channel, ChannelTrace, ConditionOptions, Event, EventKind, Flag, Log, Meta, Trace, condition};
/// // Ten readings a second, 5 g/s poured, and a thump on the table in the middle.
/// let time_s: Vec<f64> = (0..200).map(|i| 0.1 * f64::from(i)).collect();
/// let mut water_g: Vec<f64> = time_s.iter().map(|t| (5.0 * (t - 5.0)).clamp(0.0, 50.0)).collect();
/// water_g[100] += 30.0;
/// let log = Log::new(time_s, Some(water_g), None, Meta::default())?;
/// let trace: Trace = condition(&log, &ConditionOptions::default())?;
/// let water: &ChannelTrace = trace.water.as_ref().unwrap();
/// assert_eq!(water.flag[100], Flag::Knock);
/// let knock: &Event = &trace.events[0];
/// assert_eq!((knock.kind, knock.channel, knock.samples), (EventKind::Knock, Channel::Water, 1));
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Trace {
    /// Stamps in s, never decreasing.
    pub time_s: Vec<f64>,
    /// For each sample its index in the log.
    pub log_index: Vec<usize>,
    /// Usual sampling rate, Hz: one over the median interval.
    pub rate_hz: f64,
    /// Water poured, where it was weighed.
    pub water: Option<ChannelTrace>,
    /// Beverage collected, where it was weighed.
    pub beverage: Option<ChannelTrace>,
    /// All that was found, in order of time.
    pub events: Vec<Event>,
    /// First instant of the brew, s: after the preparation, or the first stamp.
    pub brew_start_s: f64,
    /// The lag that was given, if any, s.
    pub scale_lag_s: Option<Estimate>,
    /// What is known of the brew.
    pub meta: Meta,
}
