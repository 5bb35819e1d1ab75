//! In: the readings of a scale while a load rests on it. Out: colour of the noise, drift, creep, and how the readout
//! treats small changes.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::distribution::fisher_above;
use crate::math::fourier::power;
use crate::math::line::{Line, line};
use crate::math::robust::median;
use std::f64::consts::PI;

/// A shorter rest is not used, s and readings.
const LEAST_S: f64 = 2.0;
const LEAST: usize = 12;
/// A rest whose variance is larger than usual by so many of its sd is disturbed.
const SDS: f64 = 4.0;
/// Readings so near to a mass give the levels beside it, s.
const NEAR_S: f64 = 8.0;
/// Time constants of creep that are tried, s, and the time over which it is stated, s.
const CREEP_S: [f64; 5] = [5.0, 10.0, 20.0, 40.0, 80.0];
pub(super) const CREPT_S: f64 = 10.0;
/// Readings of one periodogram.
const PERIODOGRAM: usize = 32;
/// A load below this is none, g; a reading beyond it is no followed zero.
const EMPTY_G: f64 = 1.0;
/// Zero is followed if the means of a second scatter so much less without load than with one by chance this rarely.
const CHANCE: f64 = 1e-4;
/// Fewest changes of the reading from which a held one is told, and how much larger they are than a step.
const CHANGES: usize = 15;
const LARGER: f64 = 1.5;

/// Readings at rest, in order of time, and the line through them.
#[derive(Debug, Clone)]
pub(super) struct Rest {
    t: Vec<f64>,
    y: Vec<f64>,
    line: Line,
}

impl Rest {
    pub fn new(t: Vec<f64>, y: Vec<f64>) -> Option<Self> {
        let long = t.len() >= LEAST && t[t.len() - 1] - t[0] >= LEAST_S;
        let line = long.then(|| line(&t, &y)).flatten()?;
        Some(Self { t, y, line })
    }

    /// Readings less their line.
    fn noise(&self) -> Vec<f64> {
        let mean = |x: &[f64]| x.iter().sum::<f64>() / x.len() as f64;
        let (t0, y0) = (mean(&self.t), mean(&self.y));
        self.t.iter().zip(&self.y).map(|(t, y)| y - y0 - self.line.slope * (t - t0)).collect()
    }

    fn is_empty(&self) -> bool {
        self.y.iter().all(|y| y.abs() < EMPTY_G)
    }
}

/// The rests that nothing disturbed: a finger on a mass scatters the readings more. Scatter that noise has anyway, by a
/// readout in steps, is no disturbance.
pub(super) fn undisturbed(mut rests: Vec<Rest>, noise_g: f64) -> Vec<Rest> {
    let usual = median(&mut rests.iter().map(|rest| rest.line.variance).collect::<Vec<_>>());
    let limit = |rest: &Rest| 1.0 + SDS * (2.0 / rest.line.degrees).sqrt();
    rests.retain(|rest| rest.line.variance <= limit(rest) * usual.max(noise_g * noise_g));
    rests
}

/// Correlation of the noise of a reading with that of the next.
pub(super) fn correlation(rests: &[Rest]) -> Maybe {
    let (mut products, mut squares, mut n) = (0.0, 0.0, 0.0);
    for rest in rests {
        let noise = rest.noise();
        products += noise.windows(2).map(|w| w[0] * w[1]).sum::<f64>();
        squares += noise.iter().map(|e| e * e).sum::<f64>();
        n += noise.len() as f64;
    }
    if squares <= 0.0 {
        return Err(Undefined::because("the reading does not change at rest"));
    }
    // A line takes two degrees of freedom of each rest, and with them so much of the correlation.
    let found = products / squares + 2.0 * rests.len() as f64 / n;
    Ok(Estimate::new(found.clamp(-1.0, 1.0), n.sqrt().recip()))
}

/// By how much the level rises with a mass, from the rests beside it. `steps` are instants, s, and masses, g; `k` is
/// the place of the mass.
pub(super) fn rise(
    rests: &[Rest],
    steps: &[(f64, f64)],
    k: usize,
    noise_g: f64,
    correlation: f64,
) -> Option<Estimate> {
    let at = |k: usize| steps.get(k).map(|step| step.0);
    let (from_s, to_s) = (k.checked_sub(1).and_then(at), at(k + 1).unwrap_or(f64::INFINITY));
    let middle = |from_s: f64, to_s: f64| -> Option<(f64, f64)> {
        let within = |rest: &&Rest| rest.t[0] > from_s && rest.t[rest.t.len() - 1] < to_s;
        let readings = rests.iter().filter(within).flat_map(|rest| rest.t.iter().zip(&rest.y));
        let near: Vec<f64> =
            readings.filter(|(t, _)| (**t - steps[k].0).abs() < NEAR_S).map(|(_, y)| *y).collect();
        let n = near.len() as f64;
        (n >= LEAST as f64 / 2.0).then(|| (near.iter().sum::<f64>() / n, n))
    };
    let (before, n_before) = middle(from_s.unwrap_or(f64::NEG_INFINITY), steps[k].0)?;
    let (after, n_after) = middle(steps[k].0, to_s)?;
    let wider = ((1.0 + correlation) / (1.0 - correlation)).clamp(1.0, 100.0);
    Some(Estimate::new(after - before, noise_g * (wider * (1.0 / n_before + 1.0 / n_after)).sqrt()))
}

