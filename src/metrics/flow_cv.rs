//! Coefficient of variation of the flow on the plateau.
//!
//! - measures: the variation of the flow in a pour; 0 is perfectly even.
//! - formula: sd over mean of the true flow, over time, on the plateau, pauses left out; its posterior mean.
//! - needs: sampled flow curves: their spread includes the scale's noise and its lag. The value is of the variation
//!   that the readings show; its sd includes faster oscillations, of which they show nothing.
//! - minimum samples: 8 while water arrives; 1 s of plateau.
//! - valid when: the hand is not faster than the readings. If these resolve nothing faster than 1 Hz and show no
//!   variation, it is undefined. Not resolved if the Bayes factor of the plateau's readings, for the fitted variation
//!   against hardly any, is below 20, or if it is less than two sd: then its prior dominates, and the upper bound is
//!   what the log determines.
//! - reference: definition of this library; no norm exists. Arithmetic checked against NIST StRD.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::metrics::bound::Bound;
use crate::metrics::curves::Curves;
use crate::metrics::parts::{Bands, OF_RATE, Parts, Resolution};

/// Readings that are too slow for this frequency show only whether a hand varies, not that it does not, Hz.
const USUAL_HZ: f64 = 1.0;

/// Sd of an error that pours of one hand have in common, relative to the fast and unseen parts: what the model leaves
/// out. Measured on worlds in which its assumptions are false; it does not average out.
const COMMON_SD: f64 = 0.06;
/// The same for readings so slow that a beat may be the alias of a faster one, which the scale attenuates more.
const ALIASED_SD: f64 = 0.5;
/// Floor of that sd, for what the model of the scale leaves out; at 50 readings a second it shows.
const LEAST_SD: f64 = 0.003;

/// Bayes factor from which the variation is distinguishable from none: strong evidence (Kass and Raftery, Bayes
/// factors, Journal of the American Statistical Association 90, 1995; from memory).
const LEAST_BAYES_FACTOR: f64 = 20.0;

pub(super) struct FlowCv {
    /// Posterior mean and sd.
    pub cv: Maybe,
    pub trend: Maybe,
    pub slow: Maybe,
    pub fast: Maybe,
    pub unseen: Maybe,
    /// Whether it is distinguishable from 0.
    pub is_resolved: bool,
    /// Upper credible bound, 97.5 %, and that of hands no faster than the readings resolve.
    pub upper: Maybe,
    pub seen_upper: Maybe,
    pub resolved_to_hz: Maybe,
}

impl FlowCv {
    pub(super) fn undefined(why: &Undefined) -> Self {
        let none = || Err(why.clone());
        Self {
            cv: none(),
            trend: none(),
            slow: none(),
            fast: none(),
            unseen: none(),
            is_resolved: false,
            upper: none(),
            seen_upper: none(),
            resolved_to_hz: none(),
        }
    }

    /// `bound`: quantiles of the cv for hands of each frequency.
    pub(super) fn new(
        curves: &Curves,
        resolution: &Resolution,
        duration_s: f64,
        pause_flow_g_per_s: f64,
        bound: &Bound,
    ) -> Self {
        let resolved_to_hz = resolution.to_hz();
        let bands = Bands::new(duration_s, resolved_to_hz);
        let parts = curves.map(|c| Parts::of(c, pause_flow_g_per_s, &bands));
        let why = "the plateau is shorter than 1 s";
        let part = |of: fn(&Parts) -> f64| parts.averaged(1, |p| Some(of(p)), why);
        let readable_hz = OF_RATE * resolution.rate_hz;
        let share = if readable_hz < USUAL_HZ { ALIASED_SD } else { COMMON_SD };
        let widened = |e: Maybe| e.map(|e| Estimate::new(e.value, e.sd.hypot(share * e.value)));
        let common = part(|p| p.fast.hypot(p.unseen)).map_or(0.0, |e| share * e.value).hypot(LEAST_SD);
        let all = part(|p| p.all).map(|e| Estimate::new(e.value, e.sd.hypot(common)));
        let is_resolved = bound.log_bayes_factor >= LEAST_BAYES_FACTOR.ln()
            && all.as_ref().is_ok_and(|e| e.value >= 2.0 * e.sd);
        let doubted = |e: Maybe| {
            e.map(|e| Estimate::new(e.value, e.sd.hypot(bound.unseen_sd(e.value, resolved_to_hz))))
        };
        let cv = match &all {
            Ok(_) if readable_hz < USUAL_HZ && !is_resolved => {
                let why = format!("readings too slow for beats above {readable_hz:.2} Hz");
                Err(Undefined::because(why))
            }
            _ => doubted(all.clone()),
        };
        Self {
            trend: part(|p| p.trend),
            slow: bands.slow(part(|p| p.slow)),
            fast: bands.fast(widened(part(|p| p.fast))),
            unseen: doubted(widened(part(|p| p.unseen))),
            is_resolved,
            upper: bound.upper(&all),
            seen_upper: bound.seen_upper(&all, resolved_to_hz),
            resolved_to_hz: resolution.estimate(),
            cv,
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::metrics::parts::cv;

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
            assert!((cv(flow.iter().copied()).unwrap() / expected - 1.0).abs() < tolerance * 1e2, "{level}");
        }
        assert!(cv([].into_iter()).is_none() && cv([0.0; 9].into_iter()).is_none());
    }
}
