//! In: the collected beverage. Out: the first drip.

use crate::bed::collected::Collected;
use crate::bed::lag::AGES;
use crate::bed::options::BedOptions;
use crate::estimate::{Estimate, Maybe, Undefined};

/// Two flows with a shorter gap than this are one, s.
const PAUSE_S: f64 = 1.0;
/// Window before and after the instant at which beverage is certain, s, and the further beverage up to which an onset
/// follows a power of time, g.
const BEFORE_S: f64 = 8.0;
const BEHIND_S: f64 = 1.5;
const BEHIND_G: f64 = 3.0;
/// Grids of the instants that are tried, s: a coarse one over all, a fine one around the best.
const COARSE_S: f64 = 0.1;
const GRID_S: f64 = 0.02;
const AROUND_S: f64 = 1.0;
/// Powers of time that are tried, in equal steps: from a flow that is constant at once to one that grows linearly.
const POWERS: usize = 6;
const POWER_STEP: f64 = 0.2;

/// First drip, s.
///
/// - measures: when the beverage begins to run
/// - formula: first instant of the first flow above `drip_g_per_s` (0.1 g/s) that brings at least `drip_g` (1 g) before
///   it stops. The beverage is constant before it and `a (t - t0)^q` after it; mean and sd of `t0` over all instants
///   and powers from 1 to 2, each weighted by the likelihood of its best level and `a`
/// - needs: the beverage channel
/// - minimum samples: 8 in the eight seconds around it
/// - valid when: the log holds a stretch without beverage before it
/// - reference: profile likelihood; a bed that fills at a constant rate gives `q = 1 + p` with the exponent `p` of its
///   drain law
pub(super) fn first_drip(c: &Collected, options: &BedOptions) -> Maybe {
    let Some((first, sure)) = first_flow(c, options) else {
        let (flow, mass) = (options.drip_g_per_s, options.drip_g);
        return Err(Undefined::because(format!(
            "no flow of {flow} g/s or more brought {mass} g of beverage"
        )));
    };
    let (sure_s, end_g) = (c.time_s[sure], c.smooth[sure].level + BEHIND_G);
    let behind = (sure..c.at(sure_s + BEHIND_S)).take_while(|&i| c.smooth[i].level < end_g).last();
    let used: Vec<usize> = c.used(c.at(sure_s - BEFORE_S)..behind.unwrap_or(sure) + 1).collect();
    if first == 0 || used.len() < 8 || used[3] > sure {
        return Err(Undefined::because("the beverage already runs when the log begins"));
    }
    let time: Vec<f64> = used.iter().map(|&i| c.time_s[i]).collect();
    let reading: Vec<f64> = used.iter().map(|&i| c.reading_g[i]).collect();
    let (low, high) = (time[3], time[time.len() - 4].min(sure_s));
    let all = |from_s: f64, to_s: f64, grid_s: f64| -> Vec<(f64, f64)> {
        let instants = (0..((to_s - from_s) / grid_s).max(0.0) as usize).map(|k| from_s + grid_s * k as f64);
        let var = c.noise_sd_g * c.noise_sd_g;
        let deviances = |at_s: f64| residuals(&time, &reading, c.lag_s.value, at_s).map(|r| (at_s, r / var));
        instants.flat_map(deviances).collect()
    };
    let coarse = all(low, high, COARSE_S);
    let best_s = coarse.iter().min_by(|a, b| a.1.total_cmp(&b.1)).map_or(low, |best| best.0);
    let tried = all((best_s - AROUND_S).max(low), (best_s + AROUND_S).min(high), GRID_S);
    let least = tried.iter().map(|t| t.1).fold(f64::INFINITY, f64::min);
    let mean_of = |of: &dyn Fn(f64) -> f64| {
        let weighted = tried.iter().map(|(at_s, deviance)| (of(*at_s), (-(deviance - least) / 2.0).exp()));
        let (sum, weight) = weighted.fold((0.0, 0.0), |(s, w), (x, weight)| (s + x * weight, w + weight));
        sum / weight
    };
    let mean = mean_of(&|t| t);
    // The likelihood ignores the rounding of the readout, which leaves the onset uncertain by an interval between
    // stamps.
    let interval_s = (time[time.len() - 1] - time[0]) / (time.len() - 1) as f64;
    let var = mean_of(&|t| (t - mean).powi(2)) + interval_s.max(GRID_S).powi(2) / 12.0;
    if !(mean.is_finite() && var.is_finite()) {
        return Err(Undefined::because("the readings around the first drip cannot be used"));
    }
    Ok(Estimate::new(mean, var.sqrt().hypot(c.lag_s.sd)))
}

