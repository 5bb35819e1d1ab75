//! In: stamps, and the stretches in which a hand pours. Out: the filter that turns correlated deviations into white ones, and the
//! smoother that gives them back.
//!
//! What a log shows beside the trapezoids: the hand's own unsteadiness (an Ornstein-Uhlenbeck flow deviation while it pours, nearly
//! none at rest), seen through the scale's lag, a slowly wandering zero, and white noise. The four states are the lagged reading, the
//! surplus water, the flow deviation and the zero. Method: Kalman filter with exact transitions on uneven stamps; smoother in the
//! backward form without inverses (de Jong 1989; Durbin and Koopman, Time Series Analysis by State Space Methods, 4.4).

use serde::{Deserialize, Serialize};

/// What is assumed of hand and scale.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Wander {
    /// Time constant of the scale's lag, s.
    pub tau_s: f64,
    /// White noise of a reading at rest, sd in g.
    pub noise_sd_g: f64,
    /// Unsteadiness of the hand: sd of the flow over the flow.
    pub tremor: f64,
    /// How fast the unsteadiness forgets itself, 1/s.
    pub forget_per_s: f64,
    /// Uncertainty of a stamp, s: it moves a reading by the flow times this.
    pub stamp_sd_s: f64,
    /// Wander of the zero, g per root s.
    pub zero_g: f64,
    /// Flow deviation at rest, sd in g/s.
    pub rest_flow_g_per_s: f64,
}

/// A stretch in which a hand pours, and its flow.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stretch {
    pub start_s: f64,
    pub end_s: f64,
    pub flow_g_per_s: f64,
}

type Vector = [f64; 4];
type Matrix = [[f64; 4]; 4];

/// Reading, surplus water, flow deviation, zero.
const FLOW: usize = 2;

/// Nodes and weights of the three-point Gauss-Legendre rule on 0..1.
const GAUSS: [(f64, f64); 3] =
    [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];

/// Exact transition of the first three states over a time step.
#[derive(Clone, Copy)]
struct Step {
    keep: f64,
    forget: f64,
    flow_to_water: f64,
    flow_to_reading: f64,
    noise: Matrix,
}

impl Wander {
    /// Column of the transition that a flow deviation of 1 leaves after `s` seconds: reading, water, flow.
    fn response(&self, s: f64) -> [f64; 3] {
        let (kappa, mut lambda) = (1.0 / self.tau_s, self.forget_per_s);
        if (kappa - lambda).abs() < 1e-4 * kappa {
            lambda *= 1.0 + 1e-3;
        }
        let (keep, forget) = ((-kappa * s).exp(), (-lambda * s).exp());
        let reading = ((1.0 - keep) - kappa * (forget - keep) / (kappa - lambda)) / lambda;
        [reading, (1.0 - forget) / lambda, forget]
    }

    fn step(&self, dt_s: f64, flow_sd: f64) -> Step {
        let [flow_to_reading, flow_to_water, forget] = self.response(dt_s);
        let mut noise = [[0.0; 4]; 4];
        if flow_sd > 0.0 {
            let power = 2.0 * self.forget_per_s * flow_sd * flow_sd * dt_s;
            for (at, weight) in GAUSS {
                let g = self.response(at * dt_s);
                for i in 0..3 {
                    for j in 0..3 {
                        noise[i][j] += power * weight * g[i] * g[j];
                    }
                }
            }
        }
        noise[3][3] = self.zero_g * self.zero_g * dt_s;
        Step { keep: (-dt_s / self.tau_s).exp(), forget, flow_to_water, flow_to_reading, noise }
    }
}

impl Step {
    fn apply(&self, x: &Vector) -> Vector {
        [
            self.keep * x[0] + (1.0 - self.keep) * x[1] + self.flow_to_reading * x[2],
            x[1] + self.flow_to_water * x[2],
            self.forget * x[2],
            x[3],
        ]
    }

    /// The transposed transition.
    fn apply_back(&self, x: &Vector) -> Vector {
        [
            self.keep * x[0],
            (1.0 - self.keep) * x[0] + x[1],
            self.flow_to_reading * x[0] + self.flow_to_water * x[1] + self.forget * x[2],
            x[3],
        ]
    }

    fn spread(&self, p: &Matrix) -> Matrix {
        let mut half = [[0.0; 4]; 4];
        for i in 0..4 {
            half[i] = self.apply(&p[i]);
        }
        let mut out = self.noise;
        for j in 0..4 {
            let column = self.apply(&[half[0][j], half[1][j], half[2][j], half[3][j]]);
            for i in 0..4 {
                out[i][j] += column[i];
            }
        }
        out
    }

