//! In: hyperparameters of the flow and of the scale. Out: the state-space model of one log.
//!
//! The reading `y` follows a load `u` with a delay `D`: `D^2 c/2 y'' + D y' + y = u`. A bend `c` of 0 is a first-order
//! lag, of .5 two equal lags; from there on it overshoots. That of 2/3 has the first three cumulants of a moving average
//! of length `2 D`: `D`, `D^2/3` and 0.
//!
//! The flow of a burst is a level, a line, a slow Matern process, a quick Ornstein-Uhlenbeck process and a damped
//! oscillation. States: level, line, the Matern process and its slope, the quick process, the oscillation and its
//! quadrature, the load, the reading, a pending change of the level, and the speed of the reading. Reference: Sarkka and
//! Solin, Applied Stochastic Differential Equations, 2019, 12.3 (state-space form of Matern processes; not checked).

use crate::model::pack::Pack;
use std::f64::consts::TAU;

pub(crate) const N: usize = 11;
pub(crate) const LEVEL: usize = 0;
pub(crate) const LINE: usize = 1;
pub(crate) const SLOW: usize = 2;
pub(crate) const QUICK: usize = 4;
pub(crate) const BEAT: usize = 5;
pub(crate) const LOAD: usize = 7;
pub(crate) const READING: usize = 8;
/// After the others, since most bursts have none.
pub(crate) const CHANGE: usize = 9;
/// Last, since a first-order lag has none.
pub(crate) const SPEED: usize = 10;
/// A response of a smaller bend is a first-order lag.
pub(crate) const STRAIGHT: f64 = 1e-6;
/// Number of states of the flow but for a pending change.
pub(crate) const FLOW: usize = 7;

/// Prior sd of a change of the level, relative to the flow.
pub(crate) const CHANGE_SD: f64 = 0.6;

/// Hyperparameters of one log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Hand {
    /// Delay of the reading behind the load, s.
    pub delay_s: f64,
    /// Bend of the response: 0 for a first-order lag.
    pub bend: f64,
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
    pub passage: Passage,
    pub zero_g2: f64,
}

/// What becomes of reading and speed over a time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Passage {
    /// What is kept of their deviations from the load and from rest.
    pub keeps: [[f64; 2]; 2],
    /// Their gains by a constant flow.
    pub gains: [f64; 2],
}

impl Hand {
    /// Whether the speed of the reading is a state of its own.
    pub(crate) fn bends(&self) -> bool {
        self.bend > STRAIGHT
    }

    /// Share of the power of an oscillation of the load, of a frequency in rad/s, that the reading shows.
    pub(crate) fn shown_power(&self, rad_per_s: f64) -> f64 {
        let late = rad_per_s * self.delay_s;
        let by_lag = (1.0 - 0.5 * self.bend * late * late).powi(2) + late * late;
        (1.0 + (rad_per_s * self.lead_s).powi(2)) / by_lag
    }

    /// What is kept of a deviation of the reading and of its speed after a time.
    fn keeps(&self, dt_s: f64) -> [[f64; 2]; 2] {
        let (delay_s, bend) = (self.delay_s, self.bend);
        if !self.bends() {
            return [[(-dt_s / delay_s).exp(), 0.0], [0.0; 2]];
        }
        let (rate, square) = (1.0 / (bend * delay_s), 2.0 / (bend * delay_s * delay_s));
        // Poles at -rate ± root.
        let root2 = rate * rate - square;
        let root = root2.abs().sqrt();
        let (cos, sin_s) = if root * dt_s < 1e-4 {
            let x = root2 * dt_s * dt_s;
            let e = (-rate * dt_s).exp();
            (e * (1.0 + x / 2.0), e * dt_s * (1.0 + x / 6.0))
        } else if root2 > 0.0 {
            let (slow, fast) = (((root - rate) * dt_s).exp(), ((-root - rate) * dt_s).exp());
            (0.5 * (slow + fast), 0.5 * (slow - fast) / root)
        } else {
            let e = (-rate * dt_s).exp();
            (e * (root * dt_s).cos(), e * (root * dt_s).sin() / root)
        };
        [[cos + rate * sin_s, sin_s], [-square * sin_s, cos - rate * sin_s]]
    }

