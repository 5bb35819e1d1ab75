//! In: a [`Log`]. Out: a [`Trace`]: what the scale did that the hand did not, found, flagged and listed.
//!
//! Each concern has its file. Stamps are put in order; the step of the readout and the noise are measured at rest; stuck
//! readings are set aside. Then the longest chain of samples is sought that a vessel into which water runs could have
//! given: what it leaves out is a knock, and where it breaks the level jumped. Each jump is named (lift, zero key, put
//! on, taken away) and taken out, the preparation told from the brew, a steady drift of zero removed.

pub(crate) mod drift;
pub(crate) mod fade;
pub(crate) mod level;
pub(crate) mod longest_path;
pub(crate) mod options;
pub(crate) mod order;
pub(crate) mod prepare;
pub(crate) mod repair;
pub(crate) mod rise;
pub(crate) mod stage;
pub(crate) mod step;
pub(crate) mod stretch;
pub(crate) mod stuck;
pub(crate) mod trace;
pub(crate) mod work;
