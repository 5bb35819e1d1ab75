//! In: a `Recipe` and a seed. Out: a simulated `Log`, and the `Truth`.
//!
//! The true flow is a function of time on a grid of 2 ms. The water is its integral. The beverage follows from a bed
//! with holdup and drainage. The readings follow from the lag, the noise and the resolution of a scale, and from
//! disturbances.

pub(crate) mod bed;
pub(crate) mod brewed;
pub(crate) mod check;
pub(crate) mod fault_recipe;
pub(crate) mod faults;
pub(crate) mod hand;
pub(crate) mod level;
pub(crate) mod make;
pub(crate) mod range;
pub(crate) mod recipe;
pub(crate) mod scale;
pub(crate) mod score;
pub(crate) mod setup;
#[cfg(test)]
pub(crate) mod tests;
pub(crate) mod truth;
pub(crate) mod weight;

pub use fault_recipe::{
    Drift, Faults, Gaps, Hits, Knocks, Lifts, Preparation, Removal, Stamps, Stuck, Swirls, Zeroings,
};
pub use range::{Count, Range};
pub use recipe::{Bed, Hand, PlannedPour, Scale, Shape, Weighed};
pub use score::Errors;
pub use truth::TruePour;
