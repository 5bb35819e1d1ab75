//! In: the used samples and proposed bursts. Out: the fit, with draws of its parameters.

use crate::estimate::Estimate;
use crate::math::random::Random;
use crate::model::burst::Burst;
use crate::model::recorded::record;
use crate::model::response::{NONE_S, ScaleResponse};
use crate::model::samples::Samples;
use crate::model::window::Window;
use crate::segment::average;
use crate::segment::axes::{axes, displaced, own_draw, own_sides, shared_draw};
use crate::segment::beats::strongest;
use crate::segment::changes::with_changes;
use crate::segment::fitted::{Fit, weighted};
use crate::segment::groups::groups;
use crate::segment::mode::{ITERATIONS, Mode, mode};
use crate::segment::models::{
    Model, Open, force_log_odds, has_changes, likeliest, models, probabilities, shares,
};
use crate::segment::options::SegmentOptions;
use crate::segment::parameters::{BEAT, BEAT_HZ, DELAY_S, LEAD_S, Parameters, SHARED, moved, still};
use crate::segment::priors::{LAG, Priors, hand, start};

/// Number of draws of the parameters.
pub(crate) const DRAWS: usize = 40;
/// Most iterations of the first fit, whose ramps are held near their medians: free ones would take the
/// place of a lag that is not yet right.
const FIRST_ITERATIONS: usize = 4;
const STIFF: f64 = 0.2;
/// Sd of the logarithm of a given lag, and of a given lead in s, at least.
const GIVEN_LOG_SD: f64 = 1e-3;
const GIVEN_SD_S: f64 = 1e-5;
/// Log odds from which a force is reported: strong evidence (Kass and Raftery, Bayes factors, Journal of the American
/// Statistical Association 90, 1995; from memory).
const SEEN: f64 = 3.0;
/// Times whose sd is larger were restored from uncertain stamps, s.
const UNSURE_S: f64 = 0.004;
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

/// The fit of proposed bursts; None if no fit converges. `known` is the response that was given, if any.
pub(super) fn fit(
    x: &Samples,
    proposed: &[Vec<Burst>],
    known: Option<&ScaleResponse>,
    o: &SegmentOptions,
) -> Option<Fit> {
    let mut groups = groups(x, proposed);
    let all: Vec<Window> = groups.iter().map(|g| g.window(x)).collect();
    let proposed: Vec<Vec<Burst>> = groups.iter().map(|g| g.bursts.clone()).collect();
    let priors = priors(x, known, o);
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
    // A reading that is rounded coarsely stands still as soon as water does, which resembles a force that ends. Errors of
    // the times, which last for a packet, resemble a force that varies with the flow.
    let like_force = x.is_coarse() || x.stamp_s > UNSURE_S;
    let open = Open { force: o.stream_lead_s.is_none(), response: known.is_none(), like_force };
    let models = models(&windows, with_beat_and_changes(&windows, first, &priors), open);
    let fitted = Fitted { windows: &windows, all: &all, informs: &informs, proposed: &proposed };
    let (likeliest, shares) = (likeliest(&models), shares(&models, DRAWS / 2));
    let likelier = fitted.whole(&models[likeliest])?;
    let probabilities = probabilities(&models);
    let (mut draws, mut weights, mut forced) = (Vec::with_capacity(DRAWS), Vec::new(), Vec::new());
    let mut random = Random::stream(SEED, "average");
    for k in [likeliest].into_iter().chain((0..models.len()).filter(|&k| k != likeliest && shares[k] > 0)) {
        let whole = if k == likeliest { likelier.clone() } else { fitted.whole(&models[k])? };
        let mut own = fitted.draws(&models[k], &whole, shares[k]);
        match known {
            None => average::give(&mut own, &average::lengths(&models[k].mode, o.ramp_s), &mut random),
            Some(known) if known.average_s > NONE_S => average::give_known(&mut own, known, &mut random),
            Some(_) => {}
        }
        if models[k].is_forced {
            forced.extend(own.iter().map(|q| q.shared[LEAD_S]));
        }
        weights.extend(vec![probabilities[k] / own.len().max(1) as f64; own.len()]);
        draws.extend(own);
    }
    let (mode, priors) = (&likelier, models[likeliest].priors);
    for (k, group) in groups.iter_mut().enumerate() {
        group.bursts.clone_from(&mode.q.bursts[k]);
        let recorded = record(&all[k], &group.bursts, &hand(&mode.q.shared, &priors));
        let (sum, n) = recorded.normalised().fold((0.0, 0.0), |(sum, n), z| (sum + z * z, n + 1.0));
        let taken_g: f64 = recorded.mean().iter().map(|flow| (-flow).max(0.0)).sum::<f64>() * all[k].grid_s;
        let taken = (taken_g / (TAKEN * x.noise_sd_g)).powi(2);
        group.excess = (sum / f64::max(n, 1.0)).max(if taken < MUCH { 0.0 } else { taken });
    }
    let delays: Vec<f64> = draws.iter().map(|q| q.shared[DELAY_S].exp() + q.earlier_s).collect();
    let lead_s = match o.stream_lead_s {
        Some(given) => Some(Estimate::exact(given)),
        None => (force_log_odds(&models) > SEEN && !like_force)
            .then(|| weighted(&forced, &vec![1.0; forced.len()], 0.0)),
    };
    let mode = mode.q.shared;
    Some(Fit {
        groups,
        places: Vec::new(),
        priors,
        mode,
        seed: SEED,
        delay_s: weighted(&delays, &weights, 0.0),
        draws,
        weights,
        lead_s,
    })
}

