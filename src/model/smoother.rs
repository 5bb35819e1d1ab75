//! In: deviations of the readings and the disturbance model. Out: the smoothed flow and water at each stamp,
//! with their variances.
//!
//! Method: Kalman filter, then the backward smoother without inverses (Durbin and Koopman, Time Series Analysis
//! by State Space Methods, 4.4).

use crate::model::filter::update;
use crate::model::transitions::{
    Disturbance, FLOW, Leg, Matrix, N, OSCILLATING, Position, Propagation, READING, SETTLED, Stretch, Vector,
    ZERO,
};

impl Disturbance {
    /// Smoothed deviations at each stamp; a reading of NaN is a missing observation.
    ///
    /// Works block by block to bound the memory: the forward pass stores the state at the start of each block
    /// and is recomputed before the block's backward pass.
    pub(crate) fn smooth(&self, time_s: &[f64], stretches: &[Stretch], deviation_g: &[f64]) -> Vec<Smoothed> {
        const BLOCK: usize = 4096;
        let Some(&start_s) = time_s.first() else { return Vec::new() };
        let mut propagation = Propagation::new(self, stretches, start_s);
        let mut state = State { position: propagation.position, mean: [0.0; N], p: propagation.first() };
        let mut block = Block::default();
        let mut starts = vec![state];
        let blocks: Vec<(&[f64], &[f64])> = time_s.chunks(BLOCK).zip(deviation_g.chunks(BLOCK)).collect();
        for (time, deviation) in &blocks[..blocks.len() - 1] {
            state = block.forward(&mut propagation, state, time, deviation);
            starts.push(state);
        }
        let mut later = ([0.0; N], [[0.0; N]; N]);
        let mut out = vec![Smoothed::default(); time_s.len()];
        for (k, out) in out.chunks_mut(BLOCK).enumerate().rev() {
            let (time, deviation) = blocks[k];
            block.forward(&mut propagation, starts[k], time, deviation);
            later = block.backward(later, out);
        }
        out
    }
}

/// Mean and covariance after a sample.
#[derive(Clone, Copy)]
struct State {
    position: Position,
    mean: Vector,
    p: Matrix,
}

/// Consecutive samples with their forward pass.
#[derive(Default)]
struct Block {
    legs: Vec<Leg>,
    past: Vec<Past>,
}

/// Prediction of a sample and, if it was observed, gain, innovation and its variance.
struct Past {
    /// Index after its last leg.
    legs_end: usize,
    mean: Vector,
    p: Matrix,
    observed: Option<(Vector, f64, f64)>,
}

impl Block {
    fn forward(
        &mut self,
        propagation: &mut Propagation,
        state: State,
        time_s: &[f64],
        deviation_g: &[f64],
    ) -> State {
        let State { position, mut mean, mut p } = state;
        propagation.position = position;
        self.legs.clear();
        self.past.clear();
        let mut legs = Vec::new();
        for (&t, &y) in time_s.iter().zip(deviation_g) {
            propagation.advance(t, &mut legs);
            for leg in &legs {
                p = leg.covariance(&p);
                mean = leg.mean(&mean);
            }
            self.legs.append(&mut legs);
            let mut this = Past { legs_end: self.legs.len(), mean, p, observed: None };
            if y.is_finite() {
                let v = y - mean[READING] - mean[ZERO];
                let (gain, s) = update(&mut p, propagation.noise_var());
                mean.iter_mut().zip(&gain).for_each(|(m, g)| *m += g * v);
                this.observed = Some((gain, v, s));
            }
            self.past.push(this);
        }
        State { position: propagation.position, mean, p }
    }

    fn backward(&self, (mut r, mut n): (Vector, Matrix), out: &mut [Smoothed]) -> (Vector, Matrix) {
        for (k, this) in self.past.iter().enumerate().rev() {
            if let Some((gain, v, s)) = &this.observed {
                backward_update(&mut r, &mut n, gain, *v, *s);
            }
            out[k] = Smoothed::new(&this.mean, &this.p, &r, &n);
            let first = k.checked_sub(1).map_or(0, |before| self.past[before].legs_end);
            for leg in self.legs[first..this.legs_end].iter().rev() {
                (r, n) = leg.back(&r, &n);
            }
        }
        (r, n)
    }
}

