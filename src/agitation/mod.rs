//! In: a `Trace`, its `Segments` and `Flow`. Out: an `Agitation`, one row per pour: the stream at the bed, its
//! momentum and energy.
//!
//! All are ordinal proxies: they order pours. No published law gives the depth of a crater in a slurry of coffee: those
//! for scour under falling water are strongly biased even in clean sand (review in AQUA 72(4), 557). Without bore and
//! height, and if the log does not identify the height, only quantities of the flow itself are defined; a height is
//! never assumed.

pub(crate) mod break_up;
pub(crate) mod energy;
pub(crate) mod events;
pub(crate) mod height;
pub(crate) mod impulse;
pub(crate) mod known;
pub(crate) mod mixing;
pub(crate) mod options;
pub(crate) mod peak;
pub(crate) mod pouring;
pub(crate) mod rayleigh;
pub(crate) mod result;
pub(crate) mod stage;
pub(crate) mod stream;
pub(crate) mod time_above;

pub use height::fall_height_m;