/// The mode without a force, changes and an oscillation.
fn first_mode(windows: &[Window], bursts: Vec<Vec<Burst>>, priors: &Priors) -> Option<Mode> {
    let from = slower(Parameters { shared: start(priors), bursts, average_s: 0.0, earlier_s: 0.0 }, priors);
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

fn priors(x: &Samples, known: Option<&ScaleResponse>, o: &SegmentOptions) -> Priors {
    let usual = Priors::default();
    // Behind an average a ramp is longer, and varies less.
    let average_s = known.map_or(0.0, |known| known.average_s);
    let ramp_s = o.ramp_s.hypot(average_s);
    let own = (o.ramp_s / ramp_s).powi(2);
    Priors {
        lead_s: (o.stream_lead_s.unwrap_or(0.0), GIVEN_SD_S),
        noise_sd_g: x.noise_sd_g,
        stamp_s: x.stamp_s,
        zero_g2_per_s: x.zero_g2_per_s(0.001),
        ramp_s,
        ramp_log_sd: (own * o.ramp_sd_s / o.ramp_s).clamp(0.1, 1.5),
        median_log_sd: own * usual.median_log_sd,
        log_delay_s: match known {
            Some(known) => {
                let value = known.lag_s.max(NONE_S);
                let sd = if average_s > NONE_S { 0.0 } else { known.delay_s.sd };
                (value.ln(), (sd / value).max(GIVEN_LOG_SD))
            }
            None => usual.log_delay_s,
        },
        log_bend: match known.map_or(0.0, |known| known.kernel().bend) {
            bend if bend > 0.0 => (bend.ln(), LAG.1),
            _ => LAG,
        },
        ..usual
    }
}

/// The parameters at a lag one sd above its median. A lag that is too short at the start lets the ramps take its place.
fn slower(from: Parameters, p: &Priors) -> Parameters {
    let mut by = [0.0; SHARED];
    by[DELAY_S] = p.log_delay_s.1;
    let (moved, _) = moved(&from, &by, &still(&from), 1.0);
    moved
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

/// The mode from the strongest oscillation of the readings; None if there is none. The posterior has a mode at each
/// frequency of an oscillation that explains the readings.
fn with_beat(windows: &[Window], found: &Mode, p: &Priors) -> Option<Mode> {
    let (hz, share) = strongest(windows, &found.q.bursts, &hand(&found.q.shared, p))?;
    let mut from = found.q.clone();
    from.shared[BEAT_HZ] = hz.ln();
    from.shared[BEAT] = share.ln();
    mode(windows, from, p, ITERATIONS).filter(|beating| beating.evidence > found.evidence)
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
    fn whole(&self, Model { mode: found, priors, .. }: &Model) -> Option<Mode> {
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
        let from = Parameters {
            shared: found.q.shared,
            bursts: of(self.proposed, self.informs, false),
            average_s: 0.0,
            earlier_s: 0.0,
        };
        let first = mode(&others, from, &fixed, ITERATIONS)?;
        let changed = with_changes(&others, first, &fixed);
        let (mut own, mut other) = (found.q.bursts.iter(), changed.q.bursts.iter());
        let bursts =
            self.informs.iter().filter_map(|informs| if *informs { own.next() } else { other.next() });
        let q = Parameters {
            shared: found.q.shared,
            bursts: bursts.cloned().collect(),
            average_s: 0.0,
            earlier_s: 0.0,
        };
        // At its mode already: this gives the equations of all windows.
        let mut whole = mode(self.all, q, priors, 0)?;
        whole.factors.shared.clone_from(&found.factors.shared);
        Some(whole)
    }

    /// Pairs of draws of the parameters of one model; the two of a pair lie on opposite sides of the mode.
    fn draws(&self, Model { mode: found, priors, .. }: &Model, mode: &Mode, pairs: usize) -> Vec<Parameters> {
        let mut out = Vec::with_capacity(2 * pairs);
        let mut random = Random::stream(SEED, "edges");
        let axes = axes(self.windows, found, priors);
        let sides: Vec<_> = self.all.iter().enumerate().map(|w| own_sides(mode, priors, w)).collect();
        for _ in 0..pairs {
            let z: Vec<f64> = (0..SHARED).map(|_| random.normal()).collect();
            let own: Vec<Vec<f64>> =
                mode.e.windows.iter().map(|w| (0..w.n).map(|_| random.normal()).collect()).collect();
            for sign in [1.0, -1.0] {
                let signed = |z: &[f64]| z.iter().map(|z| sign * z).collect::<Vec<f64>>();
                let q = displaced(mode, &shared_draw(&axes, &signed(&z)));
                let bursts = own.iter().enumerate().map(|(w, z)| {
                    own_draw(mode, &q, (w, &self.all[w]), (&signed(z), &sides[w]))
                        .unwrap_or_else(|| mode.q.bursts[w].clone())
                });
                out.push(Parameters { bursts: bursts.collect(), ..q });
            }
        }
        out
    }
}
