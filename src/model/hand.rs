//! In: hyperparameters of the flow and of the scale. Out: the state-space model of one log.
//!
//! The flow of a burst is a level, a line, a slow Matern process, a quick Ornstein-Uhlenbeck process and a damped
//! oscillation. States: level, line, the Matern process and its slope, the quick process, the oscillation and its
//! quadrature, the load, the lagged load, and a pending change of the level. Reference: Sarkka and Solin, Applied
//! Stochastic Differential Equations, 2019, 12.3 (state-space form of Matern processes; not checked).

use crate::model::pack::Pack;
use std::f64::consts::TAU;

pub(crate) const N: usize = 10;
pub(crate) const LEVEL: usize = 0;
pub(crate) const LINE: usize = 1;
pub(crate) const SLOW: usize = 2;
pub(crate) const QUICK: usize = 4;
pub(crate) const BEAT: usize = 5;
pub(crate) const LOAD: usize = 7;
pub(crate) const READING: usize = 8;
/// Last, since most bursts have none.
pub(crate) const CHANGE: usize = 9;
/// Number of states of the flow but for a pending change.
pub(crate) const FLOW: usize = 7;

/// Prior sd of a change of the level, relative to the flow.
pub(crate) const CHANGE_SD: f64 = 0.6;

/// Hyperparameters of one log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Hand {
    /// Time constant of the scale's lag, s.
    pub tau_s: f64,
    /// Speed of the stream at the bed over g, s.
    pub lead_s: f64,
    /// Noise of a reading at rest, sd in g.
    pub noise_sd_g: f64,
    /// Sd of a stamp, s.
    pub stamp_sd_s: f64,
    /// Random walk of the zero, g2/s.
    pub zero_g2_per_s: f64,
    /// Relative sd of the line.
    pub line: f64,
    /// Relative sd and correlation time of the slow process.
    pub slow: f64,
    pub slow_s: f64,
    /// Relative sd and correlation time of the quick process.
    pub quick: f64,
    pub quick_s: f64,
    /// Relative sd, frequency and decay time of the oscillation.
    pub beat: f64,
    pub beat_hz: f64,
    pub beat_s: f64,
}

/// Transition of the flow over one cell of the grid.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cell {
    pub length_s: f64,
    pub slow: [[f64; 2]; 2],
    pub quick: f64,
    pub beat: [f64; 2],
    /// Process noise for a flow of 1 g/s.
    pub slow_noise: [[f64; 2]; 2],
    pub quick_noise: f64,
    pub beat_noise: f64,
    /// Decay of the reading towards the load, and its gain by the flow.
    pub decay: f64,
    pub gain_s: f64,
    pub zero_g2: f64,
}

impl Hand {
    /// Decay of the lag over a time, and the gain of the reading by a constant flow.
    pub(crate) fn lag(&self, dt_s: f64) -> (f64, f64) {
        let decay = (-dt_s / self.tau_s).exp();
        (decay, dt_s + (self.lead_s - self.tau_s) * (1.0 - decay))
    }

    pub(crate) fn cell(&self, length_s: f64) -> Cell {
        let lambda = 3.0_f64.sqrt() / self.slow_s;
        let x = lambda * length_s;
        let e = (-x).exp();
        let slow = [[(1.0 + x) * e, length_s * e], [-lambda * x * e, (1.0 - x) * e]];
        let (p, q) = (self.slow * self.slow, lambda * lambda * self.slow * self.slow);
        let noise = |i: usize, j: usize| {
            let stationary = if i != j {
                0.0
            } else if i == 0 {
                p
            } else {
                q
            };
            stationary - slow[i][0] * p * slow[j][0] - slow[i][1] * q * slow[j][1]
        };
        let quick = (-length_s / self.quick_s).exp();
        let fade = (-length_s / self.beat_s).exp();
        let (sin, cos) = (TAU * self.beat_hz * length_s).sin_cos();
        let (decay, gain_s) = self.lag(length_s);
        Cell {
            length_s,
            slow,
            quick,
            beat: [fade * cos, fade * sin],
            slow_noise: [[noise(0, 0), noise(0, 1)], [noise(0, 1), noise(1, 1)]],
            quick_noise: self.quick * self.quick * (1.0 - quick * quick),
            beat_noise: self.beat * self.beat * (1.0 - fade * fade),
            decay,
            gain_s,
            zero_g2: self.zero_g2_per_s * length_s,
        }
    }

    /// Prior variances of the flow's states at the start of a burst, but for a change.
    pub(crate) fn prior_var(&self, scale: f64) -> [f64; FLOW] {
        let s2 = scale * scale;
        let lambda = 3.0_f64.sqrt() / self.slow_s;
        let slow = self.slow * self.slow * s2;
        let beat = self.beat * self.beat * s2;
        [
            s2,
            self.line * self.line * s2,
            slow,
            lambda * lambda * slow,
            self.quick * self.quick * s2,
            beat,
            beat,
        ]
    }
}

/// States of some curves.
pub(crate) type States<const K: usize> = [Pack<K>; N];

impl Cell {
    /// One step of the flow's states.
    pub(crate) fn step<const K: usize>(&self, x: &mut States<K>) {
        let (s, d) = (x[SLOW], x[SLOW + 1]);
        x[SLOW] = s * self.slow[0][0] + d * self.slow[0][1];
        x[SLOW + 1] = s * self.slow[1][0] + d * self.slow[1][1];
        x[QUICK] = x[QUICK] * self.quick;
        let (a, b) = (x[BEAT], x[BEAT + 1]);
        x[BEAT] = a * self.beat[0] - b * self.beat[1];
        x[BEAT + 1] = a * self.beat[1] + b * self.beat[0];
    }

    /// The adjoint of a step.
    pub(crate) fn step_back<const K: usize>(&self, r: &mut States<K>) {
        let (s, d) = (r[SLOW], r[SLOW + 1]);
        r[SLOW] = s * self.slow[0][0] + d * self.slow[1][0];
        r[SLOW + 1] = s * self.slow[0][1] + d * self.slow[1][1];
        r[QUICK] = r[QUICK] * self.quick;
        let (a, b) = (r[BEAT], r[BEAT + 1]);
        r[BEAT] = a * self.beat[0] + b * self.beat[1];
        r[BEAT + 1] = b * self.beat[0] - a * self.beat[1];
    }

    /// Adds the covariance of the process noise times a vector.
    pub(crate) fn add_noise_times<const K: usize>(&self, r: &States<K>, scale: f64, x: &mut States<K>) {
        let s2 = scale * scale;
        let q = &self.slow_noise;
        x[SLOW] += r[SLOW] * (s2 * q[0][0]) + r[SLOW + 1] * (s2 * q[0][1]);
        x[SLOW + 1] += r[SLOW] * (s2 * q[1][0]) + r[SLOW + 1] * (s2 * q[1][1]);
        x[QUICK] += r[QUICK] * (s2 * self.quick_noise);
        x[BEAT] += r[BEAT] * (s2 * self.beat_noise);
        x[BEAT + 1] += r[BEAT + 1] * (s2 * self.beat_noise);
    }

    /// Factor of the process noise of a flow of 1 g/s: lower triangle of the slow process, quick process, oscillation.
    pub(crate) fn noise_factor(&self) -> [f64; 5] {
        let q = &self.slow_noise;
        let a = q[0][0].max(0.0).sqrt();
        let b = if a > 0.0 { q[0][1] / a } else { 0.0 };
        let c = (q[1][1] - b * b).max(0.0).sqrt();
        [a, b, c, self.quick_noise.sqrt(), self.beat_noise.sqrt()]
    }
}
