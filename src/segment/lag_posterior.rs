//! In: a fit that identifies the scale's lag poorly. Out: the fits under other lags, with their posterior
//! probabilities.
//!
//! A slow lag and a slow fall of the flow leave nearly the same tail. With few informative pours, the
//! likelihood of the lag is a ridge or has two modes, and the covariance at one mode ignores the other. Method:
//! the fit on a grid of lags, weighted by marginal likelihood; a quadrature over the one shared parameter (Rue,
//! Martino and Chopin, Approximate Bayesian inference by integrated nested Laplace approximations, Journal of
//! the Royal Statistical Society B 71, 2009).

use crate::estimate::Estimate;
use crate::model::samples::Samples;
use crate::segment::alternative::{Alternative, TEMPER, UNLIKELY};
use crate::segment::fit::refitted;
use crate::segment::fitted::{Fit, ScalePrior};
use crate::segment::options::SegmentOptions;

/// Relative sd below which the lag is identified and no other lags are tried.
const IDENTIFIED: f64 = 0.15;
/// Spacing of the grid in the logarithm of the lag, and its largest extent on each side.
const SPACING: f64 = 0.5;
const MAX_STEPS: i32 = 4;
/// Sd of the logarithm of a fixed lag.
const FIXED_SD: f64 = 1e-3;

/// The fits under other lags; none if the lag is identified.
pub(super) fn others(x: &Samples, fit: &Fit, prior: ScalePrior, o: &SegmentOptions) -> Vec<Alternative> {
    if fit.tau_s.sd < IDENTIFIED * fit.tau_s.value {
        return Vec::new();
    }
    let log_tau_prior = prior.log_tau_s;
    let at = |from: &Fit, log_tau: f64| {
        let log_tau_s = Estimate::new(log_tau, FIXED_SD);
        let (mut other, deviance) = refitted(x, from, ScalePrior { log_tau_s, ..prior }, o);
        other.lead_s = fit.lead_s.and(other.lead_s);
        (other, deviance + ((log_tau - log_tau_prior.value) / log_tau_prior.sd).powi(2))
    };
    let fitted = fit.tau_s.value.ln();
    let mut grid = vec![at(fit, fitted)];
    let weight = |deviance: f64, least: f64| (-0.5 * TEMPER * (deviance - least)).exp();
    let mut least = grid[0].1;
    for side in [-1.0, 1.0] {
        let mut from = 0;
        for k in 1..=MAX_STEPS {
            let next = at(&grid[from].0, fitted + side * SPACING * f64::from(k));
            let far = weight(next.1, least) < UNLIKELY;
            least = least.min(next.1);
            from = grid.len();
            grid.push(next);
            if far {
                break;
            }
        }
    }
    let whole: f64 = grid.iter().map(|(_, deviance)| weight(*deviance, least)).sum();
    grid.into_iter()
        .map(|(fit, deviance)| Alternative { fit, probability: weight(deviance, least) / whole })
        .filter(|alternative| alternative.probability > UNLIKELY)
        .collect()
}
