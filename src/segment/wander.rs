//! In: stamps, and the stretches in which a hand pours. Out: the filter that turns correlated deviations into white ones, and the
//! smoother that gives them back.
//!
//! What a log shows beside the trapezoids: the hand's own unsteadiness, a slowly wandering zero, and white noise. While a hand pours its
//! flow deviates like the speed of a damped oscillator in noise, so that the surplus of water stays bounded; at rest like an
//! Ornstein-Uhlenbeck process, or not at all. All of it is seen through the scale's lag. The five states are the lagged reading, the
//! surplus that stays, the surplus that swings, the flow deviation and the zero. Method: Kalman filter with exact transitions on uneven
//! stamps; smoother in the backward form without inverses (Durbin and Koopman, Time Series Analysis by State Space Methods, 4.4).

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
    /// How fast the unsteadiness swings, rad/s.
    pub swing_rad_per_s: f64,
    /// How long it keeps its beat: the oscillator's quality; above 0.5.
    pub quality: f64,
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

const N: usize = 5;
type Vector = [f64; N];
type Matrix = [[f64; N]; N];

const READING: usize = 0;
const STAYS: usize = 1;
const SWINGS: usize = 2;
const FLOW: usize = 3;
const ZERO: usize = 4;

/// How fast a flow deviation at rest forgets itself, 1/s.
const REST_FORGETS_PER_S: f64 = 4.0;

/// Longest step of the quadrature of the process noise, in radians of the swing.
const STEP_RAD: f64 = 1.5;

/// Nodes and weights of the three-point Gauss-Legendre rule on 0..1.
const GAUSS: [(f64, f64); 3] =
    [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];

/// What the swinging surplus and the flow deviation leave after a time: in reading, surplus and flow.
#[derive(Clone, Copy)]
struct Response {
    of_swing: [f64; 3],
    of_flow: [f64; 3],
}

/// How the deviation moves between two stamps.
#[derive(Clone, Copy)]
enum Regime {
    Rest,
    Pour,
}

/// Exact transition over a time step.
#[derive(Clone, Copy)]
struct Step {
    keep: f64,
    response: Response,
    noise: Matrix,
}

/// One leg of the way from stamp to stamp.
#[derive(Clone, Copy)]
enum Leg {
    /// A step within one regime.
    Step(Step),
    /// A pour begins or ends: what swings stays from now on; the flow deviation starts anew with this variance, and the surplus swings
    /// around a centre that is off by the second.
    Anew(f64, f64),
}

impl Wander {
    fn response(&self, regime: Regime, s: f64) -> Response {
        let kappa = 1.0 / self.tau_s;
        let keep = (-kappa * s).exp();
        match regime {
            Regime::Rest => {
                // The lag is never exactly the time of forgetting; if it were, this would be 0/0.
                let lambda =
                    REST_FORGETS_PER_S * if (kappa - REST_FORGETS_PER_S).abs() < 1e-3 { 1.001 } else { 1.0 };
                let forget = (-lambda * s).exp();
                let reading = ((1.0 - keep) - kappa * (forget - keep) / (kappa - lambda)) / lambda;
                Response {
                    of_swing: [1.0 - keep, 1.0, 0.0],
                    of_flow: [reading, (1.0 - forget) / lambda, forget],
                }
            }
            Regime::Pour => {
                let w0 = self.swing_rad_per_s;
                let gamma = w0 / (2.0 * self.quality);
                let w = (w0 * w0 - gamma * gamma).sqrt();
                let (sin, cos) = (w * s).sin_cos();
                let fade = (-gamma * s).exp();
                // The reading is kappa times the lagged integral of fade (a cos + b sin).
                let alpha = kappa - gamma;
                let scale = kappa / (alpha * alpha + w * w);
                let lag_cos = scale * (fade * (alpha * cos + w * sin) - alpha * keep);
                let lag_sin = scale * (fade * (alpha * sin - w * cos) + w * keep);
                Response {
                    of_swing: [
                        lag_cos + gamma / w * lag_sin,
                        fade * (cos + gamma / w * sin),
                        -fade * w0 * w0 / w * sin,
                    ],
                    of_flow: [lag_sin / w, fade * sin / w, fade * (cos - gamma / w * sin)],
                }
            }
        }
    }

