//! In: a fit whose samples hardly tell the scale's lag. Out: what the fit would be under other lags, and how likely each is.
//!
//! A slow lag and a hand that closes slowly leave nearly the same tail. Where few pours speak, the likelihood of the lag is a ridge or has two hills, and the
//! covariance at the top of one of them says nothing of the other. Method: the fit at each of some lags, weighted by the marginal likelihood there: a
//! quadrature over the one number that all share (Rue, Martino and Chopin, Approximate Bayesian inference by integrated nested Laplace approximations,
//! Journal of the Royal Statistical Society B 71, 2009).

use super::SegmentOptions;
use super::fit::fitted;
use super::fitted::{Expected, Fit};
use super::rival::{Rival, TEMPER, UNLIKELY};
use super::samples::Samples;
use crate::Estimate;

/// A lag known to better than this share of itself needs no others beside it.
const TOLD: f64 = 0.15;
/// The lags that are tried, in sd of what is expected of its logarithm.
const AT_SDS: [f64; 6] = [-2.5, -1.5, -0.7, 0.0, 0.7, 1.5];
/// A lag as good as known, sd of its logarithm.
const KNOWN: f64 = 1e-3;

/// The fits under other lags, unless the log tells the lag.
pub(super) fn others(x: &Samples, fit: &Fit, expected: Expected, o: &SegmentOptions) -> Vec<Rival> {
    if fit.tau_s.sd < TOLD * fit.tau_s.value {
        return Vec::new();
    }
    let prior = expected.log_tau_s;
    let at = |sds: f64| {
        let log_tau_s = Estimate::new(prior.value + sds * prior.sd, KNOWN);
        let (mut other, misfit) = fitted(x, &fit.groups, Expected { log_tau_s, ..expected }, o);
        if fit.lead_s.is_none() {
            other.lead_s = None;
        }
        (other, misfit + sds * sds)
    };
    let tried = AT_SDS.map(at);
    let least = tried.iter().map(|(_, misfit)| *misfit).fold(f64::INFINITY, f64::min);
    let weight = |misfit: f64| (-0.5 * TEMPER * (misfit - least)).exp();
    let whole: f64 = tried.iter().map(|(_, misfit)| weight(*misfit)).sum();
    tried
        .into_iter()
        .map(|(fit, misfit)| Rival { fit, probability: weight(misfit) / whole })
        .filter(|rival| rival.probability > UNLIKELY)
        .collect()
}
