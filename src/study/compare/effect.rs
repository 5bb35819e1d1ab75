//! In: a difference over the sd within groups. Out: Hedges' g with its interval.
//!
//! The factor against the bias of few values is the exact one (Hedges 1981, J. Educ. Stat. 6, 107); the interval
//! inverts the noncentral t distribution of the observed t (Steiger and Fouladi 1997).

use crate::estimate::Estimate;
use crate::math::distribution::root;
use crate::math::noncentral::noncentral_below;
use crate::study::compare::pair::PairFit;
use statrs::function::gamma::ln_gamma;

/// g with its large-sample sd, and its interval.
pub(super) fn hedges(fit: &PairFit, level: f64) -> (Estimate, [f64; 2]) {
    let (scale, degrees) = (fit.weight.sqrt(), fit.pooled_degrees);
    let t = fit.difference / fit.sd * scale;
    let unbias = unbias(degrees);
    let g = unbias * t / scale;
    let tail = 0.5 * (1.0 - level);
    let reach = 12.0 + 6.0 * t.abs();
    let at = |share: f64| {
        let noncentrality = root(t - reach, t + reach, |c| noncentral_below(t, degrees, c) > share);
        unbias * noncentrality / scale
    };
    let sd = (1.0 / fit.weight + g * g / (2.0 * degrees)).sqrt();
    (Estimate::new(g, sd), [at(1.0 - tail), at(tail)])
}

fn unbias(degrees: f64) -> f64 {
    if degrees <= 1.0 {
        return 0.0;
    }
    (ln_gamma(0.5 * degrees) - ln_gamma(0.5 * (degrees - 1.0))).exp() / (0.5 * degrees).sqrt()
}
