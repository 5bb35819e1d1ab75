//! What may go wrong in a simulated log. Each kind has its own fields and is off by default.

use crate::simulate::range::{Count, Range};
use serde::{Deserialize, Serialize};

/// Which weight a disturbance hits.
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

/// Everything that may go wrong, each kind off by default. Ranges of sizes and times are 0 or more; where a kind has `at_s`,
/// instants given there take the place of drawn ones.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Faults {
    /// Rinse, dose and zeroing before the brew.
    pub preparation: Preparation,
    /// One or two samples far off.
    pub knocks: Knocks,
    /// Stretches without samples.
    pub gaps: Gaps,
    /// Vessel off the scale and back.
    pub lifts: Lifts,
    /// Vessel swirled on the scale.
    pub swirls: Swirls,
    /// The zero key between pours.
    pub zeroings: Zeroings,
    /// Slow drift of zero.
    pub drift: Drift,
    /// The reading stands still.
    pub stuck: Stuck,
    /// Rows that come twice or in the wrong order.
    pub stamps: Stamps,
    /// The vessel is taken away at the end.
    pub removal: Removal,
}

impl Faults {
    /// Every kind at least once in each brew.
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
            stamps: Stamps { repeated: [1, 3], doubled: [1, 3], swapped: [1, 3] },
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
    /// Time that the dose takes to fall in, s.
    dose_s: Range = [0.1, 1.0],
    /// Time between two things, s.
    wait_s: Range = [2.0, 6.0],
    /// Probability that the zero key acts on the load and so shows through the lag; 0 to 1.
    through_lag: f64 = 0.0,
}}

fault! {
/// One or two samples far off.
Knocks {
    /// How many, where no instants are given.
    count: Count = [0, 0],
    /// Instants, s; empty: anywhere.
    at_s: Vec<f64> = Vec::new(),
    /// Size, g; either sign.
    size_g: Range = [5.0, 60.0],
    /// How many samples each concerns.
    samples: Count = [1, 2],
    /// Probability that a knock acts on the load and so shows through the lag; 0 to 1.
    through_lag: f64 = 0.0,
    /// Which weight.
    hits: Hits = Hits::Both,
}}

fault! {
/// Stretches without samples.
Gaps {
    /// How many, where no instants are given.
    count: Count = [0, 0],
    /// Instants at which they begin, s; empty: anywhere.
    at_s: Vec<f64> = Vec::new(),
    /// Duration, s.
    duration_s: Range = [0.4, 1.2],
}}

fault! {
/// Vessel off the scale and back, while no water is poured.
Lifts {
    /// How many, where no instants are given.
    count: Count = [0, 0],
    /// Instants at which they begin, s; empty: while nothing is poured.
    at_s: Vec<f64> = Vec::new(),
    /// How far the reading falls, g.
    fall_g: Range = [200.0, 600.0],
    /// Time off the scale, s.
    duration_s: Range = [2.0, 6.0],
    /// Time to take off and to put down, s.
    hand_s: Range = [0.05, 0.3],
    /// Probability that the reading swings before and after; 0 to 1.
    swirl: f64 = 1.0,
    /// How far it swings, g.
    swirl_g: Range = [3.0, 20.0],
    /// How fast it swings, Hz.
    swirl_hz: Range = [1.0, 3.0],
    /// For how long on each side, s.
    swirl_s: Range = [0.3, 1.2],
    /// Probability that it is not wholly off but swung over the scale; 0 to 1.
    swung: f64 = 0.0,
    /// How far the reading swings then, g.
    swung_g: Range = [5.0, 60.0],
    /// What the vessel weighs less afterwards, g: drained while it was off.
    loses_g: Range = [0.0, 0.0],
    /// Probability that it acts on the load and so shows through the lag; 0 to 1.
    through_lag: f64 = 1.0,
    /// Which weight.
    hits: Hits = Hits::Water,
}}

fault! {
/// Vessel swirled on the scale, while no water is poured.
Swirls {
    /// How many, where no instants are given.
    count: Count = [0, 0],
    /// Instants at which they begin, s; empty: while nothing is poured.
    at_s: Vec<f64> = Vec::new(),
    /// How far the reading swings, g.
    size_g: Range = [3.0, 20.0],
    /// How fast it swings, Hz.
    hz: Range = [1.0, 3.0],
    /// For how long, s.
    duration_s: Range = [2.0, 4.0],
    /// Probability that it acts on the load and so shows through the lag; 0 to 1.
    through_lag: f64 = 1.0,
    /// Which weight.
    hits: Hits = Hits::Water,
}}

fault! {
/// The zero key between pours.
Zeroings {
    /// How many, where no instants are given.
    count: Count = [0, 0],
    /// Instants, s; empty: while nothing is poured.
    at_s: Vec<f64> = Vec::new(),
    /// Probability that the zero key acts on the load and so shows through the lag; 0 to 1.
    through_lag: f64 = 0.0,
    /// Which weight.
    hits: Hits = Hits::Water,
}}

fault! {
/// Slow drift of zero.
Drift {
    /// Furthest that the zero gets from where it was, g; either sign.
    reach_g: Range = [0.0, 0.0],
    /// Probability that it walks at random; otherwise it runs straight. 0 to 1.
    walk: f64 = 0.5,
    /// Which weight.
    hits: Hits = Hits::Both,
}}

fault! {
/// The reading stands still.
Stuck {
    /// How many, where no instants are given.
    count: Count = [0, 0],
    /// Instants at which they begin, s; empty: anywhere.
    at_s: Vec<f64> = Vec::new(),
    /// Duration, s.
    duration_s: Range = [0.5, 1.5],
    /// Which weight.
    hits: Hits = Hits::Water,
}}

fault! {
/// Rows that come twice or in the wrong order.
Stamps {
    /// How many rows come twice, with the same stamp and the same readings.
    repeated: Count = [0, 0],
    /// How many rows share their stamp with the row before but not its readings.
    doubled: Count = [0, 0],
    /// How many pairs of neighbours change places.
    swapped: Count = [0, 0],
}}

fault! {
/// The vessel is taken away at the end, and the log goes on for a while.
Removal {
    /// Probability; 0 to 1.
    share: f64 = 0.0,
    /// How far the reading falls, g.
    fall_g: Range = [200.0, 600.0],
    /// Time in the log afterwards, s.
    after_s: Range = [2.0, 10.0],
}}
