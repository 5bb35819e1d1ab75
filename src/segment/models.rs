//! In: the fit with a scale that lags and weighs no force. Out: fits with other models of the scale, and their odds.
//!
//! Readings hardly tell how a scale is built: the force of a stream acts against a lag, and a response that bends (two
//! lags, an average, one that overshoots) resembles a lag and other ramps. So all of them are fitted. A number is the mean
//! over all, weighted by their marginal likelihoods (Hoeting, Madigan, Raftery and Volinsky, Bayesian model averaging,
//! Statistical Science 14, 1999). Draws for its sd are taken from each in the proportion of tempered ones.

use crate::model::window::Window;
use crate::segment::changes::with_changes;
use crate::segment::mode::{ITERATIONS, Mode, mode};
use crate::segment::parameters::{BEND, DELAY_S, LEAD_S, Parameters, SHARED, moved, still};
use crate::segment::priors::Priors;

/// Prior of the lead v/g, s: streams that fall 5 to 30 cm meet the bed at 1 to 2.4 m/s.
const USUAL_LEAD_S: (f64, f64) = (0.17, 0.06);
/// Prior log odds of a force: nearly even. Set so that brews without a force keep their edges (docs/quality.md).
const LOG_ODDS: f64 = -0.5;
/// Priors of delay and bend of a response that bends: median, and sd of the logarithm. Within 2 sd the bend is that of two
/// unequal lags at least, and that of a damping ratio of .46 at most. Its prior log odds to a first-order lag
/// are set so that half-edges are as near under every kind of scale (docs/worlds.md).
const USUAL_DELAY_S: (f64, f64) = (0.2, 0.7);
const USUAL_BEND: (f64, f64) = (0.6, 0.7);
const BENDS: f64 = -0.4;
/// The bend from which it is sought: two equal lags.
const FROM_BEND: f64 = 0.5;
/// Most iterations of such a fit: it begins near its mode, and more change no number.
const FEW_ITERATIONS: usize = 4;
/// A difference of log marginal likelihoods above which the worse model is fitted again from the better one.
const FAR: f64 = 12.0;
/// Most log odds of a force if something else resembles one: that there is none can be trusted, but not wholly.
const LIKE_FORCE: f64 = -3.0;
/// Log odds of a force below which its response is not sought further: it would have a draw or two.
const UNLIKELY: f64 = -3.0;
/// Power that tempers the odds: the model is approximate, so that they are too sure (Miller and Dunson, Robust Bayesian
/// inference via coarsening, Journal of the American Statistical Association 114, 2019).
const TEMPER: f64 = 0.25;

/// A fit with one model of the scale.
pub(super) struct Model {
    pub mode: Mode,
    pub priors: Priors,
    /// Logarithm of its odds to the first model.
    pub log_odds: f64,
    /// Whether the stream weighs on the scale.
    pub is_forced: bool,
}

/// What is open about the scale.
#[derive(Clone, Copy)]
pub(super) struct Open {
    /// The force of the stream.
    pub force: bool,
    /// The response.
    pub response: bool,
    /// Whether something else resembles a force, so that the readings do not tell whether there is one.
    pub like_force: bool,
}

/// The models, from the first one.
pub(super) fn models(windows: &[Window], (found, priors): (Mode, Priors), open: Open) -> Vec<Model> {
    let mut out = vec![Model { mode: found, priors, log_odds: 0.0, is_forced: false }];
    if open.force {
        let forced = Priors { lead_s: USUAL_LEAD_S, ..priors };
        if let Some(with) = other_lead(windows, &out[0].mode.q, &forced) {
            // Without a change under one model and with less evidence, there is none under the other.
            let likelier = with.evidence > out[0].mode.evidence;
            let with = if likelier || has_changes(&out[0].mode) {
                with_changes(windows, with, &forced)
            } else {
                with
            };
            out.push(Model { mode: with, priors: forced, log_odds: 0.0, is_forced: true });
        }
        again_from_the_better(windows, &mut out);
        if let [without, with] = out.as_mut_slice() {
            with.log_odds = LOG_ODDS + with.mode.evidence - without.mode.evidence;
            if open.like_force {
                with.log_odds = with.log_odds.min(LIKE_FORCE);
            }
        }
    }
    if open.response {
        for k in 0..out.len() {
            if !out[k].is_forced || out[k].log_odds > UNLIKELY {
                out.extend(bent(windows, &out[k]));
            }
        }
    }
    out
}