/// The backward recursion across a sample: information of this sample and the later ones.
fn backward_update(r: &mut Vector, n: &mut Matrix, gain: &Vector, v: f64, s: f64) {
    // L = I - gain h' with h = 1 at reading and zero; r <- h v/s + L' r; N <- h h'/s + L' N L.
    let back = v / s - dot(gain, r);
    r[READING] += back;
    r[ZERO] += back;
    let ng: Vector = std::array::from_fn(|i| dot(&n[i], gain));
    let gng = dot(gain, &ng) + 1.0 / s;
    let h = |i: usize| f64::from(i == READING || i == ZERO);
    for i in 0..N {
        for j in 0..N {
            n[i][j] += h(i) * h(j) * gng - h(i) * ng[j] - ng[i] * h(j);
        }
    }
}

fn dot(a: &Vector, b: &Vector) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Smoothed deviation at one stamp.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Smoothed {
    /// Water in excess of the bursts, g, and its variance.
    pub water_g: f64,
    pub water_var: f64,
    /// Flow in excess of the bursts, g/s, and its variance.
    pub flow_g_per_s: f64,
    pub flow_var: f64,
}

impl Smoothed {
    fn new(mean: &Vector, p: &Matrix, r: &Vector, n: &Matrix) -> Self {
        // For a combination c of the states: mean + c'P r, variance c'(P - P N P) c.
        let of = |cross: &Vector, mean: f64, var: f64| {
            let inner: Vector = std::array::from_fn(|j| dot(&n[j], cross));
            (mean + dot(cross, r), (var - dot(cross, &inner)).max(0.0))
        };
        let both: Vector = std::array::from_fn(|i| p[i][SETTLED] + p[i][OSCILLATING]);
        let (water_g, water_var) =
            of(&both, mean[SETTLED] + mean[OSCILLATING], both[SETTLED] + both[OSCILLATING]);
        let (flow_g_per_s, flow_var) = of(&p[FLOW], mean[FLOW], p[FLOW][FLOW]);
        Self { water_g, water_var, flow_g_per_s, flow_var }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::solve::{cholesky, solve};
    use crate::model::scale::Scale;

    const DISTURBANCE: Disturbance = Disturbance {
        scale: Scale { tau_s: 0.25, lead_s: 0.1 },
        noise_sd_g: 0.06,
        tremor: 0.1,
        swing_rad_per_s: 6.0,
        quality: 1.5,
        stamp_sd_s: 0.005,
        zero_g: 0.02,
        rest_flow_g_per_s: 0.0,
    };
    const STRETCH: Stretch = Stretch { start_s: 0.33, end_s: 1.71, flow_g_per_s: 9.0 };

    /// Autocovariance of the speed of a damped oscillator, unit variance (textbook form, derived from the
    /// position's).
    fn speed(lag_s: f64) -> f64 {
        let gamma = DISTURBANCE.swing_rad_per_s / (2.0 * DISTURBANCE.quality);
        let w = (DISTURBANCE.swing_rad_per_s.powi(2) - gamma * gamma).sqrt();
        (-gamma * lag_s).exp() * ((w * lag_s).cos() - gamma / w * (w * lag_s).sin())
    }

    /// Impulse response: reading `u` seconds after a unit impulse of flow, with its water through the lag and
    /// its force.
    fn impulse_response(u: f64) -> f64 {
        let Scale { tau_s, lead_s } = DISTURBANCE.scale;
        if u > 0.0 { 1.0 - (-u / tau_s).exp() * (1.0 - lead_s / tau_s) } else { 0.0 }
    }

    /// Covariance of the readings by quadrature of that kernel, independent of the filter.
    fn dense(time_s: &[f64]) -> Vec<f64> {
        let (n, h) = (time_s.len(), 0.001);
        let grid: Vec<f64> = (0..)
            .map(|i| STRETCH.start_s + h * (f64::from(i) + 0.5))
            .take_while(|s| *s < STRETCH.end_s)
            .collect();
        let sd = DISTURBANCE.tremor * STRETCH.flow_g_per_s;
        let kernel: Vec<Vec<f64>> =
            grid.iter().map(|s| grid.iter().map(|u| speed((s - u).abs())).collect()).collect();
        let lagged: Vec<Vec<f64>> =
            time_s.iter().map(|t| grid.iter().map(|s| h * impulse_response(t - s)).collect()).collect();
        let mut c = vec![0.0; n * n];
        for i in 0..n {
            let smeared: Vec<f64> =
                kernel.iter().map(|row| row.iter().zip(&lagged[i]).map(|(a, b)| a * b).sum()).collect();
            for j in 0..n {
                c[i * n + j] = sd * sd * smeared.iter().zip(&lagged[j]).map(|(a, b)| a * b).sum::<f64>();
                c[i * n + j] += DISTURBANCE.zero_g.powi(2) * (time_s[i].min(time_s[j]) - time_s[0]);
            }
            let inside = time_s[i] > STRETCH.start_s && time_s[i] < STRETCH.end_s;
            let stamp = if inside { DISTURBANCE.stamp_sd_s * STRETCH.flow_g_per_s } else { 0.0 };
            c[i * n + i] += DISTURBANCE.noise_sd_g.powi(2) + stamp * stamp;
        }
        c
    }

    fn stamps() -> Vec<f64> {
        (0..24).map(|i| 0.1 * f64::from(i) + 0.02 * f64::from((i * 7) % 3)).collect()
    }

    #[test]
    fn the_filter_whitens_as_the_factor_of_the_dense_covariance() {
        let time = stamps();
        let y: Vec<f64> = time.iter().map(|t| 0.3 * (3.0 * t).sin() + 0.1 * t).collect();
        let mut rows = y.clone();
        let log_det = DISTURBANCE.whiten(&time, &[STRETCH], &mut rows, 1);
        let n = time.len();
        let mut l = dense(&time);
        assert!(cholesky(&mut l, n));
        let mut x = y.clone();
        solve(&l, n, &mut x);
        let (result, expected): (f64, f64) =
            (rows.iter().map(|v| v * v).sum(), y.iter().zip(&x).map(|(a, b)| a * b).sum());
        assert!((result / expected - 1.0).abs() < 2e-3, "{result} for {expected}");
        let dense_log_det: f64 = (0..n).map(|i| 2.0 * l[i * n + i].ln()).sum();
        assert!((log_det - dense_log_det).abs() < 0.02, "{log_det} for {dense_log_det}");
    }

    #[test]
    fn the_smoother_agrees_with_the_dense_conditional_flow() {
        let time = stamps();
        let y: Vec<f64> = time.iter().map(|t| 0.3 * (3.0 * t).sin() + 0.1 * t).collect();
        let smoothed = DISTURBANCE.smooth(&time, &[STRETCH], &y);
        let n = time.len();
        let mut l = dense(&time);
        assert!(cholesky(&mut l, n));
        let var = (DISTURBANCE.tremor * STRETCH.flow_g_per_s).powi(2);
        for k in [6, 10, 15] {
            // Covariance of the flow at sample k with every reading.
            let h = 1e-3;
            let cross: Vec<f64> = time
                .iter()
                .map(|&t| {
                    let inside = (0..1380).map(|i| STRETCH.start_s + h * (f64::from(i) + 0.5));
                    var * inside
                        .map(|s| h * speed((time[k] - s).abs()) * impulse_response(t - s))
                        .sum::<f64>()
                })
                .collect();
            let mut x = cross.clone();
            solve(&l, n, &mut x);
            let dot = |v: &[f64]| v.iter().zip(&x).map(|(a, b)| a * b).sum::<f64>();
            let (mean, left) = (dot(&y), var - dot(&cross));
            assert!(
                (smoothed[k].flow_g_per_s - mean).abs() < 0.01,
                "{} for {mean}",
                smoothed[k].flow_g_per_s
            );
            assert!((smoothed[k].flow_var / left - 1.0).abs() < 0.01, "{} for {left}", smoothed[k].flow_var);
        }
    }
}
