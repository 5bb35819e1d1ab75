//! In: a [`Trace`], its [`Segments`] and [`Flow`]. Out: an [`Agitation`], a row a pour: how the stream arrived and what it brought.
//!
//! All of it are ordinal proxies: they put pours in an order. How deep a stream digs into a slurry of coffee no published law tells: those for
//! scour under falling water are strongly biased even in clean sand (review in AQUA 72(4), 557). Without bore and height, and where the
//! log does not tell the height, only what the flow itself says is given; a height is never made up.

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
