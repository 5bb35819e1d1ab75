//! In: groups of bursts as proposed. Out: their fit, with or without a force of the stream on the scale, and the other of the two.
//!
//! The force works against the lag, and a log hardly tells one from the other. It is taken in where both say so: the marginal likelihoods of the two whole fits, and
//! the lead of the one fit beside its own sd (the Savage-Dickey ratio: Dickey, The weighted likelihood ratio, Annals of Mathematical Statistics 42, 1971).
//! The first alone is swayed by whatever the one fit happens to explain better, a knock above all; and what is true of the scale is told by more than one pour, so
//! the second has to hold without each of them. Since no hand pours quite as the model says, and readings are
//! not quite independent, the odds that the sd go by are tempered (Miller and Dunson, Robust Bayesian inference via coarsening, Journal of the American
//! Statistical Association 114, 2019).

use crate::estimate::Estimate;
use crate::model::samples::Samples;
use crate::segment::alternative::{Rival, TEMPER, UNLIKELY};
use crate::segment::fit::fitted;
use crate::segment::fitted::{Expected, Fit, Group};
use crate::segment::gauss_newton::Moved;
use crate::segment::influence::Nearby;
use crate::segment::lag_posterior;
use crate::segment::options::SegmentOptions;

/// A lead as good as known, sd in s.
const KNOWN_S: f64 = 1e-5;
/// Streams meet the bed at 1 to 2.4 m/s when they fall 5 to 30 cm: v/g in s.
const USUAL_LEAD_S: Estimate = Estimate::new(0.17, 0.06);
/// Twice the logarithm of the odds that the log has to give against no lead: there the two are as likely as each other.
const ODDS: f64 = 6.0;
/// The same without the pour that tells most of it: the fewer tell less. Set on the brews of `docs/coverage.md`: more, and fewer true forces are seen.
const ODDS_OF_OTHERS: f64 = 2.0;
/// However surely a force seems to be there, it may be something that no fit knows of, and is taken to be so no less often than this. Chosen above what `docs/coverage.md`
/// shows: how often one is seen where none presses, beside how often where one does.
const MISTAKEN: f64 = 0.05;
/// A group that its samples contradict by this much at an edge does not speak for the scale, in sd of that edge.
const SILENCED: f64 = 1.5;

/// The fit with the lead that was given, or the likelier of the fits with and without one.
pub(super) fn chosen(
    x: &Samples,
    groups: &[Group],
    log_tau_s: Estimate,
    o: &SegmentOptions,
) -> (Fit, Vec<Rival>) {
    if let Some(given) = o.stream_lead_s {
        let expected = Expected { log_tau_s, lead_s: Estimate::new(given, KNOWN_S) };
        let [(mut fit, _)] = heard(x, groups, [expected], o);
        fit.lead_s = Some(Estimate::exact(given));
        let alternatives = lag_posterior::others(x, &fit, expected, o);
        return (fit, alternatives);
    }
    let expected = [Estimate::new(0.0, KNOWN_S), USUAL_LEAD_S].map(|lead_s| Expected { log_tau_s, lead_s });
    let [(mut without, last), (led, last_led)] = heard(x, groups, expected, o);
    without.lead_s = None;
    let of_the_lead = led.lead_s.map_or(f64::NEG_INFINITY, savage_dickey) - ODDS;
    // One disturbed pour can feign a force; where there is one, the others tell of it too.
    let leads_s = last_led.leads_s.iter().filter(|_| last_led.leads_s.len() > 1);
    let of_the_others = leads_s.copied().map(savage_dickey).fold(f64::INFINITY, f64::min) - ODDS_OF_OTHERS;
    let for_lead = (last.deviance - last_led.deviance - ODDS).min(of_the_lead).min(of_the_others);
    let (fit, expected, other) =
        if for_lead > 0.0 { (led, expected[1], without) } else { (without, expected[0], led) };
    let probability = 1.0 / (1.0 + (0.5 * TEMPER * for_lead.abs()).exp());
    let probability = if for_lead > 0.0 { probability.max(MISTAKEN) } else { probability };
    let mut alternatives = lag_posterior::others(x, &fit, expected, o);
    if probability > UNLIKELY {
        alternatives.push(Rival { fit: other, probability });
    }
    (fit, alternatives)
}

/// Twice the logarithm of the odds against no lead, from what was expected and what was found of it, both taken as normal. No stream pulls the scale up.
fn savage_dickey(found: Estimate) -> f64 {
    let square = |lead: Estimate| (lead.value.max(0.0) / lead.sd).powi(2);
    square(found) - square(USUAL_LEAD_S) + 2.0 * (found.sd / USUAL_LEAD_S.sd).ln()
}

/// The fits for what is expected, and again without the voice of those groups that none of them can explain: a knock must not move what all share.
fn heard<const N: usize>(
    x: &Samples,
    groups: &[Group],
    expected: [Expected; N],
    o: &SegmentOptions,
) -> [(Fit, Moved); N] {
    let fits = |groups: &[Group]| expected.map(|expected| fitted(x, groups, expected, o));
    let found = fits(groups);
    let contradicted = |k: usize| {
        found.iter().all(|(fit, _)| {
            let (group, influence) = (&fit.groups[k], Nearby::new(x, fit, &fit.groups[k]));
            group
                .bursts
                .iter()
                .any(|b| [b.rise_s, b.fall_s].iter().any(|&at_s| influence.contradiction(at_s) > SILENCED))
        })
    };
    let mut fewer = groups.to_vec();
    for (k, group) in fewer.iter_mut().enumerate() {
        group.speaks &= !contradicted(k);
    }
    let speak = |groups: &[Group]| groups.iter().filter(|g| g.speaks).count();
    if speak(&fewer) == 0 || speak(&fewer) == speak(groups) { found } else { fits(&fewer) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lead_that_the_log_says_nothing_of_is_neither_for_nor_against() {
        assert!(savage_dickey(USUAL_LEAD_S).abs() < 1e-12);
    }

    #[test]
    fn a_lead_that_is_surely_there_speaks_for_itself() {
        // By hand: (0.2 / 0.02)^2 - (0.17 / 0.06)^2 + 2 ln(0.02 / 0.06) = 100 - 8.028 - 2.197.
        assert!((savage_dickey(Estimate::new(0.2, 0.02)) - 89.775).abs() < 1e-3);
        assert!(savage_dickey(Estimate::new(0.01, 0.02)) < 0.0);
        assert!(savage_dickey(Estimate::new(-0.2, 0.02)) < 0.0);
    }
}
