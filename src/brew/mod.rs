//! In: a `Log`. Out: a `Brew`: one log the whole way, or many logs side by side.

pub(crate) mod analyze;
pub(crate) mod brief;
pub(crate) mod by_hand;
pub(crate) mod checks;
pub(crate) mod label_warnings;
pub(crate) mod labels;
pub(crate) mod many;
pub(crate) mod options;
pub(crate) mod result;
pub(crate) mod rows;
pub(crate) mod scale_resolution;
pub(crate) mod sentences;
pub(crate) mod stored;
