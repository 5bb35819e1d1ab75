//! In: the used samples and proposed bursts. Out: the fit, with draws of its parameters.
//!
//! The force of the stream acts against the lag, so the two are poorly separated. Two models are fitted, without and
//! with such a force. The draws are those of both, in the proportion of their tempered marginal likelihoods (Hoeting,
//! Madigan, Raftery and Volinsky, Bayesian model averaging, Statistical Science 14, 1999).

use crate::estimate::Estimate;
use crate::math::random::Random;
use crate::model::burst::Burst;
use crate::model::recorded::record;
use crate::model::samples::Samples;
use crate::model::window::Window;
use crate::segment::axes::{axes, displaced, own_draw, shared_draw};
use crate::segment::beats::strongest;
use crate::segment::changes::with_changes;
use crate::segment::fitted::Fit;
use crate::segment::groups::groups;
use crate::segment::mode::{Mode, mode};
use crate::segment::options::SegmentOptions;
use crate::segment::parameters::{BEAT, BEAT_HZ, LEAD_S, Parameters, SHARED, TAU_S, locals, moved};
use crate::segment::priors::{Priors, hand, start};

/// Number of draws of the parameters.
pub(crate) const DRAWS: usize = 40;
/// Most iterations of a fit, and of the first one, whose ramps are held near their medians: free ones would take the
/// place of a lag that is not yet right.
const ITERATIONS: usize = 40;
const FIRST_ITERATIONS: usize = 4;
const STIFF: f64 = 0.2;
/// Sd of the logarithm of a given lag, and of a given lead in s, at least.
const GIVEN_LOG_SD: f64 = 1e-3;
const GIVEN_SD_S: f64 = 1e-5;
/// Prior of the lead v/g, s: streams that fall 5 to 30 cm meet the bed at 1 to 2.4 m/s.
const USUAL_LEAD_S: (f64, f64) = (0.17, 0.06);
/// Prior log odds of a force: nearly even. Set so that brews without a force keep their edges (docs/quality.md).
const LOG_ODDS: f64 = -0.5;
/// Log odds from which a force is reported: strong evidence (Kass and Raftery, Bayes factors, Journal of the American
/// Statistical Association 90, 1995; from memory).
const SEEN: f64 = 3.0;
/// Share of the noise that rounding leaves in the mean of many readings, from which these do not tell a force.
const COARSE: f64 = 0.1;
/// Times whose sd is larger were restored from uncertain stamps, s.
const UNSURE_S: f64 = 0.004;
/// A difference of log marginal likelihoods above which the worse model is fitted again from the better one.
const FAR: f64 = 12.0;
/// Power that tempers the odds: the model is approximate, so that they are too sure (Miller and Dunson, Robust Bayesian
/// inference via coarsening, Journal of the American Statistical Association 114, 2019).
const TEMPER: f64 = 0.5;
/// A window with a reading this far off, in sd, contradicts the model, mostly by a knock that was not seen. It must not
/// decide on the scale and on the other pours: these are fitted again without it, this many times at most.
const OFF: f64 = 6.0;
const ROUNDS: usize = 2;
/// A hand adds water: a mean flow below 0 contradicts the model. Its water in this many sd of a reading counts as an
/// excess of 1.
const TAKEN: f64 = 3.0;
/// Excess below which such water is due to noise and to shapes that the model leaves out.
const MUCH: f64 = 36.0;
/// The same log gives the same draws.
const SEED: u64 = 20;