/// Power density of the noise, one-sided: frequencies, Hz, and densities, g2/Hz (Welch 1967, Hann window).
pub(super) fn spectrum(rests: &[Rest], interval_s: f64) -> (Vec<f64>, Vec<f64>) {
    let window = |i: usize| (PI * (i as f64 + 0.5) / PERIODOGRAM as f64).sin().powi(2);
    let mean_square = (0..PERIODOGRAM).map(|i| window(i).powi(2)).sum::<f64>() / PERIODOGRAM as f64;
    let (mut sum, mut n) = (vec![0.0; PERIODOGRAM / 2 + 1], 0.0);
    for rest in rests {
        let noise = rest.noise();
        for part in noise.windows(PERIODOGRAM).step_by(PERIODOGRAM / 2) {
            let tapered: Vec<f64> = part.iter().enumerate().map(|(i, e)| window(i) * e).collect();
            sum.iter_mut().zip(power(&tapered)).for_each(|(sum, one)| *sum += one / mean_square);
            n += 1.0;
        }
    }
    // At 0 a line was taken off, and at half the rate the bin is half as wide.
    let width_hz = 1.0 / (interval_s * PERIODOGRAM as f64);
    let inner = 1..PERIODOGRAM / 2;
    let densities = inner.clone().map(|k| sum[k] / n / width_hz).collect();
    if n > 0.0 { (inner.map(|k| k as f64 * width_hz).collect(), densities) } else { (Vec::new(), Vec::new()) }
}

/// Drift, g/s, and creep within [`CREPT_S`] in % of a load: together they explain the slopes of all rests. A load that
/// comes or goes creeps on in its direction, in one time constant. `steps` are instants, s, and masses, g.
pub(super) fn drift_and_creep(rests: &[Rest], steps: &[(f64, f64)], correlation: f64) -> (Maybe, Maybe) {
    let few = |n: usize| Undefined::because(format!("fewer than {n} rests of {LEAST_S} s or more"));
    if rests.len() < 3 {
        return (Err(few(3)), Err(few(3)));
    }
    // Correlated noise scatters the slope more.
    let wider = ((1.0 + correlation) / (1.0 - correlation)).clamp(1.0, 100.0).sqrt();
    let usual = (rests.iter().map(|rest| rest.line.variance).sum::<f64>() / rests.len() as f64).sqrt();
    let rows: Vec<(f64, f64)> = rests
        .iter()
        .map(|rest| {
            let scatter = rest.line.variance.sqrt();
            let sd =
                if scatter > 0.0 { rest.line.slope_sd * usual / scatter } else { slope_sd(&rest.t, usual) };
            (rest.line.slope, (sd * wider).max(1e-9))
        })
        .collect();
    let fits: Vec<Slopes> = CREEP_S
        .iter()
        .filter_map(|tau_s| {
            let crept = |t: f64| -> f64 {
                let gone = |at_s: f64| 1.0 - (-(t - at_s) / tau_s).exp();
                steps.iter().filter(|s| s.0 < t).map(|s| s.1 * gone(s.0)).sum()
            };
            let slope = |rest: &Rest| {
                let creep: Vec<f64> = rest.t.iter().map(|t| crept(*t)).collect();
                line(&rest.t, &creep).map(|line| line.slope)
            };
            let x: Vec<f64> = rests.iter().map(slope).collect::<Option<_>>()?;
            Slopes::new(&x, &rows, 1.0 - (-CREPT_S / tau_s).exp())
        })
        .collect();
    let Some(best) = fits.iter().min_by(|a, b| a.cost.total_cmp(&b.cost)).filter(|_| rests.len() >= 4) else {
        return (
            Slopes::new(&vec![0.0; rows.len()], &rows, 0.0).map_or(Err(few(3)), |s| Ok(s.drift)),
            Err(few(4)),
        );
    };
    // The sd of the creep includes how far it differs between time constants that explain the slopes as well.
    let odds: Vec<f64> = fits.iter().map(|fit| (0.5 * (best.cost - fit.cost)).exp()).collect();
    let between = |of: fn(&Slopes) -> f64| {
        let square: f64 = fits.iter().zip(&odds).map(|(fit, w)| w * (of(fit) - of(best)).powi(2)).sum();
        (square / odds.iter().sum::<f64>()).sqrt()
    };
    let wide = |e: Estimate, of: fn(&Slopes) -> f64| Ok(Estimate::new(e.value, e.sd.hypot(between(of))));
    (wide(best.drift, |s| s.drift.value), wide(best.creep.scaled(100.0), |s| 100.0 * s.creep.value))
}

