//! In: the posterior curves of a pour. Out: a metric as its value and sd over the curves.

use crate::estimate::Maybe;
use crate::metrics::curve::Curve;
use crate::metrics::options::MetricsOptions;
use crate::segment::posterior::{PourCurves, Read};

/// The curves of one pour.
pub(super) struct Curves {
    read: Read<Curve>,
}

impl Curves {
    pub(super) fn new(pour: &PourCurves, o: &MetricsOptions) -> Self {
        Self { read: Read::new(&pour.drawn, |_, curve| Curve::new(curve.clone(), o)) }
    }

    /// A property of each curve.
    pub(super) fn map<T>(&self, of: impl Fn(&Curve) -> Option<T>) -> Read<T> {
        self.read.map(of)
    }

    /// Mean over the drawn curves.
    pub(super) fn mean(&self, of: impl Fn(&Curve) -> Option<f64>) -> Option<f64> {
        self.averaged(of, "").ok().map(|e| e.value)
    }

    /// Mean and sd of a metric over the drawn curves; undefined, with the reason `why`, if it is so for more than half.
    pub(super) fn averaged(&self, metric: impl Fn(&Curve) -> Option<f64>, why: &str) -> Maybe {
        self.some(1, metric, why)
    }

    /// The same over every n-th curve, for a metric that is slow to compute.
    pub(super) fn some(&self, every: usize, metric: impl Fn(&Curve) -> Option<f64>, why: &str) -> Maybe {
        self.read.averaged(every, metric, why)
    }

    /// The same for a metric that depends on extremes of the flow, as [`Read::extreme`].
    pub(super) fn extreme(&self, metric: impl Fn(&Curve) -> Option<f64>, why: &str) -> Maybe {
        self.read.extreme(metric, why)
    }
}
