//! What a scale shows of a load, before noise and readout: the load and the reading are on the points of the grid.
//!
//! Between two points each filter takes the mean of its input there, and is exact for that. At first it is at rest.

use super::GRID_HZ;
use std::f64::consts::TAU;

/// One of the things that a scale does to a load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Response {
    /// `lag_s y' = load - y`.
    Lag { lag_s: f64 },
    /// The mean of the last seconds.
    Average { window_s: f64 },
    /// A damped mass on a spring: it overshoots if the damping is below 1.
    Resonance { natural_hz: f64, damping: f64 },
    /// A lag that is quick while the load differs by more than this from the reading, and slow otherwise.
    QuickSlow { quick_s: f64, slow_s: f64, above_g: f64 },
    /// The reading grows by this share of a load that stays, in this time constant.
    Creep { share: f64, after_s: f64 },
    /// The reading moves by this, from the first instant to the last, ever more slowly: it would take this time
    /// constant to settle.
    Drift { total_g: f64, after_s: f64 },
}

impl Response {
    pub fn of(&self, load_g: &[f64]) -> Vec<f64> {
        match *self {
            Self::Lag { lag_s } => lagged(load_g, |_| lag_s),
            Self::Average { window_s } => averaged(load_g, window_s),
            Self::Resonance { natural_hz, damping } => resonated(load_g, TAU * natural_hz, damping),
            Self::QuickSlow { quick_s, slow_s, above_g } => {
                lagged(load_g, |behind_g| if behind_g.abs() > above_g { quick_s } else { slow_s })
            }
            Self::Creep { share, after_s } => {
                let settled = lagged(load_g, |_| after_s);
                load_g.iter().zip(settled).map(|(load, settled)| load + share * settled).collect()
            }
            Self::Drift { total_g, after_s } => {
                let grown = |i: usize| 1.0 - (-(i as f64) / GRID_HZ / after_s).exp();
                let whole = grown(load_g.len() - 1);
                load_g.iter().enumerate().map(|(i, load)| load + total_g * grown(i) / whole).collect()
            }
        }
    }
}

/// A first-order lag whose time constant depends on how far the reading is behind.
fn lagged(load_g: &[f64], lag_s: impl Fn(f64) -> f64) -> Vec<f64> {
    let mut reading = load_g[0];
    let mut shown = vec![reading];
    for pair in load_g.windows(2) {
        let load = 0.5 * (pair[0] + pair[1]);
        reading = load + (-1.0 / (GRID_HZ * lag_s(load - reading))).exp() * (reading - load);
        shown.push(reading);
    }
    shown
}

fn averaged(load_g: &[f64], window_s: f64) -> Vec<f64> {
    // The integral up to each point, in steps of the grid.
    let mut sums = vec![0.0];
    for pair in load_g.windows(2) {
        sums.push(sums[sums.len() - 1] + 0.5 * (pair[0] + pair[1]));
    }
    let window = window_s * GRID_HZ;
    let sum = |x: f64| {
        if x <= 0.0 {
            return x * load_g[0];
        }
        let i = (x as usize).min(sums.len() - 2);
        sums[i] + (x - i as f64) * (sums[i + 1] - sums[i])
    };
    (0..load_g.len()).map(|i| (sum(i as f64) - sum(i as f64 - window)) / window).collect()
}

