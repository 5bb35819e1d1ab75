//! Worlds in which the assumptions of a flow model are false: logs of hands of many kinds, made without the library.
//!
//! In: a kind of hand, a kind of scale and its setting, a seed. Out: stamps and readings of one log, and the true
//! pours, by the definitions, on a grid of 1 ms.

#![allow(dead_code, unused_imports, reason = "each program that includes this module uses a part of it")]

mod around;
mod hands;
mod masses;
mod more_hands;
mod placed;
mod random;
mod reading;
mod responses;
mod scales;
mod stamped;
mod truth;

pub use around::Around;
pub use hands::{Hand, Kind, Opening, Ramps, Shape, SingleDrop, kinds, shaped};
pub use masses::{Calibrating, PutOn, Way, masses};
pub use placed::{Placed, Put};
pub use random::Random;
pub use reading::{Made, Setting, log, named};
pub use responses::Response;
pub use scales::{FollowedZero, Instrument, Readout, Scale, scales};
pub use stamped::{Stamped, Stamping, stamped};
pub use truth::{TruePour, true_pours};

/// Steps of the grid per second.
pub const GRID_HZ: f64 = 1000.0;
