//! In: a log in which masses were put on the scale and taken off. Out: a `Calibration`: the response, the noise and the
//! readout resolution of a scale.

pub(crate) mod calibrate;
pub(crate) mod file;
pub(crate) mod placed;

pub use calibrate::LoadStep;
