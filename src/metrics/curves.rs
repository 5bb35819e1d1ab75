//! In: the posterior curves of a pour. Out: a metric as its mean and sd over the curves.

use crate::estimate::Maybe;
use crate::estimate::Undefined;
use crate::metrics::curve::Curve;
use crate::metrics::options::MetricsOptions;
use crate::segment::posterior::{PourCurves, spread};

/// The curves of one pour: the means of the flow, and the draws.
pub(super) struct Curves {
    means: Vec<Curve>,
    drawn: Vec<Curve>,
    /// Number of draws of the parameters.
    n: usize,
}

impl Curves {
    pub(super) fn new(pour: PourCurves, o: &MetricsOptions) -> Self {
        let n = pour.drawn.len();
        let (mut means, mut drawn) = (Vec::with_capacity(n), Vec::with_capacity(2 * n));
        for one in pour.drawn {
            means.extend(Curve::new(one.mean, o));
            drawn.extend(one.pair.into_iter().filter_map(|c| Curve::new(c, o)));
        }
        Self { means, drawn, n }
    }

    /// A property of each drawn curve.
    pub(super) fn each<T>(&self, of: impl Fn(&Curve) -> T) -> Vec<T> {
        self.drawn.iter().map(of).collect()
    }

    /// Mean over the drawn curves.
    pub(super) fn mean(&self, of: impl Fn(&Curve) -> Option<f64>) -> Option<f64> {
        let values = values(self.drawn.iter(), of);
        (!values.is_empty()).then(|| mean(&values))
    }

    /// Mean and sd of the known values of a metric; undefined, with the reason `why`, for less than half of the curves.
    pub(super) fn of_values(&self, values: impl Iterator<Item = f64>, why: &str) -> Maybe {
        let values: Vec<f64> = values.filter(|v| v.is_finite()).collect();
        if values.is_empty() || values.len() < self.n {
            return Err(Undefined::because(why));
        }
        Ok(spread(mean(&values), &values))
    }

    /// Mean and sd of a metric over the drawn curves; undefined, with the reason `why`, if it is so for more than half.
    pub(super) fn averaged(&self, metric: impl Fn(&Curve) -> Option<f64>, why: &str) -> Maybe {
        self.some(1, metric, why)
    }

    /// The same over every n-th curve, for a metric that is slow to compute.
    pub(super) fn some(&self, every: usize, metric: impl Fn(&Curve) -> Option<f64>, why: &str) -> Maybe {
        let values = values(self.drawn.iter().step_by(every), metric);
        if values.is_empty() || every * values.len() < self.n {
            return Err(Undefined::because(why));
        }
        Ok(spread(mean(&values), &values))
    }

    /// The same for a metric that depends on extremes of the flow: half of its mean over the means of the flow.
    pub(super) fn extreme(&self, metric: impl Fn(&Curve) -> Option<f64> + Copy, why: &str) -> Maybe {
        let (drawn, means) = (values(self.drawn.iter(), metric), values(self.means.iter(), metric));
        if drawn.is_empty() || drawn.len() < self.n || 2 * means.len() < self.n {
            return Err(Undefined::because(why));
        }
        Ok(spread(f64::midpoint(mean(&drawn), mean(&means)), &drawn))
    }
}

fn values<'a>(curves: impl Iterator<Item = &'a Curve>, metric: impl Fn(&Curve) -> Option<f64>) -> Vec<f64> {
    curves.filter_map(metric).filter(|v| v.is_finite()).collect()
}

fn mean(v: &[f64]) -> f64 {
    v.iter().sum::<f64>() / v.len() as f64
}
