//! In: a log and what was found in it. Out: what is doubtful of the log as a whole, in sentences.
//!
//! Each rule has its file and rests on what cannot be: beverage before its water, a clock that runs backwards, a weight that divides itself by the grams of an
//! ounce. What is told here is not repaired: a unit, a column or a second brew is for the one who logged to say.

pub(crate) mod all;
pub(crate) mod clock;
pub(crate) mod cut;
pub(crate) mod exchanged;
pub(crate) mod found;
pub(crate) mod two_brews;
pub(crate) mod uncounted;
pub(crate) mod unit;
pub(crate) mod unlike;
pub(crate) mod zero;