/// `y'' = w^2 (load - y) - 2 damping w y'`, with damping below 1.
fn resonated(load_g: &[f64], w: f64, damping: f64) -> Vec<f64> {
    let (decay, swing) = (damping * w, w * (1.0 - damping * damping).sqrt());
    let kept = (-decay / GRID_HZ).exp();
    let (sin, cos) = (swing / GRID_HZ).sin_cos();
    let (mut reading, mut speed) = (load_g[0], 0.0);
    let mut shown = vec![reading];
    for pair in load_g.windows(2) {
        let load = 0.5 * (pair[0] + pair[1]);
        let off = reading - load;
        reading = load + kept * (off * cos + (speed + decay * off) / swing * sin);
        speed = kept * (speed * cos - (decay * speed + w * w * off) / swing * sin);
        shown.push(reading);
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The reading some time after a step of 100 g; the step lies in the middle of the millisecond before.
    fn after_step(of: &[Response], seconds: f64) -> f64 {
        let mut load = vec![100.0; 10_001];
        load[0] = 0.0;
        let shown = of.iter().fold(load, |load, response| response.of(&load));
        let x = seconds * GRID_HZ + 0.5;
        let i = x as usize;
        shown[i] + (x - i as f64) * (shown[i + 1] - shown[i])
    }

    /// By how much the reading of a flow is late in the end, s.
    fn late_s(of: &[Response], flow: f64) -> f64 {
        let load: Vec<f64> = (0..20_001).map(|i| flow * f64::from(i) / GRID_HZ).collect();
        let last = load[20_000];
        (last - of.iter().fold(load, |load, response| response.of(&load))[20_000]) / flow
    }

    fn close(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
    }

    // Step responses below are inverse Laplace transforms of H(s) / s, worked by hand; the delay of a steady flow is
    // -H'(0), the first moment of the impulse response.

    #[test]
    fn one_lag_and_two() {
        // 1 - exp(-t / lag); with two equal lags 1 - (1 + t / lag) exp(-t / lag).
        let lag = Response::Lag { lag_s: 0.12 };
        for t in [0.05, 0.12, 0.4] {
            let left = (-t / 0.12f64).exp();
            close(after_step(&[lag], t), 100.0 * (1.0 - left), 0.02);
            close(after_step(&[lag, lag], t), 100.0 * (1.0 - (1.0 + t / 0.12) * left), 0.02);
        }
        close(late_s(&[lag], 5.0), 0.12, 1e-5);
        close(late_s(&[lag, Response::Lag { lag_s: 0.07 }], 5.0), 0.19, 1e-5);
    }

    #[test]
    fn a_moving_average_is_a_ramp_of_its_window() {
        for window_s in [0.3, 0.6, 0.9995] {
            let average = Response::Average { window_s };
            for t in [0.1, 0.2, 0.25] {
                close(after_step(&[average], t), 100.0 * t / window_s, 0.01);
            }
            close(after_step(&[average], window_s + 0.001), 100.0, 1e-9);
            close(late_s(&[average], 5.0), window_s / 2.0, 1e-6);
        }
    }

    #[test]
    fn an_average_after_a_lag() {
        // The mean of 1 - exp(-t / lag) up to t, over the window; beyond it, the lag from both its ends.
        let both = [Response::Lag { lag_s: 0.1 }, Response::Average { window_s: 0.4 }];
        let area = |t: f64| t - 0.1 * (1.0 - (-t / 0.1f64).exp());
        for t in [0.1, 0.3] {
            close(after_step(&both, t), 100.0 * area(t) / 0.4, 0.01);
        }
        close(after_step(&both, 0.7), 100.0 * (area(0.7) - area(0.3)) / 0.4, 0.01);
        close(late_s(&both, 5.0), 0.3, 1e-5);
    }

    #[test]
    fn a_resonance_overshoots_by_its_damping() {
        // The first peak is exp(-pi d / sqrt(1 - d^2)) above, half a period of w sqrt(1 - d^2) after the step.
        for (natural_hz, damping) in [(1.5, 0.4), (2.5, 0.6)] {
            let resonance = Response::Resonance { natural_hz, damping };
            let root = (1.0 - damping * damping).sqrt();
            let peak_s = 0.5 / (natural_hz * root);
            let peak = 100.0 * (1.0 + (-std::f64::consts::PI * damping / root).exp());
            close(after_step(&[resonance], peak_s), peak, 0.01);
            assert!(after_step(&[resonance], peak_s - 0.05) < peak);
            assert!(after_step(&[resonance], peak_s + 0.05) < peak);
            // H(s) = w^2 / (s^2 + 2 d w s + w^2).
            close(late_s(&[resonance], 5.0), damping / (std::f64::consts::PI * natural_hz), 1e-5);
        }
    }

    #[test]
    fn quick_while_far_and_slow_when_near() {
        let both = [Response::QuickSlow { quick_s: 0.08, slow_s: 0.6, above_g: 1.5 }];
        // 100 g are down to 1.5 g after .08 ln(100 / 1.5) s, and from there to 1.5 exp(-t / .6).
        let near_s = 0.08 * (100.0f64 / 1.5).ln();
        close(after_step(&both, 0.2), 100.0 * (1.0 - (-2.5f64).exp()), 0.03);
        close(after_step(&both, near_s + 0.3), 100.0 - 1.5 * (-0.5f64).exp(), 0.02);
        // A flow stays 1.5 g behind, unless that is more than the slow lag or less than the quick lag of it.
        close(late_s(&both, 6.0), 1.5 / 6.0, 0.003);
        close(late_s(&both, 2.0), 0.6, 1e-4);
        close(late_s(&both, 25.0), 0.08, 1e-4);
    }

    #[test]
    fn creep_and_drift_grow_exponentially() {
        let creep = [Response::Creep { share: 0.003, after_s: 4.0 }];
        close(after_step(&creep, 0.004), 100.0, 0.001);
        close(after_step(&creep, 4.0), 100.0 + 0.3 * (1.0 - (-1f64).exp()), 1e-4);
        // 10 s of drift with a time constant of 5 s: (1 - exp(-1)) / (1 - exp(-2)) of it in the first half.
        let drifted = Response::Drift { total_g: -2.0, after_s: 5.0 }.of(&vec![100.0; 10_001]);
        close(drifted[0], 100.0, 1e-12);
        close(drifted[5000], 100.0 - 2.0 / (1.0 + (-1f64).exp()), 1e-9);
        close(drifted[10_000], 98.0, 1e-9);
    }

    #[test]
    fn each_starts_at_rest_under_its_load() {
        for response in [
            Response::Lag { lag_s: 0.2 },
            Response::Average { window_s: 0.6 },
            Response::Resonance { natural_hz: 2.0, damping: 0.5 },
            Response::QuickSlow { quick_s: 0.1, slow_s: 0.6, above_g: 1.5 },
        ] {
            assert!(response.of(&[7.0; 2000]).iter().all(|g| (g - 7.0).abs() < 1e-9), "{response:?}");
        }
    }
}
