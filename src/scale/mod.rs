//! In: a log in which masses were put on the scale and taken off. Out: a `Calibration`: the response, the noise and the
//! readout resolution of a scale, and how far it is off.

pub(crate) mod calibrate;
pub(crate) mod curves;
pub(crate) mod file;
pub(crate) mod known;
pub(crate) mod placed;
pub(crate) mod rest;
pub(crate) mod stamps;

pub use calibrate::LoadStep;
pub use curves::CalibrationCurves;
pub use known::Linearity;
pub use stamps::Stamps;