    fn spread_back(&self, n: &Matrix) -> Matrix {
        let mut half = [[0.0; 4]; 4];
        for i in 0..4 {
            half[i] = self.apply_back(&n[i]);
        }
        let mut out = [[0.0; 4]; 4];
        for j in 0..4 {
            let column = self.apply_back(&[half[0][j], half[1][j], half[2][j], half[3][j]]);
            for i in 0..4 {
                out[i][j] = column[i];
            }
        }
        out
    }
}

/// One leg of the way from stamp to stamp: a step within one regime, and whether the flow deviation starts anew at its end.
#[derive(Clone, Copy)]
enum Leg {
    Step(Step),
    /// The flow deviation forgets all and takes this variance.
    Anew(f64),
}

/// Walks the stamps: calls `on_leg` for each leg and `on_sample` at each stamp with the noise variance there.
struct Walk<'a> {
    wander: &'a Wander,
    stretches: &'a [Stretch],
    at: usize,
    inside: bool,
    time_s: f64,
}

impl<'a> Walk<'a> {
    fn new(wander: &'a Wander, stretches: &'a [Stretch], start_s: f64) -> Self {
        let at = stretches.iter().take_while(|s| s.end_s <= start_s).count();
        let inside = stretches.get(at).is_some_and(|s| s.start_s < start_s);
        Self { wander, stretches, at, inside, time_s: start_s }
    }

    fn flow(&self) -> f64 {
        if self.inside { self.stretches[self.at].flow_g_per_s.abs() } else { 0.0 }
    }

    fn flow_sd(&self) -> f64 {
        (self.wander.tremor * self.flow()).max(self.wander.rest_flow_g_per_s)
    }

    fn noise_var(&self) -> f64 {
        self.wander.noise_sd_g.powi(2) + (self.flow() * self.wander.stamp_sd_s).powi(2)
    }

    fn go(&mut self, to_s: f64, legs: &mut Vec<Leg>) {
        legs.clear();
        loop {
            let edge = match self.stretches.get(self.at) {
                Some(s) if self.inside => s.end_s,
                Some(s) => s.start_s,
                None => f64::INFINITY,
            };
            let stop = edge.min(to_s);
            if stop > self.time_s {
                legs.push(Leg::Step(self.wander.step(stop - self.time_s, self.flow_sd())));
                self.time_s = stop;
            }
            if edge > to_s {
                return;
            }
            self.at += usize::from(self.inside);
            self.inside = !self.inside;
            legs.push(Leg::Anew(self.flow_sd().powi(2)));
        }
    }
}

fn anew(p: &mut Matrix, var: f64) {
    for i in 0..4 {
        p[i][FLOW] = 0.0;
        p[FLOW][i] = 0.0;
    }
    p[FLOW][FLOW] = var;
}

fn first(wander: &Wander, walk: &Walk<'_>) -> Matrix {
    let mut p = [[0.0; 4]; 4];
    if walk.inside || wander.rest_flow_g_per_s > 0.0 {
        p[FLOW][FLOW] = walk.flow_sd().powi(2);
    }
    p
}

/// Gain at a sample, variance of its innovation.
fn update(p: &mut Matrix, noise_var: f64) -> (Vector, f64) {
    let s = p[0][0] + 2.0 * p[0][3] + p[3][3] + noise_var;
    let seen: Vector = std::array::from_fn(|i| p[i][0] + p[i][3]);
    let gain = seen.map(|x| x / s);
    for i in 0..4 {
        for j in 0..4 {
            p[i][j] -= gain[i] * seen[j];
        }
    }
    (gain, s)
}

impl Wander {
    /// Whitens `width` columns, given row by row, in place; returns the sum of the logarithms of the innovation variances.
    pub(crate) fn whiten(
        &self,
        time_s: &[f64],
        stretches: &[Stretch],
        rows: &mut [f64],
        width: usize,
    ) -> f64 {
        let Some(&start_s) = time_s.first() else { return 0.0 };
        let mut walk = Walk::new(self, stretches, start_s);
        let mut p = first(self, &walk);
        let mut means = vec![[0.0; 4]; width];
        let (mut legs, mut log_det) = (Vec::new(), 0.0);
        for (&t, row) in time_s.iter().zip(rows.chunks_exact_mut(width)) {
            walk.go(t, &mut legs);
            for leg in &legs {
                match leg {
                    Leg::Step(step) => {
                        p = step.spread(&p);
                        means.iter_mut().for_each(|m| *m = step.apply(m));
                    }
                    Leg::Anew(var) => {
                        anew(&mut p, *var);
                        means.iter_mut().for_each(|m| m[FLOW] = 0.0);
                    }
                }
            }
            let (gain, s) = update(&mut p, walk.noise_var());
            let scale = 1.0 / s.sqrt();
            log_det += s.ln();
            for (x, m) in row.iter_mut().zip(&mut means) {
                let v = *x - m[0] - m[3];
                for i in 0..4 {
                    m[i] += gain[i] * v;
                }
                *x = v * scale;
            }
        }
        log_det
    }

