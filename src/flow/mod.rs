//! In: a [`Trace`] and its [`Segments`]. Out: a [`Flow`] on the log's own stamps, with sd, the scale's
//! lag taken out.
//!
//! The flow is that of the fitted bursts plus what a smoother finds of the hand's unsteadiness around them; at rest nearly none is
//! expected. Its sd joins the smoother's with what the uncertain edges add.

pub(crate) mod smooth;
pub(crate) mod stage;

pub use stage::{Flow, flow};
