//! In: a `Trace` and its `Segments`. Out: `Metrics`: flow metrics of each pour, each number with its sd
//! or the reason why it is undefined.
//!
//! The readings do not determine the flow curve. Each metric is evaluated on each flow curve drawn from the posterior,
//! by its plain definition, one metric per file.

pub(crate) mod bound;
pub(crate) mod curve;
pub(crate) mod curves;
pub(crate) mod drift;
pub(crate) mod first_half;
pub(crate) mod flow_cv;
pub(crate) mod options;
pub(crate) mod parts;
pub(crate) mod pauses;
pub(crate) mod plateau;
pub(crate) mod pulse_mass;
pub(crate) mod pulsing;
pub(crate) mod ramps;
pub(crate) mod result;
pub(crate) mod smoothness;
pub(crate) mod stage;
pub(crate) mod whole;
