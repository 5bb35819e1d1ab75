//! In: a `Trace` and its `Segments`. Out: `Metrics`: flow metrics of each pour, each number with its sd
//! or the reason why it is undefined.
//!
//! The readings do not determine the flow curve. `posterior_flow` samples flow curves from its posterior. Each
//! metric is evaluated on each of them by its plain definition, one metric per file.

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
