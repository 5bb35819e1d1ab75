//! In: a `Trace`. Out: `Segments`: the pours and the rests, each number with its sd.

pub(crate) mod alternative;
pub(crate) mod edges;
pub(crate) mod fit;
pub(crate) mod fitted;
pub(crate) mod flow;
pub(crate) mod gauss_newton;
pub(crate) mod groups;
pub(crate) mod hyperparameters;
pub(crate) mod influence;
pub(crate) mod lag_posterior;
pub(crate) mod lead;
pub(crate) mod level;
pub(crate) mod load;
pub(crate) mod observations;
pub(crate) mod options;
pub(crate) mod pour;
pub(crate) mod propose;
pub(crate) mod ramp;
pub(crate) mod stage;