/// The fit of proposed bursts; None if no fit converges. `lag` is the given lag, if any.
pub(super) fn fit(
    x: &Samples,
    proposed: &[Vec<Burst>],
    lag: Option<Estimate>,
    o: &SegmentOptions,
) -> Option<Fit> {
    let mut groups = groups(x, proposed);
    let all: Vec<Window> = groups.iter().map(|g| g.window(x)).collect();
    let proposed: Vec<Vec<Burst>> = groups.iter().map(|g| g.bursts.clone()).collect();
    let priors = priors(x, lag, o);
    let mut rounds = 0;
    let (windows, informs, first) = loop {
        let windows: Vec<Window> = groups.iter().filter(|g| g.informs).map(|g| g.window(x)).collect();
        let informs: Vec<bool> = groups.iter().map(|g| g.informs).collect();
        let first = first_mode(&windows, of(&proposed, &informs, true), &priors)?;
        let each = windows.iter().zip(&first.q.bursts);
        let agree: Vec<bool> = each.map(|(w, bursts)| agrees(w, bursts, &first, &priors)).collect();
        if rounds == ROUNDS || !agree.contains(&false) || !agree.contains(&true) {
            break (windows, informs, first);
        }
        rounds += 1;
        groups.iter_mut().filter(|g| g.informs).zip(agree).for_each(|(group, agrees)| group.informs = agrees);
    };
    let mut models = vec![with_beat_and_changes(&windows, first, &priors)];
    let priors = models[0].1;
    if o.stream_lead_s.is_none() {
        let forced = Priors { lead_s: USUAL_LEAD_S, ..priors };
        if let Some(with) = other_lead(&windows, &models[0].0.q, &forced) {
            // Without a change under one model and with less evidence, there is none under the other.
            let likelier = with.evidence > models[0].0.evidence;
            let with = if likelier || has_changes(&models[0].0) {
                with_changes(&windows, with, &forced)
            } else {
                with
            };
            models.push((with, forced));
        }
        again_from_the_better(&windows, &mut models);
    }
    let log_odds =
        models.get(1).map_or(f64::NEG_INFINITY, |(with, _)| LOG_ODDS + with.evidence - models[0].0.evidence);
    // A reading that is rounded coarsely stands still as soon as water does, which resembles a force that ends. That
    // there is none can be trusted.
    let is_coarse = x.rounding_var_g2 > COARSE * x.noise_sd_g * x.noise_sd_g;
    // Errors of the times, which last for a packet, resemble a force that varies with the flow.
    let is_like_force = log_odds > 0.0 && (is_coarse || x.stamp_s > UNSURE_S);
    let chosen = usize::from(log_odds > 0.0 && !is_like_force);
    // The other model's share of the draws.
    let tempered = if is_like_force { 0.0 } else { TEMPER * log_odds.abs() };
    let other = if models.len() > 1 { 1.0 / (1.0 + tempered.exp()) } else { 0.0 };
    let others = (DRAWS as f64 * other / 2.0).round() as usize;
    let fitted = Fitted { windows: &windows, all: &all, informs: &informs, proposed: &proposed };
    let likelier = fitted.whole(&models[chosen])?;
    let mut draws = fitted.draws(&models[chosen], &likelier, DRAWS / 2 - others);
    let of_chosen = draws.len();
    if others > 0 {
        let whole = fitted.whole(&models[1 - chosen])?;
        draws.extend(fitted.draws(&models[1 - chosen], &whole, others));
    }
    let (mode, priors) = (&likelier, models[chosen].1);
    for (k, group) in groups.iter_mut().enumerate() {
        group.bursts.clone_from(&mode.q.bursts[k]);
        let recorded = record(&all[k], &group.bursts, &hand(&mode.q.shared, &priors));
        let (sum, n) = recorded.normalised().fold((0.0, 0.0), |(sum, n), z| (sum + z * z, n + 1.0));
        let taken_g: f64 = recorded.mean().iter().map(|flow| (-flow).max(0.0)).sum::<f64>() * all[k].grid_s;
        let taken = (taken_g / (TAKEN * x.noise_sd_g)).powi(2);
        group.excess = (sum / f64::max(n, 1.0)).max(if taken < MUCH { 0.0 } else { taken });
    }
    let moments = |of: &dyn Fn(&Parameters) -> f64| {
        let n = draws.len() as f64;
        let mean = draws[..of_chosen].iter().map(of).sum::<f64>() / of_chosen.max(1) as f64;
        let var = draws.iter().map(|d| (of(d) - mean).powi(2)).sum::<f64>() / n;
        Estimate::new(mean, var.sqrt())
    };
    let tau_s = moments(&|q| q.shared[TAU_S].exp());
    let lead_s = moments(&|q| q.shared[LEAD_S]);
    let lead_s = match o.stream_lead_s {
        Some(given) => Some(Estimate::exact(given)),
        None => (log_odds > SEEN && !is_like_force).then_some(lead_s),
    };
    let mode = mode.q.shared;
    Some(Fit {
        groups,
        places: Vec::new(),
        priors,
        mode,
        draws,
        chosen: of_chosen,
        seed: SEED,
        tau_s,
        lead_s,
    })
}

