//! In: a [`Recipe`] and a seed. Out: a [`Log`](crate::Log) as a scale would have written it, and the [`Truth`].
//!
//! The true flow is a function of time, taken on a grid of 2 ms; everything else follows from it: water by integration,
//! beverage by a bed that holds back and drains, readings by the lag, noise and steps of a scale, and what goes wrong.

mod bed;
mod brewed;
mod check;
mod fault_recipe;
mod faults;
mod hand;
mod level;
mod make;
mod range;
mod recipe;
mod scale;
mod score;
mod setup;
#[cfg(test)]
mod tests;
mod truth;
mod weight;

pub use fault_recipe::{
    Drift, Faults, Gaps, Hits, Knocks, Lifts, Preparation, Removal, Stamps, Stuck, Swirls, Zeroings,
};
pub use level::Level;
pub use make::simulate;
pub use range::{Count, Range};
pub use recipe::{Bed, Hand, PlannedPour, Recipe, Scale, Shape, Weighed};
pub use score::{Errors, Score, score};
pub use truth::{TruePour, Truth};
