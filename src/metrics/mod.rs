//! In: a [`Trace`] and its [`Segments`]. Out: [`Metrics`]: what each pour tells of the hand, each number
//! with its sd or the reason why it has none.
//!
//! The readings leave open what the hand did. `draw` makes flows that it may have poured, as likely as each other; every measure is
//! taken on each of them by its plain definition, one measure a file.

pub(crate) mod curve;
pub(crate) mod drift;
pub(crate) mod equations;
pub(crate) mod factor;
pub(crate) mod first_half;
pub(crate) mod flow_cv;
pub(crate) mod observation;
pub(crate) mod options;
pub(crate) mod pauses;
pub(crate) mod plateau;
pub(crate) mod posterior_flow;
pub(crate) mod pulsing;
pub(crate) mod ramps;
pub(crate) mod result;
pub(crate) mod sampler;
pub(crate) mod smoothness;
pub(crate) mod stage;
pub(crate) mod whole;
