//! In: a `Trace`. Out: `Segments`: the pours and the rests, each number with its sd.

pub(crate) mod axes;
pub(crate) mod beats;
pub(crate) mod changes;
pub(crate) mod covariance;
pub(crate) mod curve;
pub(crate) mod extend;
pub(crate) mod fit;
pub(crate) mod fitted;
pub(crate) mod flow;
pub(crate) mod groups;
pub(crate) mod mode;
pub(crate) mod normal;
pub(crate) mod numbers;
pub(crate) mod observations;
pub(crate) mod options;
pub(crate) mod parameters;
pub(crate) mod posterior;
pub(crate) mod pour;
pub(crate) mod priors;
pub(crate) mod propose;
pub(crate) mod regimes;
pub(crate) mod sample;
pub(crate) mod source;
pub(crate) mod spectrum;
pub(crate) mod stage;
