//! Worlds in which the assumptions of a flow model are false: logs of hands of many kinds, made without the library.
//!
//! In: a kind of hand, a setting of the scale, a seed. Out: stamps and readings of one log, and the true pours, by the
//! definitions, on a grid of 1 ms.

#![allow(dead_code, unused_imports, reason = "each program that includes this module uses a part of it")]

mod hands;
mod more_hands;
mod random;
mod reading;
mod stamped;
mod truth;

pub use hands::{Hand, Kind, Opening, Ramps, Shape, SingleDrop, kinds, shaped};
pub use random::Random;
pub use reading::{Made, Setting, log};
pub use stamped::{Stamped, Stamping, stamped};
pub use truth::{TruePour, true_pours};

/// Steps of the grid per second.
pub const GRID_HZ: f64 = 1000.0;