    fn step(&self, regime: Regime, dt_s: f64, flow_sd: f64) -> Step {
        let mut noise = [[0.0; N]; N];
        if flow_sd > 0.0 {
            let forgets = match regime {
                Regime::Rest => REST_FORGETS_PER_S,
                Regime::Pour => self.swing_rad_per_s / self.quality,
            };
            let power = 2.0 * forgets * flow_sd * flow_sd * dt_s;
            const AT: [usize; 3] = [READING, SWINGS, FLOW];
            for (at, weight) in GAUSS {
                let g = self.response(regime, at * dt_s).of_flow;
                for i in 0..3 {
                    for j in 0..3 {
                        noise[AT[i]][AT[j]] += power * weight * g[i] * g[j];
                    }
                }
            }
        }
        noise[ZERO][ZERO] = self.zero_g * self.zero_g * dt_s;
        Step { keep: (-dt_s / self.tau_s).exp(), response: self.response(regime, dt_s), noise }
    }
}

impl Step {
    fn apply(&self, x: &Vector) -> Vector {
        let (swing, flow) = (&self.response.of_swing, &self.response.of_flow);
        [
            self.keep * x[READING] + (1.0 - self.keep) * x[STAYS] + swing[0] * x[SWINGS] + flow[0] * x[FLOW],
            x[STAYS],
            swing[1] * x[SWINGS] + flow[1] * x[FLOW],
            swing[2] * x[SWINGS] + flow[2] * x[FLOW],
            x[ZERO],
        ]
    }

    /// The transposed transition.
    fn apply_back(&self, x: &Vector) -> Vector {
        let back = |r: &[f64; 3]| r[0] * x[READING] + r[1] * x[SWINGS] + r[2] * x[FLOW];
        [
            self.keep * x[READING],
            (1.0 - self.keep) * x[READING] + x[STAYS],
            back(&self.response.of_swing),
            back(&self.response.of_flow),
            x[ZERO],
        ]
    }
}

/// `A p A'` for a linear map `A` given as a function of a vector, `p` symmetric.
fn congruence(p: &Matrix, map: impl Fn(&Vector) -> Vector) -> Matrix {
    let half: Matrix = std::array::from_fn(|i| map(&p[i]));
    let columns: Matrix = std::array::from_fn(|j| map(&std::array::from_fn(|i| half[i][j])));
    std::array::from_fn(|i| std::array::from_fn(|j| columns[j][i]))
}

/// What swings stays.
fn settle(x: &Vector) -> Vector {
    [x[READING], x[STAYS] + x[SWINGS], 0.0, 0.0, x[ZERO]]
}

/// The transposed [`settle`].
fn settle_back(x: &Vector) -> Vector {
    [x[READING], x[STAYS], x[STAYS], 0.0, x[ZERO]]
}

impl Leg {
    fn mean(&self, x: &Vector) -> Vector {
        match self {
            Self::Step(step) => step.apply(x),
            Self::Anew(..) => settle(x),
        }
    }

    fn covariance(&self, p: &Matrix) -> Matrix {
        match self {
            Self::Step(step) => {
                let mut out = congruence(p, |x| step.apply(x));
                for (row, noise) in out.iter_mut().zip(&step.noise) {
                    row.iter_mut().zip(noise).for_each(|(x, q)| *x += q);
                }
                out
            }
            Self::Anew(flow_var, centre_var) => {
                let mut out = congruence(p, settle);
                out[FLOW][FLOW] += flow_var;
                out[STAYS][STAYS] += centre_var;
                out[SWINGS][SWINGS] += centre_var;
                out[STAYS][SWINGS] -= centre_var;
                out[SWINGS][STAYS] -= centre_var;
                out
            }
        }
    }

