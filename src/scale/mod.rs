//! In: a log in which masses were put on the scale at once, or taken off. Out: a [`Calibration`]: its lag, its noise and its readout step.

pub(crate) mod calibrate;
pub(crate) mod response;

pub use calibrate::LoadStep;
