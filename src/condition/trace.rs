//! The conditioned samples of a log, with a flag each and the list of events.

use crate::estimate::Estimate;
use crate::log::meta::Meta;
use crate::model::response::ScaleResponse;
use crate::rows::{rows, words};
use serde::{Deserialize, Serialize};

words! {
/// Which weight.
pub enum Channel {
    /// Water poured.
    Water = "water",
    /// Beverage collected.
    Beverage = "beverage",
}
}

words! {
/// What became of one sample. Only [`Flag::Used`] samples enter an estimate; the others are kept for the eye.
///
/// ```
/// use pourline::{ConditionOptions, Flag, Log, Meta, Missing, condition};
/// let (time_s, water_g) = (vec![0.0, 0.1, 0.2, 0.3], vec![0.0, f64::NAN, 0.1, 0.0]);
/// let log = Log::with_missing(time_s, Some(water_g), None, Meta::default(), Missing::Flag)?;
/// let trace = condition(&log, &ConditionOptions::default())?;
/// assert_eq!(trace.water.unwrap().flag[1], Flag::Missing);
/// # Ok::<(), pourline::Error>(())
/// ```
pub enum Flag {
    /// Used as it is, up to the offsets listed as events.
    Used = "used",
    /// No reading.
    Missing = "missing",
    /// Same stamp as an earlier sample, logged twice, or a value that the log repeats.
    Duplicate = "duplicate",
    /// One or a few samples far off, or one sample that fits nothing around it.
    Knock = "knock",
    /// Vessel off the scale, or being swirled.
    Lift = "lift",
    /// The reading is moved by something being put on or taken off, or by the zero key, and is still settling.
    Settling = "settling",
    /// The reading did not move while the water did.
    Stuck = "stuck",
    /// Before the zeroing that starts the brew.
    Preparation = "preparation",
    /// After the vessel was taken away for good.
    Removed = "removed",
    /// Of another brew in the same log.
    NextBrew = "next_brew",
}
}

words! {
/// What kind of event.
pub enum EventKind {
    /// One or a few samples far off.
    Knock = "knock",
    /// Vessel off and back.
    Lift = "lift",
    /// The reading swings while the vessel is swirled on the scale; the mass is the same before and after.
    Swirl = "swirl",
    /// The zero key.
    Zeroing = "zeroing",
    /// No samples for longer than `gap_s`.
    Gap = "gap",
    /// Missing readings.
    Missing = "missing",
    /// The reading did not move while the water did.
    Stuck = "stuck",
    /// Something put on or taken off: a jump faster than any pour.
    Placed = "placed",
    /// The vessel was taken away and did not come back.
    Removed = "removed",
    /// Stamps out of order, put in order.
    Reordered = "reordered",
    /// Stamps or packets that occur twice.
    Duplicate = "duplicate",
    /// Stamps that are not the instants of the readings, replaced.
    Retimed = "retimed",
    /// A slow drift of zero, taken out.
    Drift = "drift",
    /// Rinse and set-up before the brew.
    Preparation = "preparation",
    /// Another brew begins in the same log.
    NextBrew = "next_brew",
}
}

rows! { $
/// One thing that the scale did and the hand did not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// What kind, in a word.
    pub kind: EventKind,
    /// On which weight: `water` or `beverage`.
    pub channel: Channel,
    /// First instant, s.
    pub start_s: f64,
    /// Last instant, s.
    pub end_s: f64,
    /// Size, g: how far the reading moved; 0 if that has no meaning, as for a gap.
    pub size_g: f64,
    /// Number of samples concerned.
    pub samples: usize,
    /// What was done about it, in a sentence.
    pub action: String,
}
}

rows! { $
/// One weight after conditioning; each array has the trace's length.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelTrace {
    /// The reading with offsets and drift taken out, g; NaN if it is missing; neither smoothed nor filled.
    ///
    /// 0 at the start of the brew. The offsets are those of zeroing, lift and things put down.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub mass_g: Vec<f64>,
    /// What became of each sample, an array of words.
    ///
    /// `used`, `missing`, `duplicate`, `knock`, `lift`, `settling`, `stuck`, `preparation`, `removed` or
    /// `next_brew`.
    pub flag: Vec<Flag>,
    /// Standard deviation of the noise at rest, quantisation included, g.
    pub noise_sd_g: Estimate,
    /// Step of the readout, g; 0 if none is seen.
    pub step_g: f64,
    /// Drift of zero that was taken out, g/s.
    pub drift_g_per_s: Estimate,
    /// Intensity of the walk of zero that its rests show, g2/s.
    #[serde(default)]
    pub(crate) walk_g2_per_s: f64,
}
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

rows! { $
/// A conditioned log: stamps in order, each weight with its flags, and the events. The log's own samples, none added.
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
    /// Instants of the readings on the log's clock, s, never decreasing: its stamps, or restored from them.
    pub time_s: Vec<f64>,
    /// For each sample its index in the log.
    pub log_index: Vec<usize> { hidden },
    /// Usual sampling rate, Hz: one over the median interval.
    pub rate_hz: f64,
    /// Standard deviation of the times, if they were restored, s; 0 for times that are the log's stamps.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub time_sd_s: f64,
    /// Water poured; None if it was not weighed.
    pub water: Option<ChannelTrace>,
    /// Beverage collected; None if it was not weighed.
    pub beverage: Option<ChannelTrace>,
    /// All that was found, in order of time.
    pub events: Vec<Event>,
    /// First instant of the brew, s: after the preparation, or the first stamp.
    pub brew_start_s: f64,
    /// How the scale shows a load, if that was given.
    pub scale: Option<ScaleResponse>,
    /// What is known of the brew.
    pub meta: Meta,
}
}
