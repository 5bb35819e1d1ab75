//! In: stamps and readings as arrays. Out: the models of flow, scale and noise, with their filters and
//! smoothers.
//!
//! One set, used by `condition`, `segment`, `metrics`, `bed` and `live`. Nothing here depends on a log or a
//! trace.

pub(crate) mod belief;
pub(crate) mod burst;
pub(crate) mod hand;
pub(crate) mod kept;
pub(crate) mod lanes;
pub(crate) mod leap;
pub(crate) mod mixture;
pub(crate) mod noise;
pub(crate) mod pack;
pub(crate) mod recorded;
pub(crate) mod response;
pub(crate) mod rounded_noise;
pub(crate) mod samples;
pub(crate) mod trend;
pub(crate) mod window;
pub(crate) mod zero_walk;