/// The mode without a force, changes and an oscillation.
fn first_mode(windows: &[Window], bursts: Vec<Vec<Burst>>, priors: &Priors) -> Option<Mode> {
    let from = slower(Parameters { shared: start(priors), bursts }, priors);
    let stiff = Priors { skew_sd: STIFF, ramp_log_sd: STIFF, ..*priors };
    let from = mode(windows, from, &stiff, FIRST_ITERATIONS)?.q;
    mode(windows, from, priors, ITERATIONS)
}

/// Whether no reading of a window lies further off than noise explains, as in a knock that was not seen.
fn agrees(window: &Window, bursts: &[Burst], found: &Mode, priors: &Priors) -> bool {
    let mut hand = hand(&found.q.shared, priors);
    // A log without noise has readings far off in sd for the shape of its ramps alone.
    hand.noise_sd_g = hand.noise_sd_g.max(priors.noise_sd_g);
    record(window, bursts, &hand).normalised().all(|z| z.abs() < OFF)
}

fn priors(x: &Samples, lag: Option<Estimate>, o: &SegmentOptions) -> Priors {
    let usual = Priors::default();
    Priors {
        log_tau_s: match lag {
            Some(given) => {
                let value = given.value.max(1e-3);
                (value.ln(), (given.sd / value).max(GIVEN_LOG_SD))
            }
            None => usual.log_tau_s,
        },
        lead_s: (o.stream_lead_s.unwrap_or(0.0), GIVEN_SD_S),
        noise_sd_g: x.noise_sd_g,
        stamp_s: x.stamp_s,
        zero_g2_per_s: x.zero_g2_per_s(0.001),
        ramp_s: o.ramp_s,
        ramp_log_sd: (o.ramp_sd_s / o.ramp_s).clamp(0.1, 1.5),
        ..usual
    }
}

/// The parameters at a lag one sd above its median. A lag that is too short at the start lets the ramps take its place.
fn slower(from: Parameters, p: &Priors) -> Parameters {
    let mut by = [0.0; SHARED];
    by[TAU_S] = p.log_tau_s.1;
    let (moved, _) = moved(&from, &by, &still(&from), 1.0);
    moved
}

/// No step of the own parameters.
fn still(q: &Parameters) -> Vec<Vec<f64>> {
    q.bursts.iter().map(|b| vec![0.0; b.iter().map(locals).sum()]).collect()
}

/// The mode with changes of the level and an oscillation, where the readings support them. Each can stand in for the
/// other, so both orders of the search are tried if the first finds changes.
fn with_beat_and_changes(windows: &[Window], first: Mode, p: &Priors) -> (Mode, Priors) {
    let beats = Priors { beats: true, ..*p };
    let swaying = with_beat(windows, &first, &beats);
    let changed = with_changes(windows, first, p);
    match swaying {
        Some(swaying) if !has_changes(&changed) || swaying.evidence > changed.evidence => {
            (with_changes(windows, swaying, &beats), beats)
        }
        Some(_) => match with_beat(windows, &changed, &beats) {
            Some(both) if both.evidence > changed.evidence => (both, beats),
            _ => (changed, *p),
        },
        None => (changed, *p),
    }
}

fn has_changes(mode: &Mode) -> bool {
    mode.q.bursts.iter().flatten().any(|b| !b.changes.is_empty())
}

/// The mode from the strongest oscillation of the readings; None if there is none. The posterior has a mode at each
/// frequency of an oscillation that explains the readings.
fn with_beat(windows: &[Window], found: &Mode, p: &Priors) -> Option<Mode> {
    let (hz, share) = strongest(windows, &found.q.bursts, &hand(&found.q.shared, p))?;
    let mut from = found.q.clone();
    from.shared[BEAT_HZ] = hz.ln();
    from.shared[BEAT] = share.ln();
    mode(windows, from, p, ITERATIONS).filter(|beating| beating.evidence > found.evidence)
}

