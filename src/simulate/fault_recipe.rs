//! Disturbances of a simulated log. Each kind has its own fields and is off by default.

use crate::simulate::range::{Count, Range};
use serde::{Deserialize, Serialize};

/// Which weight a disturbance affects.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hits {
    /// The water weight.
    #[default]
    Water,
    /// The beverage weight.
    Beverage,
    /// Both, each at its own instants.
    Both,
}

macro_rules! fault {
    ($(#[$doc:meta])* $name:ident { $($(#[$field_doc:meta])* $field:ident: $kind:ty = $value:expr,)* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        #[serde(default, deny_unknown_fields)]
        pub struct $name { $($(#[$field_doc])* pub $field: $kind,)* }
        impl Default for $name {
            fn default() -> Self {
                Self { $($field: $value,)* }
            }
        }
    };
}

/// All disturbances, each kind off by default. Ranges of sizes and times are 0 or more. If a kind has `at_s`, the
/// instants given there replace the drawn ones.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Faults {
    /// Rinse, dose and zeroing before the brew.
    pub preparation: Preparation,
    /// One or two samples far off.
    pub knocks: Knocks,
    /// Intervals without samples.
    pub gaps: Gaps,
    /// Vessel off the scale and back.
    pub lifts: Lifts,
    /// Vessel swirled on the scale.
    pub swirls: Swirls,
    /// The zero key between pours.
    pub zeroings: Zeroings,
    /// Slow drift of zero.
    pub drift: Drift,
    /// The reading is stuck.
    pub stuck: Stuck,
    /// Duplicate rows, rows in the wrong order, and stamps that are not the instants of the readings.
    pub stamps: Stamps,
    /// The vessel is removed at the end.
    pub removal: Removal,
}

impl Faults {
    /// Every kind at least once in each brew, but for packets and late stamps, which concern all rows.
    ///
    /// ```
    /// use pourline::{Recipe, simulate, simulate::Faults};
    /// let (log, truth) = simulate(&Recipe { faults: Faults::all(), ..Recipe::default() }, 1)?;
    /// assert!(truth.events.len() > 10);
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn all() -> Self {
        Self {
            preparation: Preparation { share: 1.0, ..Preparation::default() },
            knocks: Knocks { count: [2, 6], ..Knocks::default() },
            gaps: Gaps { count: [1, 2], ..Gaps::default() },
            lifts: Lifts { count: [1, 1], hits: Hits::Both, ..Lifts::default() },
            swirls: Swirls { count: [1, 1], ..Swirls::default() },
            zeroings: Zeroings { count: [1, 1], ..Zeroings::default() },
            drift: Drift { reach_g: [0.3, 1.5], ..Drift::default() },
            stuck: Stuck { count: [1, 2], ..Stuck::default() },
            stamps: Stamps { repeated: [1, 3], doubled: [1, 3], swapped: [1, 3], ..Stamps::default() },
            removal: Removal { share: 1.0, ..Removal::default() },
        }
    }
}

fault! {
/// Rinse, dose and zeroing before the brew.
Preparation {
    /// Probability that there is any; 0 to 1.
    share: f64 = 0.0,
    /// Probability of a rinse; 0 to 1.
    rinse: f64 = 1.0,
    /// Water of the rinse, g.
    rinse_g: Range = [30.0, 100.0],
    /// Flow of the rinse, g/s.
    rinse_flow_g_per_s: Range = [4.0, 12.0],
    /// Probability that the vessel is lifted to pour the rinse away; 0 to 1. Without it the water stays on the scale.
    emptied: f64 = 0.7,
    /// Probability that the dose is put in before the zeroing; 0 to 1.
    dose: f64 = 0.7,
    /// Probability that the zero key is pressed before the dose too; 0 to 1.
    zeroed_twice: f64 = 0.3,
    /// Duration of the dosing, s.
    dose_s: Range = [0.1, 1.0],
    /// Time between two steps of the preparation, s.
    wait_s: Range = [2.0, 6.0],
    /// Probability that the zero key acts on the load, so that the lag applies; 0 to 1.
    through_lag: f64 = 0.0,
}}

fault! {
/// One or two samples far off.
Knocks {
    /// Count, if no instants are given.
    count: Count = [0, 0],
    /// Instants, s; empty: anywhere.
    at_s: Vec<f64> = Vec::new(),
    /// Size, g; either sign.
    size_g: Range = [5.0, 60.0],
    /// Samples per knock.
    samples: Count = [1, 2],
    /// Probability that a knock acts on the load, so that the lag applies; 0 to 1.
    through_lag: f64 = 0.0,
    /// Which weight.
    hits: Hits = Hits::Both,
}}

fault! {
/// Intervals without samples.
Gaps {
    /// Count, if no instants are given.
    count: Count = [0, 0],
    /// Instants at which they begin, s; empty: anywhere.
    at_s: Vec<f64> = Vec::new(),
    /// Duration, s.
    duration_s: Range = [0.4, 1.2],
}}

fault! {
/// Vessel off the scale and back, while no water is poured.
Lifts {
    /// Count, if no instants are given.
    count: Count = [0, 0],
    /// Instants at which they begin, s; empty: while nothing is poured.
    at_s: Vec<f64> = Vec::new(),
    /// Fall of the reading, g.
    fall_g: Range = [200.0, 600.0],
    /// Time off the scale, s.
    duration_s: Range = [2.0, 6.0],
    /// Duration of the lifting and of the putting down, s.
    hand_s: Range = [0.05, 0.3],
    /// Probability that the reading swings before and after; 0 to 1.
    swirl: f64 = 1.0,
    /// Amplitude of the swing, g.
    swirl_g: Range = [3.0, 20.0],
    /// Frequency of the swing, Hz.
    swirl_hz: Range = [1.0, 3.0],
    /// Duration of the swing on each side, s.
    swirl_s: Range = [0.3, 1.2],
    /// Probability that the vessel is swung over the scale instead of lifted clear; 0 to 1.
    swung: f64 = 0.0,
    /// Amplitude of the reading in that case, g.
    swung_g: Range = [5.0, 60.0],
    /// Mass that drains from the vessel while it is off, g.
    loses_g: Range = [0.0, 0.0],
    /// Probability that it acts on the load, so that the lag applies; 0 to 1.
    through_lag: f64 = 1.0,
    /// Which weight.
    hits: Hits = Hits::Water,
}}

fault! {
/// Vessel swirled on the scale, while no water is poured.
Swirls {
    /// Count, if no instants are given.
    count: Count = [0, 0],
    /// Instants at which they begin, s; empty: while nothing is poured.
    at_s: Vec<f64> = Vec::new(),
    /// Amplitude of the swing, g.
    size_g: Range = [3.0, 20.0],
    /// Frequency of the swing, Hz.
    hz: Range = [1.0, 3.0],
    /// Duration, s.
    duration_s: Range = [2.0, 4.0],
    /// Probability that it acts on the load, so that the lag applies; 0 to 1.
    through_lag: f64 = 1.0,
    /// Which weight.
    hits: Hits = Hits::Water,
}}

fault! {
/// The zero key between pours.
Zeroings {
    /// Count, if no instants are given.
    count: Count = [0, 0],
    /// Instants, s; empty: while nothing is poured.
    at_s: Vec<f64> = Vec::new(),
    /// Probability that the zero key acts on the load, so that the lag applies; 0 to 1.
    through_lag: f64 = 0.0,
    /// Which weight.
    hits: Hits = Hits::Water,
}}

fault! {
/// Slow drift of zero.
Drift {
    /// Largest deviation of the zero from its start, g; either sign.
    reach_g: Range = [0.0, 0.0],
    /// Probability of a random walk; otherwise the drift is linear. 0 to 1.
    walk: f64 = 0.5,
    /// Which weight.
    hits: Hits = Hits::Both,
}}

fault! {
/// The reading is stuck.
Stuck {
    /// Count, if no instants are given.
    count: Count = [0, 0],
    /// Instants at which they begin, s; empty: anywhere.
    at_s: Vec<f64> = Vec::new(),
    /// Duration, s.
    duration_s: Range = [0.5, 1.5],
    /// Which weight.
    hits: Hits = Hits::Water,
}}

fault! {
/// Duplicate rows, rows in the wrong order, and stamps that are not the instants of the readings.
Stamps {
    /// Number of rows that are repeated with the same stamp and the same readings.
    repeated: Count = [0, 0],
    /// Number of rows with the stamp of the row before but other readings.
    doubled: Count = [0, 0],
    /// Number of swapped pairs of neighbouring rows.
    swapped: Count = [0, 0],
    /// Number of readings that are handed over together: they are stamped when the last of them is taken.
    packet: Count = [1, 1],
    /// Time by which stamps, or packets, are late, s.
    late_s: Range = [0.0, 0.0],
}}

fault! {
/// The vessel is removed at the end, and the log continues for a while.
Removal {
    /// Probability; 0 to 1.
    share: f64 = 0.0,
    /// Fall of the reading, g.
    fall_g: Range = [200.0, 600.0],
    /// Time in the log afterwards, s.
    after_s: Range = [2.0, 10.0],
}}
