//! In: a fit whose samples hardly tell the scale's lag. Out: what the fit would be under other lags, and how likely each is.
//!
//! A slow lag and a hand that closes slowly leave nearly the same tail. Where few pours speak, the likelihood of the lag is a ridge or has two hills, and the
//! covariance at the top of one of them says nothing of the other. Method: the fit at each of some lags, weighted by the marginal likelihood there: a
//! quadrature over the one number that all share (Rue, Martino and Chopin, Approximate Bayesian inference by integrated nested Laplace approximations,
//! Journal of the Royal Statistical Society B 71, 2009).

use crate::estimate::Estimate;
use crate::model::samples::Samples;
use crate::segment::alternative::{Rival, TEMPER, UNLIKELY};
use crate::segment::fit::refitted;
use crate::segment::fitted::{Expected, Fit};
use crate::segment::options::SegmentOptions;

/// A lag known to better than this share of itself needs no others beside it.
const TOLD: f64 = 0.15;
/// The lags that are tried lie this far apart, in their logarithm, and so many of them on each side.
const APART: f64 = 0.5;
const MOST: i32 = 4;
/// A lag as good as known, sd of its logarithm.
const KNOWN: f64 = 1e-3;

/// The fits under other lags, unless the log tells the lag.
pub(super) fn others(x: &Samples, fit: &Fit, expected: Expected, o: &SegmentOptions) -> Vec<Rival> {
    if fit.tau_s.sd < TOLD * fit.tau_s.value {
        return Vec::new();
    }
    let prior = expected.log_tau_s;
    let at = |from: &Fit, log_tau: f64| {
        let log_tau_s = Estimate::new(log_tau, KNOWN);
        let (mut other, deviance) = refitted(x, from, Expected { log_tau_s, ..expected }, o);
        other.lead_s = fit.lead_s.and(other.lead_s);
        (other, deviance + ((log_tau - prior.value) / prior.sd).powi(2))
    };
    let found = fit.tau_s.value.ln();
    let mut tried = vec![at(fit, found)];
    let weight = |deviance: f64, least: f64| (-0.5 * TEMPER * (deviance - least)).exp();
    let mut least = tried[0].1;
    for side in [-1.0, 1.0] {
        let mut from = 0;
        for k in 1..=MOST {
            let next = at(&tried[from].0, found + side * APART * f64::from(k));
            let far = weight(next.1, least) < UNLIKELY;
            least = least.min(next.1);
            from = tried.len();
            tried.push(next);
            if far {
                break;
            }
        }
    }
    let whole: f64 = tried.iter().map(|(_, deviance)| weight(*deviance, least)).sum();
    tried
        .into_iter()
        .map(|(fit, deviance)| Rival { fit, probability: weight(deviance, least) / whole })
        .filter(|alternative| alternative.probability > UNLIKELY)
        .collect()
}
