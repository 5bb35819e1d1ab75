//! In: a log in which loads were added or removed at once. Out: a `Calibration`: the lag, the noise and the readout
//! resolution of a scale.

pub(crate) mod calibrate;
pub(crate) mod response;

pub use calibrate::LoadStep;
