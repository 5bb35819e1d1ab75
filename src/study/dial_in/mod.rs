//! In: a `Study`, or settings with the measured values. Out: a line and a monotone curve, and the
//! setting for a target with its interval.

pub(crate) mod columns;
pub(crate) mod dial;
pub(crate) mod dialled;
pub(crate) mod fieller;
pub(crate) mod monotone;
pub(crate) mod straight;
pub(crate) mod target;
