//! In: the samples and a fit. Out: the hyperparameters of the disturbance model.

use crate::math::solve::{cholesky, solve};
use crate::model::samples::Samples;
use crate::model::transitions::Disturbance;
use crate::segment::fitted::{Fit, Group};
use crate::segment::gauss_newton::{Normal, Rows, normal};
use crate::segment::options::SegmentOptions;

/// Hyperparameters of the disturbance model by their marginal likelihood, the bursts' parameters integrated
/// out. They are posterior means, since the mode of a poorly identified variance is often 0.
pub(super) fn disturbance(x: &Samples, fit: &Fit, o: &SegmentOptions) -> Disturbance {
    let informative = fit.groups.iter().filter(|g| g.informs_hyperparameters());
    let groups: Vec<(&Group, Rows)> =
        informative.map(|g| (g, Rows::new(x, g, fit.disturbance.scale))).collect();
    let deviance = |w: &Disturbance| -> f64 {
        let group = |(g, rows): &(&Group, Rows)| {
            let Normal { mut a, rhs, deviance, log_det, .. } = normal(x, g, rows.clone(), w, o);
            if !cholesky(&mut a, g.size()) {
                return f64::INFINITY;
            }
            let mut step = rhs.clone();
            solve(&a, g.size(), &mut step);
            let explained: f64 = step.iter().zip(&rhs).map(|(s, p)| s * p).sum();
            let log_det_information: f64 = (0..g.size()).map(|i| 2.0 * a[i * (g.size() + 1)].ln()).sum();
            log_det + deviance - explained + log_det_information
        };
        // Prior of the relative sd of the flow: log-normal about 5 %, a factor of two.
        groups.iter().map(group).sum::<f64>() + ((w.tremor / 0.05).ln() / 2.0_f64.ln()).powi(2)
    };
    let hyperparameters = zero_walk(stamp_noise(fit.disturbance, deviance), deviance);
    flow_deviation(hyperparameters, deviance)
}

/// Sd of the stamps: its posterior root mean square on a grid, since it is poorly identified.
fn stamp_noise(start: Disturbance, deviance: impl Fn(&Disturbance) -> f64) -> Disturbance {
    let mut trials = vec![(deviance(&start), 0.0)];
    for stamp_sd_s in [0.0025_f64, 0.005, 0.01, 0.02, 0.04] {
        // Larger values are rare: tried only if the likelihood still rises.
        let best = trials
            .iter()
            .fold((f64::INFINITY, 0.0), |best, &trial| if trial.0 < best.0 { trial } else { best });
        if stamp_sd_s > 2.5 * f64::max(best.1, 0.005) {
            break;
        }
        trials.push((deviance(&Disturbance { stamp_sd_s, ..start }), stamp_sd_s));
    }
    Disturbance { stamp_sd_s: root_mean_square(&trials, |_| 1.0).unwrap_or(0.0), ..start }
}

/// Random walk of the zero: its posterior root mean square on a grid. A slow walk is poorly identified, yet it
/// can dominate the error of a mass.
fn zero_walk(hyperparameters: Disturbance, deviance: impl Fn(&Disturbance) -> f64) -> Disturbance {
    let walks_g = [hyperparameters.zero_g, 0.001, 0.01, 0.03, 0.1, 0.2, 0.4];
    let trials = walks_g.map(|zero_g| (deviance(&Disturbance { zero_g, ..hyperparameters }), zero_g));
    // The prior is proportional to 1/intensity: larger walks are rarer.
    Disturbance {
        zero_g: root_mean_square(&trials, |zero_g| 1.0 / zero_g).unwrap_or(hyperparameters.zero_g),
        ..hyperparameters
    }
}

/// Posterior root mean square over trials (deviance, value), with a prior weight of each value.
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

/// Posterior mean of the logarithms of tremor and oscillation frequency on a grid. The grid is so fine that one
/// reading hardly changes the mean. The search goes outward from the middle until the weight is negligible.
/// Each frequency starts from the likeliest tremor of the one before.
fn flow_deviation(hyperparameters: Disturbance, deviance: impl Fn(&Disturbance) -> f64) -> Disturbance {
    const FREQUENCIES_RAD_PER_S: [f64; 5] = [2.0, 2.83, 4.0, 5.66, 8.0];
    const TREMORS: [f64; 11] = [0.01, 0.014, 0.02, 0.028, 0.04, 0.057, 0.08, 0.113, 0.16, 0.226, 0.32];
    /// Difference of deviance from the best above which the weight of a trial is below a hundredth.
    const NEGLIGIBLE: f64 = 10.0;
    let mut trials: Vec<(f64, Disturbance)> = Vec::new();
    let mut least = f64::INFINITY;
    // Index of the best tremor for a frequency, if its weight is not negligible.
    let mut row = |from: usize, frequency: usize| {
        let mut best = (f64::INFINITY, from);
        let mut outward = |places: &mut dyn Iterator<Item = usize>| {
            let mut before = f64::INFINITY;
            for k in places {
                let trial = Disturbance {
                    tremor: TREMORS[k],
                    swing_rad_per_s: FREQUENCIES_RAD_PER_S[frequency],
                    ..hyperparameters
                };
                let value = deviance(&trial);
                trials.push((value, trial));
                least = least.min(value);
                if value < best.0 {
                    best = (value, k);
                }
                if value > before && value > least + NEGLIGIBLE {
                    return;
                }
                before = value;
            }
        };
        outward(&mut (from..TREMORS.len()));
        outward(&mut (0..from).rev());
        (best.0 < least + NEGLIGIBLE).then_some(best.1)
    };
    // From 0.04 at 4 rad/s; from its best tremor to higher and to lower frequencies.
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
        Disturbance {
            tremor: (sum[1] / sum[0]).exp(),
            swing_rad_per_s: (sum[2] / sum[0]).exp(),
            ..hyperparameters
        }
    } else {
        hyperparameters
    }
}
