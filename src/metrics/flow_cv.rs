//! How far the flow is from even on the plateau.
//!
//! - measures: how much a hand's flow varies while it pours; 0 is perfectly even.
//! - formula: sd over mean of the true flow, over time, on the plateau; its posterior mean.
//! - needs: drawn flows: the scale's noise, its lag and what it cannot follow are in their spread.
//! - minimum samples: 8 while water arrives; 1 s of plateau.
//! - valid when: the flow varies between once a pour and `fastest_hz`. Not resolved if the odds of a beat are under 3 and the value is less
//!   than two sd from 0: then it is mostly what is expected of hands, and the upper bound is what is known.
//! - reference: definition of this library; no norm exists. Arithmetic held against NIST StRD.

use crate::estimate::{Estimate, Maybe};
use crate::math::robust::quantile;
use crate::metrics::curve::Curve;
use crate::metrics::posterior_flow::PosteriorFlow;

/// Shortest plateau, s.
const SHORTEST_S: f64 = 1.0;
/// Odds below this are not worth more than a bare mention (Kass and Raftery 1995, J. Am. Stat. Assoc. 90, 773; from memory).
const CLEAR: f64 = 3.0;
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
    /// Whether it can be told from 0.
    pub is_resolved: bool,
    /// Upper credible bound, 97.5 %.
    pub upper: Maybe,
}

impl FlowCv {
    pub(super) fn new(hand: &PosteriorFlow) -> Self {
        let each = |c: &Curve| {
            let (from, to) = c.plateau_s;
            if to - from >= SHORTEST_S { cv(c.plateau()) } else { None }
        };
        let cv = hand.estimate(each, "the plateau is shorter than 1 s");
        let mut values: Vec<f64> = hand.curves.iter().filter_map(each).collect();
        let bound = quantile(&mut values, UPPER);
        // The mean of a posterior with a long tail can lie above its quantile; a larger bound holds all the more.
        let upper = cv.clone().map(|e| Estimate::exact(bound.max(e.value)));
        let is_resolved = cv.as_ref().is_ok_and(|e| hand.favours_beats >= CLEAR || e.value >= 2.0 * e.sd);
        Self { cv, is_resolved, upper }
    }
}

#[cfg(test)]
mod tests {
    use super::cv;

    #[test]
    fn the_certified_sd_of_a_formula_series_comes_out() {
        // NIST StRD, NumAcc2 and NumAcc3, given by formula: a level, then the level less and plus .1 by turns, 1,001 values; certified
        // mean: the level, certified sd (n - 1 degrees of freedom): .1 exactly. Over time the divisor is n.
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
