//! In: the used samples and proposed bursts. Out: the bursts and the scale's lag that explain the samples best, with covariances.
//!
//! All edges of a log share one lag. Method: Gauss-Newton on the whitened residuals of all groups at once; the lag is eliminated by
//! its Schur complement, so each group stays small. What is assumed of hand and scale ([`Wander`]) is chosen by likelihood between the
//! rounds. Sd are those of the posterior with the stated expectation of ramps and lag (Tarantola, Inverse Problem Theory, 3.2).

use crate::estimate::Estimate;
use crate::model::samples::Samples;
use crate::model::scale::Scale;
use crate::model::transitions::Disturbance;
use crate::segment::fitted::{Expected, Fit, Group};
use crate::segment::gauss_newton::{Known, Moved};
use crate::segment::options::SegmentOptions;
use crate::segment::{gauss_newton, hyperparameters};

/// Steps that do not shrink to this share from one to the next go too far.
const SHRINKS: f64 = 0.7;

/// The fit with what is expected of the scale, and what its last step told.
pub(super) fn fitted(x: &Samples, groups: &[Group], expected: Expected, o: &SegmentOptions) -> (Fit, Moved) {
    let (tau_s, lead_s) = (expected.log_tau_s.value.exp(), expected.lead_s.value);
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
    let tau_s = Estimate::new(tau_s, tau_s * expected.log_tau_s.sd);
    let mut fit = Fit { groups: groups.to_vec(), disturbance, tau_s, lead_s: Some(expected.lead_s) };
    let mut own = o.clone();
    rounds(x, &mut fit, expected, (o, &mut own), 8);
    fit.disturbance = hyperparameters::disturbance(x, &fit, &own);
    let last = rounds(x, &mut fit, expected, (o, &mut own), 7);
    (fit, last)
}

/// A fit again where something else is expected of the scale, what is assumed of the hand left as it is; and its misfit.
pub(super) fn refitted(x: &Samples, fit: &Fit, expected: Expected, o: &SegmentOptions) -> (Fit, f64) {
    let mut fit = fit.clone();
    fit.disturbance.scale =
        Scale { tau_s: expected.log_tau_s.value.exp(), lead_s: fit.disturbance.scale.lead_s };
    let last = rounds(x, &mut fit, expected, (o, &mut o.clone()), 6);
    (fit, last.deviance)
}

/// So many steps, or until nothing moves any more. One hand's ramps resemble each other: what is expected of each follows their mean, which itself is expected near
/// the option's: of the two options the second is what this hand has shown so far.
fn rounds(
    x: &Samples,
    fit: &mut Fit,
    expected: Expected,
    (o, own): (&SegmentOptions, &mut SegmentOptions),
    most: usize,
) -> Moved {
    let mut last = Moved::none();
    let mut share = 1.0;
    let mut known: Vec<Option<Known>> = fit.groups.iter().map(|_| None).collect();
    for k in 0..most {
        let before_s = last.largest_s;
        last = gauss_newton::improve(x, fit, &expected, own, share);
        // What contradicts the shape, a disturbed edge above all, can pull it to and fro for ever. The first steps are long because there is far to go.
        if k > 1 && last.largest_s > SHRINKS * before_s {
            share = 0.5;
        }
        let now = last.known.drain(..);
        known.iter_mut().zip(now).for_each(|(known, now)| *known = now.or(known.take()));
        let before = own.ramp_s;
        own.ramp_s = usual_ramp(fit, o);
        if last.largest_s.max((own.ramp_s - before).abs()) < 1e-4 {
            break;
        }
    }
    for (group, known) in fit.groups.iter_mut().zip(known) {
        if let Some(known) = known {
            group.covariance = known.covariance();
        }
    }
    last
}

/// Mean ramp of this hand, s: the mean of the fitted ones and of two more that the option gives.
pub(super) fn usual_ramp(fit: &Fit, o: &SegmentOptions) -> f64 {
    let ramps: Vec<f64> = fit
        .groups
        .iter()
        .filter(|g| g.is_told())
        .flat_map(|g| &g.bursts)
        .flat_map(|b| [b.rise_ramp_s, b.fall_ramp_s])
        .collect();
    (ramps.iter().sum::<f64>() + 2.0 * o.ramp_s) / (ramps.len() + 2) as f64
}
