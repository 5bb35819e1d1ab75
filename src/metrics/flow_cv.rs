//! Coefficient of variation of the flow on the plateau.
//!
//! - measures: the variation of the flow in a pour; 0 is perfectly even.
//! - formula: sd over mean of the true flow, over time, on the plateau; its posterior mean.
//! - needs: sampled flow curves: their spread includes the scale's noise and its lag.
//! - minimum samples: 8 while water arrives; 1 s of plateau.
//! - valid when: the flow varies between once per pour and `fastest_hz`. Not resolved if the Bayes factor for
//!   oscillations is below 3 and the value is less than two sd from 0: then its prior dominates, and the upper
//!   bound is what the log determines.
//! - reference: definition of this library; no norm exists. Arithmetic checked against NIST StRD.

use crate::estimate::{Estimate, Maybe};
use crate::math::robust::quantile;
use crate::metrics::curve::Curve;
use crate::metrics::posterior_flow::PosteriorFlow;

/// Shortest plateau, s.
const SHORTEST_S: f64 = 1.0;
/// Bayes factors below this are weak evidence (Kass and Raftery 1995, J. Am. Stat. Assoc. 90, 773; their scale
/// as documented in the R package pcal 1.0.0: 1 to 3 weak, 3 to 20 positive).
const POSITIVE_EVIDENCE: f64 = 3.0;
/// Probability of the upper credible bound.
const UPPER: f64 = 0.975;

/// Sd over mean, over time.
pub(super) fn cv(flow: &[f64]) -> Option<f64> {
    let n = flow.len() as f64;
    let mean = flow.iter().sum::<f64>() / n;
    let var = flow.iter().map(|q| (q - mean).powi(2)).sum::<f64>() / n;
    (mean > 0.0).then(|| var.sqrt() / mean)
}

pub(super) struct FlowCv {
    /// Posterior mean and sd.
    pub cv: Maybe,
    /// Whether it is distinguishable from 0.
    pub is_resolved: bool,
    /// Upper credible bound, 97.5 %.
    pub upper: Maybe,
}

impl FlowCv {
    pub(super) fn new(posterior: &PosteriorFlow) -> Self {
        let each = |c: &Curve| {
            let (from, to) = c.plateau_s;
            if to - from >= SHORTEST_S { cv(c.plateau()) } else { None }
        };
        let cv = posterior.estimate(each, "the plateau is shorter than 1 s");
        let mut values: Vec<f64> = posterior.curves.iter().filter_map(each).collect();
        let bound = quantile(&mut values, UPPER);
        // The mean of a posterior with a long tail can exceed its quantile; the larger bound is conservative.
        let upper = cv.clone().map(|e| Estimate::exact(bound.max(e.value)));
        let is_resolved =
            cv.as_ref().is_ok_and(|e| posterior.bayes_factor >= POSITIVE_EVIDENCE || e.value >= 2.0 * e.sd);
        Self { cv, is_resolved, upper }
    }
}

#[cfg(test)]
mod tests {
    use super::cv;

    #[test]
    fn the_cv_of_a_formula_series_is_the_certified_one() {
        // NIST StRD, NumAcc2 and NumAcc3, given by formula: a level, then the level less and plus .1
        // alternately, 1,001 values; certified mean: the level, certified sd (n - 1 degrees of freedom): .1
        // exactly. Over time the divisor is n.
        for (level, tolerance) in [(1.2, 1e-13), (1_000_000.2, 1e-9)] {
            let flow: Vec<f64> = (0..1001)
                .map(|i| level + [0.0, -0.1, 0.1][if i == 0 { 0 } else { 1 + (i + 1) % 2 }])
                .collect();
            let expected = 0.1 * (1000.0_f64 / 1001.0).sqrt() / level;
            assert!((cv(&flow).unwrap() / expected - 1.0).abs() < tolerance * 1e2, "{level}");
        }
        assert!(cv(&[]).is_none() && cv(&[0.0; 9]).is_none());
    }
}
