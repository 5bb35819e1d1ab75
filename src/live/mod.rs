//! In: samples of a brew, one by one or in slices, while it is poured. Out: `LiveState` at each: flow, water and
//! state, provisional; and at the end the `Brew` that `analyze` makes of the whole log.
//!
//! `watch` combines three parts, each of constant size: `gate` excludes readings that no stream could give, `filter`
//! estimates water and flow through the lag of the scale, and `onset` tests for the start of a pour. `noise` is
//! estimated during the brew. The raw samples are stored, 24 bytes each, for the analysis at the end; a live brew
//! without a log stores none and has no analysis.

pub(crate) mod gate;
pub(crate) mod noise;
pub(crate) mod now;
pub(crate) mod onset;
pub(crate) mod stage;
pub(crate) mod watch;
