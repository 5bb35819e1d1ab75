//! In: proposed groups of bursts. Out: their fit, with or without a force of the stream on the scale, and the
//! alternative.
//!
//! The force acts against the lag, so the two are poorly separated. The force enters the model if two criteria
//! agree: the marginal likelihoods of the two fits, and the Savage-Dickey ratio of the lead (Dickey, The
//! weighted likelihood ratio, Annals of Mathematical Statistics 42, 1971). The first alone is sensitive to a
//! disturbance that one fit happens to explain better. A property of the scale shows in more than one pour, so
//! the second must hold without each of them. The model is approximate and readings are not quite independent,
//! so the odds in the sd are tempered (Miller and Dunson, Robust Bayesian inference via coarsening, Journal of
//! the American Statistical Association 114, 2019).

use crate::estimate::Estimate;
use crate::model::samples::Samples;
use crate::segment::alternative::{Alternative, TEMPER, UNLIKELY};
use crate::segment::fit::fitted;
use crate::segment::fitted::{Fit, Group, ScalePrior};
use crate::segment::gauss_newton::StepResult;
use crate::segment::influence::Influence;
use crate::segment::lag_posterior;
use crate::segment::options::SegmentOptions;

/// Sd of a lead that is given, s.
const GIVEN_SD_S: f64 = 1e-5;
/// Prior of the lead v/g, s: streams that fall 5 to 30 cm meet the bed at 1 to 2.4 m/s.
const USUAL_LEAD_S: Estimate = Estimate::new(0.17, 0.06);
/// Threshold of twice the log odds for a lead: at this value the two models count as equally likely.
const ODDS: f64 = 6.0;
/// The same without the most informative pour. Set on the brews of `docs/coverage.md`: a larger value detects
/// fewer true forces.
const ODDS_WITHOUT_ONE: f64 = 2.0;
/// Lower bound of the probability that a detected force is an artefact outside the model. Set above the rate of
/// false detections relative to true ones in `docs/coverage.md`.
const MIN_FALSE: f64 = 0.05;
/// A group with a contradiction above this at an edge is excluded from the fit of the scale's response.
const MAX_CONTRADICTION: f64 = 1.5;

/// The fit with the given lead, or the likelier of the fits with and without one; and the alternatives.
pub(super) fn select(
    x: &Samples,
    groups: &[Group],
    log_tau_s: Estimate,
    o: &SegmentOptions,
) -> (Fit, Vec<Alternative>) {
    if let Some(given) = o.stream_lead_s {
        let prior = ScalePrior { log_tau_s, lead_s: Estimate::new(given, GIVEN_SD_S) };
        let [(mut fit, _)] = robust_fits(x, groups, [prior], o);
        fit.lead_s = Some(Estimate::exact(given));
        let alternatives = lag_posterior::others(x, &fit, prior, o);
        return (fit, alternatives);
    }
    let prior = [Estimate::new(0.0, GIVEN_SD_S), USUAL_LEAD_S].map(|lead_s| ScalePrior { log_tau_s, lead_s });
    let [(mut without, last), (with_lead, last_with_lead)] = robust_fits(x, groups, prior, o);
    without.lead_s = None;
    let odds_of_all = with_lead.lead_s.map_or(f64::NEG_INFINITY, savage_dickey) - ODDS;
    // One disturbed pour can imitate a force; a true one shows in the other pours too.
    let leads_s = last_with_lead.leads_s.iter().filter(|_| last_with_lead.leads_s.len() > 1);
    let odds_without_one =
        leads_s.copied().map(savage_dickey).fold(f64::INFINITY, f64::min) - ODDS_WITHOUT_ONE;
    let log_odds = (last.deviance - last_with_lead.deviance - ODDS).min(odds_of_all).min(odds_without_one);
    let (fit, prior, other) =
        if log_odds > 0.0 { (with_lead, prior[1], without) } else { (without, prior[0], with_lead) };
    let probability = 1.0 / (1.0 + (0.5 * TEMPER * log_odds.abs()).exp());
    let probability = if log_odds > 0.0 { probability.max(MIN_FALSE) } else { probability };
    let mut alternatives = lag_posterior::others(x, &fit, prior, o);
    if probability > UNLIKELY {
        alternatives.push(Alternative { fit: other, probability });
    }
    (fit, alternatives)
}

/// Twice the log odds of a lead against none, from its prior and posterior, both normal. A stream cannot lift
/// the scale: a negative lead counts as 0.
fn savage_dickey(posterior: Estimate) -> f64 {
    let square = |lead: Estimate| (lead.value.max(0.0) / lead.sd).powi(2);
    square(posterior) - square(USUAL_LEAD_S) + 2.0 * (posterior.sd / USUAL_LEAD_S.sd).ln()
}

/// The fits under each prior, repeated without those groups in the scale's response that no fit explains: a
/// knock must not change the shared parameters.
fn robust_fits<const N: usize>(
    x: &Samples,
    groups: &[Group],
    prior: [ScalePrior; N],
    o: &SegmentOptions,
) -> [(Fit, StepResult); N] {
    let fits = |groups: &[Group]| prior.map(|prior| fitted(x, groups, prior, o));
    let results = fits(groups);
    let contradicted = |k: usize| {
        results.iter().all(|(fit, _)| {
            let (group, influence) = (&fit.groups[k], Influence::new(x, fit, &fit.groups[k]));
            group.bursts.iter().any(|b| {
                [b.rise_s, b.fall_s].iter().any(|&at_s| influence.contradiction(at_s) > MAX_CONTRADICTION)
            })
        })
    };
    let mut fewer = groups.to_vec();
    for (k, group) in fewer.iter_mut().enumerate() {
        group.in_scale_fit &= !contradicted(k);
    }
    let count = |groups: &[Group]| groups.iter().filter(|g| g.in_scale_fit).count();
    if count(&fewer) == 0 || count(&fewer) == count(groups) { results } else { fits(&fewer) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_odds_of_an_unidentified_lead_are_even() {
        assert!(savage_dickey(USUAL_LEAD_S).abs() < 1e-12);
    }

    #[test]
    fn a_precise_positive_lead_has_large_odds_and_a_small_or_negative_one_has_not() {
        // (0.2 / 0.02)^2 - (0.17 / 0.06)^2 + 2 ln(0.02 / 0.06) = 100 - 8.028 - 2.197.
        assert!((savage_dickey(Estimate::new(0.2, 0.02)) - 89.775).abs() < 1e-3);
        assert!(savage_dickey(Estimate::new(0.01, 0.02)) < 0.0);
        assert!(savage_dickey(Estimate::new(-0.2, 0.02)) < 0.0);
    }
}