/// Sd of a slope under white noise.
fn slope_sd(t: &[f64], noise_g: f64) -> f64 {
    let mean = t.iter().sum::<f64>() / t.len() as f64;
    noise_g / t.iter().map(|t| (t - mean).powi(2)).sum::<f64>().sqrt()
}

/// Slopes of rests as the sum of a drift and of creep.
struct Slopes {
    drift: Estimate,
    creep: Estimate,
    cost: f64,
}

impl Slopes {
    /// Weighted least squares; `rows` are slopes with their sd. The sd is widened if they scatter by more.
    fn new(x: &[f64], rows: &[(f64, f64)], shown: f64) -> Option<Self> {
        let creeps = x.iter().any(|x| *x != 0.0);
        let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
            x.iter().zip(rows).map(|(x, (y, sd))| of(*x, *y) / (sd * sd)).sum()
        };
        let (one, sx, sxx) = (sum(&|_, _| 1.0), sum(&|x, _| x), sum(&|x, _| x * x));
        let (sy, sxy) = (sum(&|_, y| y), sum(&|x, y| x * y));
        let det = one * sxx - sx * sx;
        let (creep, drift, creep_var, drift_var) = if creeps {
            let creep = (one * sxy - sx * sy) / det;
            (creep, (sy - creep * sx) / one, one / det, sxx / det)
        } else {
            (0.0, sy / one, 0.0, one.recip())
        };
        let cost = sum(&|x, y| (y - drift - creep * x).powi(2));
        let degrees = rows.len() as f64 - if creeps { 2.0 } else { 1.0 };
        let wider = (cost / degrees).max(1.0);
        let of =
            |value: f64, var: f64, scale: f64| Estimate::new(value * scale, (var * wider).sqrt() * scale);
        let found = Self { drift: of(drift, drift_var, 1.0), creep: of(creep, creep_var, shown), cost };
        (found.drift.sd.is_finite() && found.creep.sd.is_finite()).then_some(found)
    }
}

/// Whether the reading follows zero: without load, means over a second scatter far less than with one.
pub(super) fn follows_zero(rests: &[Rest], interval_s: f64) -> bool {
    let each = ((1.0 / interval_s).round() as usize).max(2);
    // Variance of the means and its degrees of freedom, in the variance that white noise gives.
    let scatter = |empty: bool| -> (f64, f64) {
        let (mut square, mut degrees) = (0.0, 0.0);
        for rest in rests.iter().filter(|rest| rest.is_empty() == empty) {
            let noise = rest.noise();
            let means: Vec<f64> =
                noise.chunks_exact(each).map(|part| part.iter().sum::<f64>() / each as f64).collect();
            if means.len() > 2 {
                square += means.iter().map(|m| m * m).sum::<f64>();
                degrees += means.len() as f64 - 2.0;
            }
        }
        (square / degrees, degrees)
    };
    let ((empty, of_empty), (loaded, of_loaded)) = (scatter(true), scatter(false));
    of_empty > 0.0
        && of_loaded > 0.0
        && loaded > 0.0
        && fisher_above(loaded / empty, of_loaded, of_empty) < CHANCE
}

/// The smallest change of a reading that is held until it differs enough, g; 0 if it moves by single steps.
pub(super) fn held_g(y: &[f64], step_g: f64) -> f64 {
    let changes = y.windows(2).map(|w| (w[1] - w[0]).abs()).filter(|d| *d > 0.5 * step_g && *d > 0.0);
    let mut small: Vec<f64> = changes.collect();
    small.sort_by(f64::total_cmp);
    // A knock or a row that was lost is no single step, so that a few smaller ones are let pass.
    let Some(least) = small.get(small.len() / 50).copied() else { return 0.0 };
    let near = small.iter().filter(|d| **d < 3.0 * least).count();
    if step_g > 0.0 && least > LARGER * step_g && near >= CHANGES { least } else { 0.0 }
}
