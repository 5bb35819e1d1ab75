//! In: the samples and a fit. Out: what is assumed of hand and scale beside the bursts.

use super::SegmentOptions;
use super::fitted::{Fit, Group};
use super::samples::Samples;
use super::step::{Normal, Rows, normal};
use super::wander::Wander;
use crate::math::solve::{cholesky, solve};

/// Chooses what is assumed of hand and scale by their marginal likelihood: the bursts' parameters are free in it, so that what they can
/// explain is not taken for steadiness. Walk and unsteadiness are averaged over its posterior, since a log that hardly tells of them must not make
/// them vanish.
pub(super) fn wander(x: &Samples, fit: &Fit, o: &SegmentOptions) -> Wander {
    let told = fit.groups.iter().filter(|g| g.is_told());
    let groups: Vec<(&Group, Rows)> = told.map(|g| (g, Rows::new(x, g, fit.wander.scale))).collect();
    let misfit = |w: &Wander| -> f64 {
        let group = |(g, rows): &(&Group, Rows)| {
            let Normal { mut a, pull, misfit, log_det, .. } = normal(x, g, rows.clone(), w, o);
            if !cholesky(&mut a, g.size()) {
                return f64::INFINITY;
            }
            let mut step = pull.clone();
            solve(&a, g.size(), &mut step);
            let gained: f64 = step.iter().zip(&pull).map(|(s, p)| s * p).sum();
            let freedom: f64 = (0..g.size()).map(|i| 2.0 * a[i * (g.size() + 1)].ln()).sum();
            log_det + misfit - gained + freedom
        };
        // Hands show some 5 %, give or take a factor of two.
        groups.iter().map(group).sum::<f64>() + ((w.tremor / 0.05).ln() / 2.0_f64.ln()).powi(2)
    };
    let mut best = (misfit(&fit.wander), fit.wander);
    for stamp_sd_s in [0.005, 0.015, 0.045] {
        // Stamps this uneven are rare: looked for only where those before were uneven.
        if stamp_sd_s > 3.5 * best.1.stamp_sd_s.max(0.005) {
            break;
        }
        let trial = Wander { stamp_sd_s, ..fit.wander };
        let found = misfit(&trial);
        if found < best.0 {
            best = (found, trial);
        }
    }
    let chosen = walk_of_zero(best, misfit);
    unsteadiness(chosen, misfit)
}

/// Walk of the zero: its mean square over the posterior on a grid, since a log hardly tells of a slow walk that yet makes up most of what a mass is off.
fn walk_of_zero((misfit_of_chosen, chosen): (f64, Wander), misfit: impl Fn(&Wander) -> f64) -> Wander {
    let mut trials = vec![(misfit_of_chosen, chosen.zero_g)];
    for zero_g in [0.001, 0.01, 0.03, 0.1, 0.2, 0.4] {
        trials.push((misfit(&Wander { zero_g, ..chosen }), zero_g));
    }
    let least = trials.iter().fold(f64::INFINITY, |least, trial| least.min(trial.0));
    let (mut sum, mut squares) = (0.0, 0.0);
    for (misfit, zero_g) in trials {
        // A zero that walks more is as much rarer.
        let weight = (-(misfit - least) / 2.0).exp() / zero_g;
        sum += weight;
        squares += weight * zero_g * zero_g;
    }
    if sum > 0.0 { Wander { zero_g: (squares / sum).sqrt(), ..chosen } } else { chosen }
}

/// Tremor and swing averaged over their posterior on a grid: for each swing from the tremor that was likeliest at the one before, outward as far as
/// there is weight.
fn unsteadiness(chosen: Wander, misfit: impl Fn(&Wander) -> f64) -> Wander {
    const TREMORS: [f64; 6] = [0.01, 0.02, 0.04, 0.08, 0.16, 0.32];
    /// A trial that is so much worse than the best weighs less than a hundred-thousandth of it.
    const NO_WEIGHT: f64 = 24.0;
    let mut trials: Vec<(f64, Wander)> = Vec::new();
    let (mut least, mut likeliest) = (f64::INFINITY, 2);
    for swing_rad_per_s in [2.0, 4.0, 8.0] {
        let mut here = (f64::INFINITY, likeliest);
        let mut outward = |places: &mut dyn Iterator<Item = usize>| {
            let mut before = f64::INFINITY;
            for k in places {
                let trial = Wander { tremor: TREMORS[k], swing_rad_per_s, ..chosen };
                let found = misfit(&trial);
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
        outward(&mut (likeliest..TREMORS.len()));
        outward(&mut (0..likeliest).rev());
        likeliest = here.1;
    }
    let mut sum = [0.0; 3];
    for (misfit, trial) in &trials {
        let weight = (-(misfit - least) / 2.0).exp();
        sum[0] += weight;
        sum[1] += weight * trial.tremor.ln();
        sum[2] += weight * trial.swing_rad_per_s.ln();
    }
    if sum[0] > 0.0 {
        Wander { tremor: (sum[1] / sum[0]).exp(), swing_rad_per_s: (sum[2] / sum[0]).exp(), ..chosen }
    } else {
        chosen
    }
}
