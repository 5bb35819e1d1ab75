//! In: a `Log`. Out: a `Trace`: artefacts of the scale are detected, flagged and listed.
//!
//! Each concern has its file. Stamps are put in order, and replaced if they are not the instants of the readings. The
//! resolution of the readout and the noise are measured at rest. Stuck readings are excluded. Then the longest path of
//! samples that a vessel with inflow could have given is sought. The force of a stream that ends, pauses or drips is put
//! back on the path, and a small load is told from water by its shape. A sample off the path is a knock; at a break of
//! the path the level jumped. Each jump is classified (lift, zero key, load added, vessel removed) and its offset
//! subtracted. The preparation is separated from the brew. A steady drift of zero is subtracted; water that still drips
//! is no drift.

mod absent;
pub(crate) mod breaks;
pub(crate) mod dribble;
pub(crate) mod drift;
pub(crate) mod fade;
pub(crate) mod load;
pub(crate) mod longest_path;
mod made;
pub(crate) mod on_change;
pub(crate) mod options;
pub(crate) mod order;
pub(crate) mod prepare;
pub(crate) mod reading_times;
pub(crate) mod regular;
pub(crate) mod repair;
pub(crate) mod resolution;
pub(crate) mod rise;
pub(crate) mod several;
mod spikes;
pub(crate) mod split;
pub(crate) mod stage;
pub(crate) mod stream;
pub(crate) mod stretch;
pub(crate) mod stuck;
pub(crate) mod tables;
pub(crate) mod trace;
mod updates;
pub(crate) mod work;
