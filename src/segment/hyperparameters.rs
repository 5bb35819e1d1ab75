//! In: the samples and a fit. Out: what is assumed of hand and scale beside the bursts.

use crate::math::solve::{cholesky, solve};
use crate::model::samples::Samples;
use crate::model::transitions::Disturbance;
use crate::segment::fitted::{Fit, Group};
use crate::segment::gauss_newton::{Normal, Rows, normal};
use crate::segment::options::SegmentOptions;

/// Chooses what is assumed of hand and scale by their marginal likelihood: the bursts' parameters are free in it, so that what they can
/// explain is not taken for steadiness. Walk and unsteadiness are averaged over its posterior, since a log that hardly tells of them must not make
/// them vanish.
pub(super) fn disturbance(x: &Samples, fit: &Fit, o: &SegmentOptions) -> Disturbance {
    let told = fit.groups.iter().filter(|g| g.is_told());
    let groups: Vec<(&Group, Rows)> = told.map(|g| (g, Rows::new(x, g, fit.disturbance.scale))).collect();
    let deviance = |w: &Disturbance| -> f64 {
        let group = |(g, rows): &(&Group, Rows)| {
            let Normal { mut a, pull, deviance, log_det, .. } = normal(x, g, rows.clone(), w, o);
            if !cholesky(&mut a, g.size()) {
                return f64::INFINITY;
            }
            let mut step = pull.clone();
            solve(&a, g.size(), &mut step);
            let gained: f64 = step.iter().zip(&pull).map(|(s, p)| s * p).sum();
            let freedom: f64 = (0..g.size()).map(|i| 2.0 * a[i * (g.size() + 1)].ln()).sum();
            log_det + deviance - gained + freedom
        };
        // Hands show some 5 %, give or take a factor of two.
        groups.iter().map(group).sum::<f64>() + ((w.tremor / 0.05).ln() / 2.0_f64.ln()).powi(2)
    };
    let chosen = walk_of_zero(stamps(fit.disturbance, deviance), deviance);
    unsteadiness(chosen, deviance)
}

/// Uncertainty of the stamps: its mean square over the posterior on a grid, since between two of its places hardly anything tells.
fn stamps(even: Disturbance, deviance: impl Fn(&Disturbance) -> f64) -> Disturbance {
    let mut trials = vec![(deviance(&even), 0.0)];
    for stamp_sd_s in [0.0025_f64, 0.005, 0.01, 0.02, 0.04] {
        // Stamps this uneven are rare: looked for only where those before were uneven.
        let best = trials
            .iter()
            .fold((f64::INFINITY, 0.0), |best, &trial| if trial.0 < best.0 { trial } else { best });
        if stamp_sd_s > 2.5 * f64::max(best.1, 0.005) {
            break;
        }
        trials.push((deviance(&Disturbance { stamp_sd_s, ..even }), stamp_sd_s));
    }
    Disturbance { stamp_sd_s: root_mean_square(&trials, |_| 1.0).unwrap_or(0.0), ..even }
}

/// Walk of the zero: its mean square over the posterior on a grid, since a log hardly tells of a slow walk that yet makes up most of what a mass is off.
fn walk_of_zero(chosen: Disturbance, deviance: impl Fn(&Disturbance) -> f64) -> Disturbance {
    let walks_g = [chosen.zero_g, 0.001, 0.01, 0.03, 0.1, 0.2, 0.4];
    let trials = walks_g.map(|zero_g| (deviance(&Disturbance { zero_g, ..chosen }), zero_g));
    // A zero that walks more is as much rarer.
    Disturbance {
        zero_g: root_mean_square(&trials, |zero_g| 1.0 / zero_g).unwrap_or(chosen.zero_g),
        ..chosen
    }
}

/// Root of the mean square of trials, each a misfit and a value, by likelihood and by what is expected of the value before.
fn root_mean_square(trials: &[(f64, f64)], prior: impl Fn(f64) -> f64) -> Option<f64> {
    let least = trials.iter().fold(f64::INFINITY, |least, trial| least.min(trial.0));
    let (mut sum, mut squares) = (0.0, 0.0);
    for &(deviance, value) in trials {
        let weight = f64::exp((least - deviance) / 2.0) * prior(value);
        sum += weight;
        squares += weight * value * value;
    }
    (sum > 0.0).then(|| (squares / sum).sqrt())
}

/// Tremor and swing averaged over their posterior on a grid fine enough that one reading more or less hardly moves the mean: outward from the middle as far as
/// there is weight, for each swing from the tremor that was likeliest at the one before.
fn unsteadiness(chosen: Disturbance, deviance: impl Fn(&Disturbance) -> f64) -> Disturbance {
    const SWINGS: [f64; 5] = [2.0, 2.83, 4.0, 5.66, 8.0];
    const TREMORS: [f64; 11] = [0.01, 0.014, 0.02, 0.028, 0.04, 0.057, 0.08, 0.113, 0.16, 0.226, 0.32];
    /// A trial that is so much worse than the best weighs less than a hundredth of it.
    const NO_WEIGHT: f64 = 10.0;
    let mut trials: Vec<(f64, Disturbance)> = Vec::new();
    let mut least = f64::INFINITY;
    // Where the best of a swing lies, if it has any weight.
    let mut row = |from: usize, swing: usize| {
        let mut here = (f64::INFINITY, from);
        let mut outward = |places: &mut dyn Iterator<Item = usize>| {
            let mut before = f64::INFINITY;
            for k in places {
                let trial = Disturbance { tremor: TREMORS[k], swing_rad_per_s: SWINGS[swing], ..chosen };
                let found = deviance(&trial);
                trials.push((found, trial));
                least = least.min(found);
                if found < here.0 {
                    here = (found, k);
                }
                if found > before && found > least + NO_WEIGHT {
                    return;
                }
                before = found;
            }
        };
        outward(&mut (from..TREMORS.len()));
        outward(&mut (0..from).rev());
        (here.0 < least + NO_WEIGHT).then_some(here.1)
    };
    // From 0.04 at 4 rad/s, and from what is likeliest there to quicker and to slower swings.
    let likeliest = row(4, 2).unwrap_or(4);
    for side in [[3, 4], [1, 0]] {
        let _ = side.into_iter().try_fold(likeliest, &mut row);
    }
    let mut sum = [0.0; 3];
    for (deviance, trial) in &trials {
        let weight = (-(deviance - least) / 2.0).exp();
        sum[0] += weight;
        sum[1] += weight * trial.tremor.ln();
        sum[2] += weight * trial.swing_rad_per_s.ln();
    }
    if sum[0] > 0.0 {
        Disturbance { tremor: (sum[1] / sum[0]).exp(), swing_rad_per_s: (sum[2] / sum[0]).exp(), ..chosen }
    } else {
        chosen
    }
}
