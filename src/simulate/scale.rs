//! In: the load on a scale over time. Out: its readings at the sampling instants.
//!
//! Method: a first-order lag `dy/dt = (x - y)/tau`, solved exactly for a load that is linear between grid points;
//! white noise; a rounded readout; jittered instants.

use crate::math::random::Random;
use crate::simulate::recipe::Scale;
use crate::simulate::truth::interpolate;

/// The response of the scale without noise: the load after the lag.
pub(super) fn lagged(load: &[f64], lag_s: f64, dt_s: f64) -> Vec<f64> {
    if lag_s <= 0.0 {
        return load.to_vec();
    }
    let decay = (-dt_s / lag_s).exp();
    let mean = lag_s / dt_s * (1.0 - decay);
    let mut before = load.first().copied().unwrap_or(0.0);
    let mut shown = before;
    load.iter()
        .map(|&x| {
            shown = x - (x - before) * mean + (shown - before) * decay;
            before = x;
            shown
        })
        .collect()
}

/// Sampling instants, s, in order, and their logged stamps.
pub(super) fn instants(scale: &Scale, end_s: f64, random: &mut Random) -> (Vec<f64>, Vec<f64>) {
    let interval = 1.0 / scale.rate_hz;
    let n = ((end_s / interval) as usize).saturating_sub(1);
    let mut sampled_s: Vec<f64> =
        (1..=n).map(|k| (k as f64 + scale.jitter * random.normal()).max(0.0) * interval).collect();
    sampled_s.sort_by(f64::total_cmp);
    let stamps = sampled_s
        .iter()
        .map(|t| rounded(t + scale.stamp_error * interval * random.normal(), scale.stamp_step_s))
        .collect();
    (sampled_s, stamps)
}

/// A value rounded to the resolution `unit`; unchanged if that is 0.
pub(super) fn rounded(value: f64, unit: f64) -> f64 {
    if unit > 0.0 {
        let units = (value / unit).round();
        // Dividing by the inverse gives 0.3 where a product would give 0.30000000000000004.
        let inverse = (1.0 / unit).round();
        if (inverse * unit - 1.0).abs() < 1e-12 { units / inverse } else { units * unit }
    } else {
        value
    }
}

/// Readings with noise, not yet rounded.
pub(super) fn readings(
    shown: &[f64],
    sampled_s: &[f64],
    sd_g: f64,
    dt_s: f64,
    random: &mut Random,
) -> Vec<f64> {
    sampled_s.iter().map(|&t| interpolate(shown, dt_s, t) + sd_g * random.normal()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const DT_S: f64 = 1e-3;

    #[test]
    fn the_response_to_a_load_change_is_exponential() {
        let load: Vec<f64> = (0..3000).map(|i| if i < 1000 { 0.0 } else { 100.0 }).collect();
        let shown = lagged(&load, 0.25, DT_S);
        for t in [0.05, 0.25, 1.0_f64] {
            let found = shown[1000 + (t / DT_S).round() as usize];
            // 1 - exp(-t/tau), closed form; the load changes within 1 ms of the grid, of which half counts.
            let expected = 100.0 * (1.0 - (-(t + 0.5 * DT_S) / 0.25).exp());
            assert!((found - expected).abs() < 1e-3, "{found}, expected {expected}");
        }
    }

    #[test]
    fn the_response_to_a_ramp_lags_by_one_time_constant() {
        let load: Vec<f64> = (0..5000).map(|i| 8.0 * DT_S * f64::from(i)).collect();
        let shown = lagged(&load, 0.3, DT_S);
        for i in [100, 700, 4999] {
            // Closed form of the first-order lag: a (t - tau (1 - exp(-t/tau))).
            let t = DT_S * i as f64;
            let expected = 8.0 * (t - 0.3 * (1.0 - (-t / 0.3).exp()));
            assert!((shown[i] - expected).abs() < 1e-9);
        }
    }

    #[test]
    fn a_readout_is_rounded_to_its_resolution() {
        assert_eq!(rounded(0.26, 0.1), 0.3);
        assert_eq!(rounded(7.6, 5.0), 10.0);
        assert_eq!(rounded(7.61, 0.0), 7.61);
    }

    #[test]
    fn jitter_moves_the_instants_and_stamp_errors_move_the_stamps() {
        let sd = |v: &[f64]| (v.iter().map(|x| x * x).sum::<f64>() / v.len() as f64).sqrt();
        let scale = Scale { jitter: 0.12, stamp_error: 0.05, stamp_step_s: 0.0, ..Scale::default() };
        let (sampled_s, stamps) = instants(&scale, 2000.0, &mut Random::new(3));
        let timing_error: Vec<f64> =
            sampled_s.iter().enumerate().map(|(k, t)| t - 0.1 * (k + 1) as f64).collect();
        let stamp_error: Vec<f64> = sampled_s.iter().zip(&stamps).map(|(t, s)| s - t).collect();
        // 20000 draws: the sd of the sd is 0.5 %.
        assert!((sd(&timing_error) / 0.012 - 1.0).abs() < 0.03);
        assert!((sd(&stamp_error) / 0.005 - 1.0).abs() < 0.03);
    }

    #[test]
    fn the_first_sample_may_be_early_and_none_is_before_time_zero() {
        let first = |jitter: f64, seed: u64| {
            let scale = Scale { jitter, ..Scale::default() };
            instants(&scale, 5.0, &mut Random::new(seed)).0[0]
        };
        // Half of a symmetric jitter: 100 of 200, three sd either way.
        let early = (0..200).filter(|&seed| first(0.1, seed) < 0.1).count();
        assert!((79..=121).contains(&early), "{early} of 200");
        assert!((0..200).all(|seed| first(5.0, seed) >= 0.0));
        assert!((0..200).any(|seed| first(5.0, seed) == 0.0));
    }
}