/// Log odds of a force.
pub(super) fn force_log_odds(models: &[Model]) -> f64 {
    let sum = |forced: bool| {
        models.iter().filter(|m| m.is_forced == forced).map(|m| m.log_odds.min(700.0).exp()).sum::<f64>().ln()
    };
    sum(true) - sum(false)
}

pub(super) fn likeliest(models: &[Model]) -> usize {
    (0..models.len()).fold(0, |best, k| if models[k].log_odds > models[best].log_odds { k } else { best })
}

/// Probability of each model, by its odds. Values are means over the draws with these weights.
pub(super) fn probabilities(models: &[Model]) -> Vec<f64> {
    let most = models[likeliest(models)].log_odds;
    let odds: Vec<f64> = models.iter().map(|m| (m.log_odds - most).exp()).collect();
    let sum: f64 = odds.iter().sum();
    odds.iter().map(|odds| odds / sum).collect()
}

/// Pairs of draws of each model, by its tempered odds. Their spread is the sd of a number.
pub(super) fn shares(models: &[Model], pairs: usize) -> Vec<usize> {
    let likeliest = likeliest(models);
    let most = models[likeliest].log_odds;
    let weights: Vec<f64> = models.iter().map(|m| (TEMPER * (m.log_odds - most)).exp()).collect();
    let sum: f64 = weights.iter().sum();
    let mut shares: Vec<usize> = weights.iter().map(|w| (pairs as f64 * w / sum).round() as usize).collect();
    // What rounding leaves over is the likeliest one's.
    let others = shares.iter().sum::<usize>() - shares[likeliest];
    shares[likeliest] = pairs.saturating_sub(others);
    shares
}

pub(super) fn has_changes(mode: &Mode) -> bool {
    mode.q.bursts.iter().flatten().any(|b| !b.changes.is_empty())
}

/// The mode under another prior of the lead, from that of the other model.
fn other_lead(windows: &[Window], q: &Parameters, p: &Priors) -> Option<Mode> {
    let mut shared = [0.0; SHARED];
    shared[LEAD_S] = p.lead_s.0 - q.shared[LEAD_S];
    let (from, _) = moved(q, &shared, &still(q), 1.0);
    mode(windows, from, p, ITERATIONS)
}

/// The model with a response that bends. It is sought from the delay that spreads an edge as much as the lag does.
fn bent(windows: &[Window], straight: &Model) -> Option<Model> {
    let priors = Priors {
        log_delay_s: (USUAL_DELAY_S.0.ln(), USUAL_DELAY_S.1),
        log_bend: (USUAL_BEND.0.ln(), USUAL_BEND.1),
        ..straight.priors
    };
    let mut from = straight.mode.q.clone();
    from.shared[BEND] = FROM_BEND.ln();
    let mut shared = [0.0; SHARED];
    shared[DELAY_S] = -0.5 * (1.0 - FROM_BEND).ln();
    let (from, _) = moved(&from, &shared, &still(&from), 1.0);
    let found = mode(windows, from, &priors, FEW_ITERATIONS)?;
    let log_odds = straight.log_odds + BENDS + found.evidence - straight.mode.evidence;
    Some(Model { mode: found, priors, log_odds, is_forced: straight.is_forced })
}

/// Two fits may stop at modes that differ in more than the force. The model without one is fitted again from the other's
/// mode before it is given up, the model with one if its marginal likelihood is far below.
fn again_from_the_better(windows: &[Window], models: &mut [Model]) {
    let [without, with] = models else { return };
    let gain = LOG_ODDS + with.mode.evidence - without.mode.evidence;
    let (better, worse) = if gain > 0.0 { (with, without) } else { (without, with) };
    if !(-FAR..=0.0).contains(&gain) {
        let again = other_lead(windows, &better.mode.q, &worse.priors);
        if let Some(again) = again.filter(|again| again.evidence > worse.mode.evidence) {
            worse.mode = again;
        }
    }
}