    fn back(&self, r: &Vector, n: &Matrix) -> (Vector, Matrix) {
        match self {
            Self::Step(step) => (step.apply_back(r), congruence(n, |x| step.apply_back(x))),
            Self::Anew(..) => (settle_back(r), congruence(n, settle_back)),
        }
    }
}

/// Walks from stamp to stamp through rests and pours.
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

    fn anew(&self) -> Leg {
        let var = self.flow_sd().powi(2);
        Leg::Anew(var, if self.inside { var / self.wander.swing_rad_per_s.powi(2) } else { 0.0 })
    }

    /// Covariance before the first sample.
    fn first(&self) -> Matrix {
        self.anew().covariance(&[[0.0; N]; N])
    }

    fn go(&mut self, to_s: f64, legs: &mut Vec<Leg>) {
        legs.clear();
        loop {
            let edge = match self.stretches.get(self.at) {
                Some(s) if self.inside => s.end_s,
                Some(s) => s.start_s,
                None => f64::INFINITY,
            };
            let mut left = edge.min(to_s) - self.time_s;
            if left > 0.0 {
                let regime = if self.inside { Regime::Pour } else { Regime::Rest };
                let pieces =
                    if self.inside { (left * self.wander.swing_rad_per_s / STEP_RAD).ceil() } else { 1.0 };
                left /= pieces;
                let step = self.wander.step(regime, left, self.flow_sd());
                legs.extend((0..pieces as usize).map(|_| Leg::Step(step)));
                self.time_s = edge.min(to_s);
            }
            if edge > to_s {
                return;
            }
            self.at += usize::from(self.inside);
            self.inside = !self.inside;
            legs.push(self.anew());
        }
    }
}

