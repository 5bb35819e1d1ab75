//! In: a [`Recipe`] and a seed. Out: a [`Log`](crate::Log) as a scale would have written it, and the [`Truth`].
//!
//! The true flow is a function of time, taken on a grid of 2 ms; everything else follows from it: water by integration,
//! beverage by a bed that holds back and drains, readings by the lag, noise and steps of a scale, and what goes wrong.

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