    pub(crate) fn passage(&self, dt_s: f64) -> Passage {
        let keeps = self.keeps(dt_s);
        let late_s = self.delay_s - self.lead_s;
        // Behind a load that grows evenly the reading lags by this, at the speed of the load.
        let gain_s = dt_s - late_s * (1.0 - keeps[0][0]) - keeps[0][1];
        let gain = if self.bends() { 1.0 + keeps[1][0] * late_s - keeps[1][1] } else { 0.0 };
        Passage { keeps, gains: [gain_s, gain] }
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
        Cell {
            length_s,
            slow,
            quick,
            beat: [fade * cos, fade * sin],
            slow_noise: [[noise(0, 0), noise(0, 1)], [noise(0, 1), noise(1, 1)]],
            quick_noise: self.quick * self.quick * (1.0 - quick * quick),
            beat_noise: self.beat * self.beat * (1.0 - fade * fade),
            passage: self.passage(length_s),
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

/// Reading and speed after a time without flow.
pub(crate) fn pass<const K: usize>(x: &mut States<K>, [[a, e], [c, k]]: [[f64; 2]; 2]) {
    let [m, h, s] = [x[LOAD], x[READING], x[SPEED]];
    x[READING] = h * a + m * (1.0 - a) + s * e;
    x[SPEED] = (h - m) * c + s * k;
}

/// The adjoint.
pub(crate) fn pass_back<const K: usize>(r: &mut States<K>, [[a, e], [c, k]]: [[f64; 2]; 2]) {
    let [h, s] = [r[READING], r[SPEED]];
    r[LOAD] += h * (1.0 - a) - s * c;
    r[READING] = h * a + s * c;
    r[SPEED] = h * e + s * k;
}

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

/// A hand that sways little, behind a scale of that delay and bend.
#[cfg(test)]
pub(crate) fn calm(delay_s: f64, bend: f64) -> Hand {
    Hand {
        delay_s,
        bend,
        lead_s: 0.1,
        noise_sd_g: 0.05,
        stamp_sd_s: 0.0,
        zero_g2_per_s: 0.0,
        line: 0.1,
        slow: 0.05,
        slow_s: 2.0,
        quick: 0.03,
        quick_s: 0.2,
        beat: 0.03,
        beat_hz: 0.9,
        beat_s: 8.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_passage_solves_the_equation_of_the_reading() {
        // D^2 c/2 y'' + D y' + y = u with u = q (t + k), by a forward integration in steps of 1e-5 s.
        for bend in [0.0, 1e-5, 0.2, 0.499_999_9, 0.5, 2.0 / 3.0, 1.0, 4.0] {
            let hand = calm(0.23, bend);
            let (q, from) = (6.0, [3.0, -2.0]);
            let (mut y, mut v) = (from[0], from[1]);
            let n = 12_000;
            for i in 0..n {
                let step_s = 1e-5;
                let load = q * ((f64::from(i) + 0.5) * step_s + hand.lead_s);
                if bend > 0.0 {
                    let inertia = 0.5 * bend * hand.delay_s * hand.delay_s;
                    // Implicit in both, so that a stiff response is stable.
                    let speed = v + step_s * (load - y) / inertia;
                    v = speed / (1.0 + step_s * (hand.delay_s + step_s) / inertia);
                    y += step_s * v;
                } else {
                    y += step_s * (load - y) / hand.delay_s;
                }
            }
            let Passage { keeps: [[a, e], [c, k]], gains } = hand.passage(0.12);
            let reading = a * from[0] + e * from[1] + gains[0] * q;
            assert!((reading - y).abs() < 2e-3, "bend {bend}: {reading} {y}");
            if bend > 1e-4 {
                let speed = c * from[0] + k * from[1] + gains[1] * q;
                assert!((speed - v).abs() < 2e-2, "bend {bend}: {speed} {v}");
            }
        }
    }

    #[test]
    fn two_equal_lags_have_their_closed_form() {
        // A step through two lags of .1 s each: 1 - (1 + t/.1) exp(-t/.1), a textbook form.
        let hand = calm(0.2, 0.5);
        let left = hand.passage(0.15).keeps[0][0];
        assert!((left - 2.5 * (-1.5_f64).exp()).abs() < 1e-12);
        // A bend of 4 overshoots: zeta = 1/sqrt(8), least of a step's remainder -exp(-pi zeta/sqrt(1 - zeta^2)).
        let hand = calm(0.2, 4.0);
        let least = (1..400).map(|i| hand.passage(0.005 * f64::from(i)).keeps[0][0]).fold(1.0, f64::min);
        let zeta = 8.0_f64.sqrt().recip();
        let expected = -(-std::f64::consts::PI * zeta / (1.0 - zeta * zeta).sqrt()).exp();
        assert!((least - expected).abs() < 1e-4, "{least} {expected}");
    }
}