    /// Smoothed deviations at each stamp; a reading of NaN is passed over.
    pub(crate) fn smooth(&self, time_s: &[f64], stretches: &[Stretch], deviation_g: &[f64]) -> Vec<Smoothed> {
        struct Past {
            legs: Vec<Leg>,
            mean: Vector,
            p: Matrix,
            seen: Option<(Vector, f64, f64)>,
        }
        let Some(&start_s) = time_s.first() else { return Vec::new() };
        let mut walk = Walk::new(self, stretches, start_s);
        let (mut p, mut mean) = (first(self, &walk), [0.0; 4]);
        let mut past: Vec<Past> = Vec::with_capacity(time_s.len());
        for (&t, &y) in time_s.iter().zip(deviation_g) {
            let mut legs = Vec::new();
            walk.go(t, &mut legs);
            for leg in &legs {
                match leg {
                    Leg::Step(step) => {
                        p = step.spread(&p);
                        mean = step.apply(&mean);
                    }
                    Leg::Anew(var) => {
                        anew(&mut p, *var);
                        mean[FLOW] = 0.0;
                    }
                }
            }
            let mut this = Past { legs, mean, p, seen: None };
            if y.is_finite() {
                let v = y - mean[0] - mean[3];
                let (gain, s) = update(&mut p, walk.noise_var());
                for i in 0..4 {
                    mean[i] += gain[i] * v;
                }
                this.seen = Some((gain, v, s));
            }
            past.push(this);
        }
        let (mut r, mut n) = ([0.0; 4], [[0.0; 4]; 4]);
        let mut out = vec![Smoothed::default(); time_s.len()];
        for (k, this) in past.iter().enumerate().rev() {
            if let Some((gain, v, s)) = &this.seen {
                look_back(&mut r, &mut n, gain, *v, *s);
            }
            let at = |i: usize| this.mean[i] + dot(&this.p[i], &r);
            let var = |i: usize| {
                let inner: Vector = std::array::from_fn(|j| dot(&n[j], &this.p[i]));
                (this.p[i][i] - dot(&this.p[i], &inner)).max(0.0)
            };
            out[k] = Smoothed {
                water_g: at(1),
                water_var: var(1),
                flow_g_per_s: at(FLOW),
                flow_var: var(FLOW),
                zero_g: at(3),
            };
            for leg in this.legs.iter().rev() {
                match leg {
                    Leg::Step(step) => {
                        r = step.apply_back(&r);
                        n = step.spread_back(&n);
                    }
                    Leg::Anew(_) => {
                        r[FLOW] = 0.0;
                        anew(&mut n, 0.0);
                    }
                }
            }
        }
        out
    }
}

/// The backward recursion across a sample: what the later samples and this one say together.
fn look_back(r: &mut Vector, n: &mut Matrix, gain: &Vector, v: f64, s: f64) {
    // L = I - gain * h with h = (1, 0, 0, 1); r <- h v/s + L' r; N <- h h'/s + L' N L.
    let back = v / s - dot(gain, r);
    r[0] += back;
    r[3] += back;
    let ng: Vector = std::array::from_fn(|i| dot(&n[i], gain));
    let gng = dot(gain, &ng) + 1.0 / s;
    for i in 0..4 {
        for j in 0..4 {
            let (hi, hj) = (f64::from(i % 3 == 0), f64::from(j % 3 == 0));
            n[i][j] += hi * hj * gng - hi * ng[j] - ng[i] * hj;
        }
    }
}

fn dot(a: &Vector, b: &Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3]
}

