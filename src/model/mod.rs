//! In: stamps and readings as arrays. Out: the models of flow, scale and noise, with their filters and
//! smoothers.
//!
//! One set, used by `condition`, `segment`, `metrics`, `bed` and `live`. Nothing here depends on a log or a
//! trace.

pub(crate) mod burst;
pub(crate) mod filter;
pub(crate) mod mixture;
pub(crate) mod noise;
pub(crate) mod rounded_noise;
pub(crate) mod samples;
pub(crate) mod scale;
pub(crate) mod smoother;
pub(crate) mod transitions;
pub(crate) mod trend;
pub(crate) mod zero_walk;
