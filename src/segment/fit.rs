//! In: the used samples and proposed bursts. Out: the fitted bursts and the scale's lag, with covariances.
//!
//! All edges of a log share one lag. Method: Gauss-Newton on the whitened residuals of all groups at once; the
//! lag is eliminated by its Schur complement, so each group stays small. The hyperparameters ([`Disturbance`])
//! are estimated by marginal likelihood between the rounds. Sd are those of the posterior with the priors of
//! ramps and lag (Tarantola, Inverse Problem Theory, 3.2).

use crate::estimate::Estimate;
use crate::model::samples::Samples;
use crate::model::scale::Scale;
use crate::model::transitions::Disturbance;
use crate::segment::fitted::{Fit, Group, ScalePrior};
use crate::segment::gauss_newton::{GroupPosterior, StepResult};
use crate::segment::options::SegmentOptions;
use crate::segment::{gauss_newton, hyperparameters};

/// A step that does not shrink to this fraction of the one before is too long.
const MAX_RATIO: f64 = 0.7;

/// The fit under a prior of the scale, and the result of its last step.
pub(super) fn fitted(
    x: &Samples,
    groups: &[Group],
    prior: ScalePrior,
    o: &SegmentOptions,
) -> (Fit, StepResult) {
    let (tau_s, lead_s) = (prior.log_tau_s.value.exp(), prior.lead_s.value);
    let disturbance = Disturbance {
        scale: Scale { tau_s, lead_s },
        noise_sd_g: x.noise_sd_g,
        tremor: 0.06,
        swing_rad_per_s: 6.0,
        quality: 1.0,
        stamp_sd_s: 0.0,
        zero_g: 0.003,
        rest_flow_g_per_s: 0.0,
    };
    let tau_s = Estimate::new(tau_s, tau_s * prior.log_tau_s.sd);
    let mut fit = Fit { groups: groups.to_vec(), disturbance, tau_s, lead_s: Some(prior.lead_s) };
    let mut own = o.clone();
    rounds(x, &mut fit, prior, (o, &mut own), 8);
    fit.disturbance = hyperparameters::disturbance(x, &fit, &own);
    let last = rounds(x, &mut fit, prior, (o, &mut own), 7);
    (fit, last)
}

/// A fit repeated under another prior of the scale, with the same hyperparameters; and its deviance.
pub(super) fn refitted(x: &Samples, fit: &Fit, prior: ScalePrior, o: &SegmentOptions) -> (Fit, f64) {
    let mut fit = fit.clone();
    fit.disturbance.scale =
        Scale { tau_s: prior.log_tau_s.value.exp(), lead_s: fit.disturbance.scale.lead_s };
    let last = rounds(x, &mut fit, prior, (o, &mut o.clone()), 6);
    (fit, last.deviance)
}

/// Iterates to convergence, at most `most` steps. Ramps of one log resemble each other: the prior mean of each
/// is their mean, shrunk to the option's. `own` holds the options with that prior mean.
fn rounds(
    x: &Samples,
    fit: &mut Fit,
    prior: ScalePrior,
    (o, own): (&SegmentOptions, &mut SegmentOptions),
    most: usize,
) -> StepResult {
    let mut last = StepResult::none();
    let mut share = 1.0;
    let mut posteriors: Vec<Option<GroupPosterior>> = fit.groups.iter().map(|_| None).collect();
    for k in 0..most {
        let before_s = last.largest_s;
        last = gauss_newton::improve(x, fit, &prior, own, share);
        // Residuals that contradict the shape, as of a disturbed edge, can make the steps oscillate. The first
        // steps are exempt: they are long because the start is far off.
        if k > 1 && last.largest_s > MAX_RATIO * before_s {
            share = 0.5;
        }
        let now = last.posteriors.drain(..);
        posteriors.iter_mut().zip(now).for_each(|(posterior, now)| *posterior = now.or(posterior.take()));
        let before = own.ramp_s;
        own.ramp_s = usual_ramp(fit, o);
        if last.largest_s.max((own.ramp_s - before).abs()) < 1e-4 {
            break;
        }
    }
    for (group, posterior) in fit.groups.iter_mut().zip(posteriors) {
        if let Some(posterior) = posterior {
            group.covariance = posterior.covariance();
        }
    }
    last
}

/// Mean ramp of the log, s: the mean of the fitted ramps and of two pseudo-observations at the option's value.
pub(super) fn usual_ramp(fit: &Fit, o: &SegmentOptions) -> f64 {
    let ramps: Vec<f64> = fit
        .groups
        .iter()
        .filter(|g| g.informs_hyperparameters())
        .flat_map(|g| &g.bursts)
        .flat_map(|b| [b.rise_ramp_s, b.fall_ramp_s])
        .collect();
    (ramps.iter().sum::<f64>() + 2.0 * o.ramp_s) / (ramps.len() + 2) as f64
}