/// The mode under another prior of the lead, from that of the other model.
fn other_lead(windows: &[Window], q: &Parameters, p: &Priors) -> Option<Mode> {
    let mut shared = [0.0; SHARED];
    shared[LEAD_S] = p.lead_s.0 - q.shared[LEAD_S];
    let (from, _) = moved(q, &shared, &still(q), 1.0);
    mode(windows, from, p, ITERATIONS)
}

/// Two fits may stop at modes that differ in more than the force. The model without one is fitted again from the other's
/// mode before it is given up, the model with one if its marginal likelihood is far below.
fn again_from_the_better(windows: &[Window], models: &mut [(Mode, Priors)]) {
    let [without, with] = models else { return };
    let gain = LOG_ODDS + with.0.evidence - without.0.evidence;
    let (better, worse) = if gain > 0.0 { (with, without) } else { (without, with) };
    if !(-FAR..=0.0).contains(&gain) {
        let again = other_lead(windows, &better.0.q, &worse.1);
        if let Some(again) = again.filter(|again| again.evidence > worse.0.evidence) {
            worse.0 = again;
        }
    }
}

/// The bursts of the windows that are informative about the shared parameters, or of the others.
fn of(bursts: &[Vec<Burst>], informs: &[bool], which: bool) -> Vec<Vec<Burst>> {
    bursts.iter().zip(informs).filter(|(_, informs)| **informs == which).map(|(b, _)| b.clone()).collect()
}

/// The windows of a log.
struct Fitted<'a> {
    /// Those that are informative about the shared parameters.
    windows: &'a [Window<'a>],
    all: &'a [Window<'a>],
    informs: &'a [bool],
    proposed: &'a [Vec<Burst>],
}

impl Fitted<'_> {
    /// The mode of all windows: those that are not informative about the shared parameters are fitted at the mode of the
    /// others. None if no fit converges.
    fn whole(&self, (found, priors): &(Mode, Priors)) -> Option<Mode> {
        if !self.informs.contains(&false) {
            return Some(found.clone());
        }
        let fixed = Priors { is_fixed: true, ..*priors };
        let others: Vec<Window> = self
            .all
            .iter()
            .zip(self.informs)
            .filter(|(_, informs)| !**informs)
            .map(|(w, _)| w.clone())
            .collect();
        let from = Parameters { shared: found.q.shared, bursts: of(self.proposed, self.informs, false) };
        let first = mode(&others, from, &fixed, ITERATIONS)?;
        let changed = with_changes(&others, first, &fixed);
        let (mut own, mut other) = (found.q.bursts.iter(), changed.q.bursts.iter());
        let bursts =
            self.informs.iter().filter_map(|informs| if *informs { own.next() } else { other.next() });
        let q = Parameters { shared: found.q.shared, bursts: bursts.cloned().collect() };
        // At its mode already: this gives the equations of all windows.
        let mut whole = mode(self.all, q, priors, 0)?;
        whole.factors.shared.clone_from(&found.factors.shared);
        Some(whole)
    }

    /// Pairs of draws of the parameters of one model; the two of a pair lie on opposite sides of the mode.
    fn draws(&self, (found, priors): &(Mode, Priors), mode: &Mode, pairs: usize) -> Vec<Parameters> {
        let mut out = Vec::with_capacity(2 * pairs);
        let mut random = Random::stream(SEED, "edges");
        let axes = axes(self.windows, found, priors);
        for _ in 0..pairs {
            let z: Vec<f64> = (0..SHARED).map(|_| random.normal()).collect();
            let own: Vec<Vec<f64>> =
                mode.e.windows.iter().map(|w| (0..w.n).map(|_| random.normal()).collect()).collect();
            for sign in [1.0, -1.0] {
                let signed = |z: &[f64]| z.iter().map(|z| sign * z).collect::<Vec<f64>>();
                let q = displaced(mode, &shared_draw(&axes, &signed(&z)));
                let bursts = own.iter().enumerate().map(|(w, z)| {
                    own_draw(mode, &q, (w, &self.all[w]), &signed(z))
                        .unwrap_or_else(|| mode.q.bursts[w].clone())
                });
                out.push(Parameters { bursts: bursts.collect(), shared: q.shared });
            }
        }
        out
    }
}
