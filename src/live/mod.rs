//! In: samples of a brew, one by one or in slices, while it is poured. Out: [`LiveState`] at each: flow, water and
//! state, provisional; and at the end the [`Brew`] that [`analyze`] makes of the whole log.
//!
//! `watch` puts three parts together, each of constant size: `gate` sets aside what no stream could have given,
//! `filter` follows water and flow through the lag of the scale, `onset` tests whether a pour has begun; `noise` is
//! learnt on the way. The raw samples are kept beside them, 24 bytes each, for the whole analysis at the end; a
//! without_log watch keeps none and has no end.

pub(crate) mod gate;
pub(crate) mod noise;
pub(crate) mod now;
pub(crate) mod onset;
pub(crate) mod stage;
pub(crate) mod watch;