/// Smoothed deviation at one stamp.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Smoothed {
    pub water_g: f64,
    pub water_var: f64,
    pub flow_g_per_s: f64,
    pub flow_var: f64,
    pub zero_g: f64,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::solve::{cholesky, solve};

    const WANDER: Wander = Wander {
        tau_s: 0.25,
        noise_sd_g: 0.06,
        tremor: 0.1,
        forget_per_s: 4.0,
        stamp_sd_s: 0.005,
        zero_g: 0.02,
        rest_flow_g_per_s: 0.0,
    };
    const STRETCH: Stretch = Stretch { start_s: 0.33, end_s: 1.71, flow_g_per_s: 9.0 };

    /// Covariance of the readings by quadrature of the Ornstein-Uhlenbeck kernel, without any filter.
    fn dense(time_s: &[f64]) -> Vec<f64> {
        let (n, h) = (time_s.len(), 0.004);
        let grid: Vec<f64> = (0..)
            .map(|i| STRETCH.start_s + h * (f64::from(i) + 0.5))
            .take_while(|s| *s < STRETCH.end_s)
            .collect();
        let sd = WANDER.tremor * STRETCH.flow_g_per_s;
        let kernel: Vec<Vec<f64>> =
            grid.iter().map(|s| grid.iter().map(|u| (-4.0 * (s - u).abs()).exp()).collect()).collect();
        let lagged: Vec<Vec<f64>> = time_s
            .iter()
            .map(|t| {
                grid.iter()
                    .map(|s| if s < t { h * (1.0 - (-(t - s) / WANDER.tau_s).exp()) } else { 0.0 })
                    .collect()
            })
            .collect();
        let mut c = vec![0.0; n * n];
        for i in 0..n {
            let smeared: Vec<f64> =
                kernel.iter().map(|row| row.iter().zip(&lagged[i]).map(|(a, b)| a * b).sum()).collect();
            for j in 0..n {
                c[i * n + j] = sd * sd * smeared.iter().zip(&lagged[j]).map(|(a, b)| a * b).sum::<f64>();
                c[i * n + j] += WANDER.zero_g.powi(2) * (time_s[i].min(time_s[j]) - time_s[0]);
            }
            let inside = time_s[i] > STRETCH.start_s && time_s[i] < STRETCH.end_s;
            let stamp = if inside { WANDER.stamp_sd_s * STRETCH.flow_g_per_s } else { 0.0 };
            c[i * n + i] += WANDER.noise_sd_g.powi(2) + stamp * stamp;
        }
        c
    }

    fn stamps() -> Vec<f64> {
        (0..24).map(|i| 0.1 * f64::from(i) + 0.02 * f64::from((i * 7) % 3)).collect()
    }

    #[test]
    fn the_filter_whitens_like_the_factor_of_the_dense_covariance() {
        let time = stamps();
        let y: Vec<f64> = time.iter().map(|t| 0.3 * (3.0 * t).sin() + 0.1 * t).collect();
        let mut rows = y.clone();
        let log_det = WANDER.whiten(&time, &[STRETCH], &mut rows, 1);
        let n = time.len();
        let mut l = dense(&time);
        assert!(cholesky(&mut l, n));
        let mut x = y.clone();
        solve(&l, n, &mut x);
        let (found, expected): (f64, f64) =
            (rows.iter().map(|v| v * v).sum(), y.iter().zip(&x).map(|(a, b)| a * b).sum());
        assert!((found / expected - 1.0).abs() < 2e-3, "{found} for {expected}");
        let dense_log_det: f64 = (0..n).map(|i| 2.0 * l[i * n + i].ln()).sum();
        assert!((log_det - dense_log_det).abs() < 0.02, "{log_det} for {dense_log_det}");
    }

    #[test]
    fn the_smoother_agrees_with_the_dense_conditional_mean() {
        // E[zero + reading | y] at the samples is y - noise K^-1 y; where the sample is inside the pour the stamp noise adds.
        let time = stamps();
        let y: Vec<f64> = time.iter().map(|t| 0.3 * (3.0 * t).sin() + 0.1 * t).collect();
        let smoothed = WANDER.smooth(&time, &[STRETCH], &y);
        let n = time.len();
        let mut l = dense(&time);
        assert!(cholesky(&mut l, n));
        let mut x = y.clone();
        solve(&l, n, &mut x);
        // Zero at the last sample: its covariance with every reading is zero_g^2 (t_j - t_0).
        let zero: f64 = time.iter().zip(&x).map(|(t, x)| WANDER.zero_g.powi(2) * (t - time[0]) * x).sum();
        assert!((smoothed[n - 1].zero_g - zero).abs() < 1e-3, "{} for {zero}", smoothed[n - 1].zero_g);
    }
}
