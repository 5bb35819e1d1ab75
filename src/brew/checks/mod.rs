//! In: a log and its analysis. Out: warnings on the whole log.
//!
//! Each rule has its file and is based on an impossibility: beverage before its water, a clock that runs backwards, a
//! weight divided by the grams of an ounce. Nothing is repaired here: the user decides on the unit, the columns or the
//! number of brews.

pub(crate) mod all;
pub(crate) mod clock;
pub(crate) mod cut;
pub(crate) mod exchanged;
pub(crate) mod found;
pub(crate) mod no_pours;
pub(crate) mod other_scale;
pub(crate) mod prepared;
pub(crate) mod two_brews;
pub(crate) mod uncounted;
pub(crate) mod unit;
pub(crate) mod unlike;
pub(crate) mod zero;