/// First index of the first flow that brings enough beverage, and the index at which it has brought it.
fn first_flow(c: &Collected, options: &BedOptions) -> Option<(usize, usize)> {
    let least_g = options.drip_g.max(3.0 * c.noise_sd_g);
    let mut flow: Option<(usize, usize)> = None;
    for i in (0..c.time_s.len()).filter(|&i| c.smooth[i].slope >= options.drip_g_per_s) {
        let first = match flow {
            Some((first, last)) if c.time_s[i] - c.time_s[last] < PAUSE_S => first,
            _ => i,
        };
        if c.smooth[i].level - c.smooth[first].level >= least_g {
            return Some((first, i));
        }
        flow = Some((first, i));
    }
    None
}

/// Residual sums of squares of the best level before an instant and the best multiple of each power of time after it,
/// both passed through the scale's lag.
fn residuals(time: &[f64], reading: &[f64], lag_s: f64, at_s: f64) -> [f64; POWERS] {
    let n = time.len() as f64;
    let mean_y = reading.iter().sum::<f64>() / n;
    let (mut yy, mut sums) = (0.0, [[0.0; 3]; POWERS]);
    for (t, y) in time.iter().zip(reading) {
        let y = y - mean_y;
        yy += y * y;
        let mut grown = [0.0; POWERS];
        for (age, weight) in &AGES {
            let since = t - age * lag_s - at_s;
            if since > 0.0 {
                let (mut power, step) = (weight * since, since.powf(POWER_STEP));
                for grown in &mut grown {
                    *grown += power;
                    power *= step;
                }
            }
        }
        for (sums, u) in sums.iter_mut().zip(grown) {
            *sums = [sums[0] + u, sums[1] + u * u, sums[2] + u * y];
        }
    }
    // The readings are centred, so only the regressor's mean remains to be subtracted.
    sums.map(|[u, uu, uy]| yy - uy * uy / (uu - u * u / n))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::model::trend::Smoothed;

    #[test]
    fn the_sd_of_the_first_drip_is_that_of_its_errors() {
        // No flow until t0, then 1.5 g/s at once or after a linear rise, through a known lag of 0.2 s.
        let time: Vec<f64> = (0..300).map(|i| 0.1 * f64::from(i)).collect();
        let (mut square, mut mean, n) = (0.0, 0.0, 60);
        for seed in 0..n {
            let mut random = Random::new(seed);
            let t0 = 12.0 + random.unit();
            let ran = |u: f64| if seed % 2 == 0 { 1.5 * u } else { 0.5 * u * u };
            let level = |t: f64| ran((t - t0).max(0.0));
            let shown =
                |t: f64| -> f64 { AGES.iter().map(|(age, weight)| weight * level(t - age * 0.2)).sum() };
            let reading = time.iter().map(|&t| shown(t) + 0.1 * random.normal()).collect();
            let mut c = Collected::bare(&time, reading);
            c.lag_s = Estimate::exact(0.2);
            c.smooth = time
                .iter()
                .map(|&t| Smoothed {
                    level: level(t),
                    slope: (level(t + 0.05) - level(t - 0.05)) / 0.1,
                    ..Smoothed::default()
                })
                .collect();
            let found = first_drip(&c, &BedOptions::default()).unwrap();
            let z = (found.value - t0) / found.sd;
            (square, mean) = (square + z * z / n as f64, mean + z / n as f64);
        }
        // Two powers of time by turns, as in the prior; the sd of a mean square of 60 values is 0.18.
        println!("{square}");
        assert!((0.6..1.5).contains(&square), "{square}");
        assert!(mean.abs() < 0.5, "{mean}");
    }
}