/// Gain at a sample, variance of its innovation.
fn update(p: &mut Matrix, noise_var: f64) -> (Vector, f64) {
    let s = p[READING][READING] + 2.0 * p[READING][ZERO] + p[ZERO][ZERO] + noise_var;
    let seen: Vector = std::array::from_fn(|i| p[i][READING] + p[i][ZERO]);
    let gain = seen.map(|x| x / s);
    for i in 0..N {
        for j in 0..N {
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
        let mut p = walk.first();
        let mut means = vec![[0.0; N]; width];
        let (mut legs, mut log_det) = (Vec::new(), 0.0);
        for (&t, row) in time_s.iter().zip(rows.chunks_exact_mut(width)) {
            walk.go(t, &mut legs);
            for leg in &legs {
                p = leg.covariance(&p);
                means.iter_mut().for_each(|m| *m = leg.mean(m));
            }
            let (gain, s) = update(&mut p, walk.noise_var());
            let scale = 1.0 / s.sqrt();
            log_det += s.ln();
            for (x, m) in row.iter_mut().zip(&mut means) {
                let v = *x - m[READING] - m[ZERO];
                m.iter_mut().zip(&gain).for_each(|(m, g)| *m += g * v);
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
        let (mut p, mut mean) = (walk.first(), [0.0; N]);
        let mut past: Vec<Past> = Vec::with_capacity(time_s.len());
        for (&t, &y) in time_s.iter().zip(deviation_g) {
            let mut legs = Vec::new();
            walk.go(t, &mut legs);
            for leg in &legs {
                p = leg.covariance(&p);
                mean = leg.mean(&mean);
            }
            let mut this = Past { legs, mean, p, seen: None };
            if y.is_finite() {
                let v = y - mean[READING] - mean[ZERO];
                let (gain, s) = update(&mut p, walk.noise_var());
                mean.iter_mut().zip(&gain).for_each(|(m, g)| *m += g * v);
                this.seen = Some((gain, v, s));
            }
            past.push(this);
        }
        let (mut r, mut n) = ([0.0; N], [[0.0; N]; N]);
        let mut out = vec![Smoothed::default(); time_s.len()];
        for (k, this) in past.iter().enumerate().rev() {
            if let Some((gain, v, s)) = &this.seen {
                look_back(&mut r, &mut n, gain, *v, *s);
            }
            out[k] = Smoothed::new(&this.mean, &this.p, &r, &n);
            for leg in this.legs.iter().rev() {
                (r, n) = leg.back(&r, &n);
            }
        }
        out
    }
}

/// The backward recursion across a sample: what the later samples and this one say together.
fn look_back(r: &mut Vector, n: &mut Matrix, gain: &Vector, v: f64, s: f64) {
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
    /// Water beyond the bursts, g, and its variance.
    pub water_g: f64,
    pub water_var: f64,
    /// Flow beyond the bursts, g/s, and its variance.
    pub flow_g_per_s: f64,
    pub flow_var: f64,
}

impl Smoothed {
    fn new(mean: &Vector, p: &Matrix, r: &Vector, n: &Matrix) -> Self {
        // For a combination c of the states: mean + c'P r, variance c'(P - P N P) c.
        let of = |seen: &Vector, mean: f64, var: f64| {
            let inner: Vector = std::array::from_fn(|j| dot(&n[j], seen));
            (mean + dot(seen, r), (var - dot(seen, &inner)).max(0.0))
        };
        let both: Vector = std::array::from_fn(|i| p[i][STAYS] + p[i][SWINGS]);
        let (water_g, water_var) = of(&both, mean[STAYS] + mean[SWINGS], both[STAYS] + both[SWINGS]);
        let (flow_g_per_s, flow_var) = of(&p[FLOW], mean[FLOW], p[FLOW][FLOW]);
        Self { water_g, water_var, flow_g_per_s, flow_var }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::solve::{cholesky, solve};

    const WANDER: Wander = Wander {
        tau_s: 0.25,
        noise_sd_g: 0.06,
        tremor: 0.1,
        swing_rad_per_s: 6.0,
        quality: 1.5,
        stamp_sd_s: 0.005,
        zero_g: 0.02,
        rest_flow_g_per_s: 0.0,
    };
    const STRETCH: Stretch = Stretch { start_s: 0.33, end_s: 1.71, flow_g_per_s: 9.0 };

    /// Autocovariance of the speed of a damped oscillator of unit variance (textbook form; differentiated from the position's).
    fn speed(lag_s: f64) -> f64 {
        let gamma = WANDER.swing_rad_per_s / (2.0 * WANDER.quality);
        let w = (WANDER.swing_rad_per_s.powi(2) - gamma * gamma).sqrt();
        (-gamma * lag_s).exp() * ((w * lag_s).cos() - gamma / w * (w * lag_s).sin())
    }

    /// Covariance of the readings by quadrature of that kernel, without any filter.
    fn dense(time_s: &[f64]) -> Vec<f64> {
        let (n, h) = (time_s.len(), 0.004);
        let grid: Vec<f64> = (0..)
            .map(|i| STRETCH.start_s + h * (f64::from(i) + 0.5))
            .take_while(|s| *s < STRETCH.end_s)
            .collect();
        let sd = WANDER.tremor * STRETCH.flow_g_per_s;
        let kernel: Vec<Vec<f64>> =
            grid.iter().map(|s| grid.iter().map(|u| speed((s - u).abs())).collect()).collect();
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
    fn the_smoother_agrees_with_the_dense_conditional_flow() {
        let time = stamps();
        let y: Vec<f64> = time.iter().map(|t| 0.3 * (3.0 * t).sin() + 0.1 * t).collect();
        let smoothed = WANDER.smooth(&time, &[STRETCH], &y);
        let n = time.len();
        let mut l = dense(&time);
        assert!(cholesky(&mut l, n));
        let var = (WANDER.tremor * STRETCH.flow_g_per_s).powi(2);
        for k in [6, 10, 15] {
            // Covariance of the flow at sample k with every reading.
            let h = 1e-3;
            let lagged = |t: f64, s: f64| if s < t { 1.0 - (-(t - s) / WANDER.tau_s).exp() } else { 0.0 };
            let cross: Vec<f64> = time
                .iter()
                .map(|&t| {
                    let inside = (0..1380).map(|i| STRETCH.start_s + h * (f64::from(i) + 0.5));
                    var * inside.map(|s| h * speed((time[k] - s).abs()) * lagged(t, s)).sum::<f64>()
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
