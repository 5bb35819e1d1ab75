//! In: stamps, and the stretches of the pours. Out: the state-space transitions of the disturbances from stamp
//! to stamp.
//!
//! The disturbances are the deviation of the flow from the trapezoids, a random walk of zero, and white noise.
//! During a pour the flow deviation is the speed of a damped oscillator driven by noise, so that the surplus of
//! water stays bounded. At rest it is an Ornstein-Uhlenbeck process, or zero. All are observed through the
//! scale's lag. The five states are the lagged reading, the settled surplus, the oscillating surplus, the flow
//! deviation and the zero. Stamps may be uneven; the length of a step is rounded to .4 % (`Steps`).

use crate::model::scale::Scale;
use serde::{Deserialize, Serialize};

/// Hyperparameters of the disturbance model.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Disturbance {
    /// The scale: its lag, and the lead due to the stream's force.
    pub scale: Scale,
    /// White noise of a reading at rest, sd in g.
    pub noise_sd_g: f64,
    /// Relative sd of the flow's deviation.
    pub tremor: f64,
    /// Angular frequency of the oscillator, rad/s.
    pub swing_rad_per_s: f64,
    /// Quality factor of the oscillator; above 0.5.
    pub quality: f64,
    /// Sd of a stamp, s: it adds the flow times this to the noise of a reading.
    pub stamp_sd_s: f64,
    /// Process noise of the zero, g per root s.
    pub zero_g: f64,
    /// Flow deviation at rest, sd in g/s.
    pub rest_flow_g_per_s: f64,
}

/// The stretch of a pour, and its flow.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stretch {
    pub start_s: f64,
    pub end_s: f64,
    pub flow_g_per_s: f64,
}

pub(crate) const N: usize = 5;
pub(crate) type Vector = [f64; N];
pub(crate) type Matrix = [[f64; N]; N];

pub(crate) const READING: usize = 0;
pub(crate) const SETTLED: usize = 1;
pub(crate) const OSCILLATING: usize = 2;
pub(crate) const FLOW: usize = 3;
pub(crate) const ZERO: usize = 4;

/// Decay rate of a flow deviation at rest, 1/s.
const REST_DECAY_PER_S: f64 = 4.0;

/// Longest step of the quadrature of the process noise, in radians of the oscillation.
const STEP_RAD: f64 = 1.5;

/// Over a gap, this many steps before its end are taken one by one; earlier process noise has decayed.
const MAX_STEPS: f64 = 40.0;

/// Nodes and weights of the three-point Gauss-Legendre rule on 0..1.
const GAUSS: [(f64, f64); 3] =
    [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];

/// Response of reading, surplus and flow to the oscillating surplus and to the flow deviation after a time.
#[derive(Clone, Copy)]
struct Response {
    of_swing: [f64; 3],
    of_flow: [f64; 3],
}

/// Dynamics of the deviation between two stamps.
#[derive(Clone, Copy, PartialEq)]
enum Regime {
    Rest,
    Pour,
}

/// Transition over a time step.
#[derive(Clone, Copy)]
pub(crate) struct Step {
    dt_s: f64,
    decay: f64,
    response: Response,
    /// Process noise of reading, surplus and flow for a flow deviation of unit variance.
    unit: [[f64; 3]; 3],
}

/// One leg between two stamps.
#[allow(clippy::large_enum_variant)] // nearly every leg is a step
#[derive(Clone, Copy)]
pub(crate) enum Leg {
    /// A step within one regime, the variance of the flow deviation, and the process noise of the zero.
    Step(Step, f64, f64),
    /// A pour begins or ends: the oscillating surplus settles, and the flow deviation is redrawn with the first
    /// variance. The centre of the oscillation is redrawn with the second.
    Boundary(f64, f64),
}

impl Disturbance {
    fn response(&self, regime: Regime, s: f64) -> Response {
        let Scale { tau_s, lead_s } = self.scale;
        let kappa = 1.0 / tau_s;
        let decay = (-kappa * s).exp();
        match regime {
            Regime::Rest => {
                // A lag equal to the decay time would give 0/0.
                let lambda =
                    REST_DECAY_PER_S * if (kappa - REST_DECAY_PER_S).abs() < 1e-3 { 1.001 } else { 1.0 };
                let fade = (-lambda * s).exp();
                // The lagged flow, then the lagged water.
                let flow = kappa * (fade - decay) / (kappa - lambda);
                let reading = ((1.0 - decay) - flow) / lambda + lead_s * flow;
                Response {
                    of_swing: [1.0 - decay, 1.0, 0.0],
                    of_flow: [reading, (1.0 - fade) / lambda, fade],
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
                let lag_cos = scale * (fade * (alpha * cos + w * sin) - alpha * decay);
                let lag_sin = scale * (fade * (alpha * sin - w * cos) + w * decay);
                Response {
                    of_swing: [
                        lag_cos + (gamma - lead_s * w0 * w0) / w * lag_sin,
                        fade * (cos + gamma / w * sin),
                        -fade * w0 * w0 / w * sin,
                    ],
                    of_flow: [
                        lag_sin / w + lead_s * (lag_cos - gamma / w * lag_sin),
                        fade * sin / w,
                        fade * (cos - gamma / w * sin),
                    ],
                }
            }
        }
    }

    fn step(&self, regime: Regime, dt_s: f64) -> Step {
        let rate = match regime {
            Regime::Rest => REST_DECAY_PER_S,
            Regime::Pour => self.swing_rad_per_s / self.quality,
        };
        let mut unit = [[0.0; 3]; 3];
        for (at, weight) in GAUSS {
            let g = self.response(regime, at * dt_s).of_flow;
            let power = 2.0 * rate * dt_s * weight;
            for (row, x) in unit.iter_mut().zip(g) {
                row.iter_mut().zip(g).for_each(|(q, y)| *q += power * x * y);
            }
        }
        Step { dt_s, decay: (-dt_s / self.scale.tau_s).exp(), response: self.response(regime, dt_s), unit }
    }
}

/// Cache of steps by regime and length: a log repeats a few intervals, and a step costs far more than its use.
struct Steps {
    cached: Vec<Option<(Regime, Step)>>,
}

impl Steps {
    const SLOTS: usize = 64;
    /// Lengths are rounded to so many bits of an octave, by at most .4 %. As a step is at most `STEP_RAD`, the
    /// phase error is below a hundredth of a radian.
    const SHARE_BITS: u32 = 7;

    fn new() -> Self {
        Self { cached: vec![None; Self::SLOTS] }
    }

    fn of(&mut self, disturbance: &Disturbance, regime: Regime, dt_s: f64) -> Step {
        let round = 1_u64 << (51 - Self::SHARE_BITS);
        let bits = (dt_s.to_bits() + round) & !(2 * round - 1);
        let dt_s = f64::from_bits(bits);
        let slot = (bits >> (52 - Self::SHARE_BITS)) as usize % Self::SLOTS;
        match self.cached[slot] {
            Some((of, step)) if of == regime && step.dt_s == dt_s => step,
            _ => {
                let step = disturbance.step(regime, dt_s);
                self.cached[slot] = Some((regime, step));
                step
            }
        }
    }
}

impl Step {
    fn apply(&self, x: &Vector) -> Vector {
        let (swing, flow) = (&self.response.of_swing, &self.response.of_flow);
        [
            self.decay * x[READING]
                + (1.0 - self.decay) * x[SETTLED]
                + swing[0] * x[OSCILLATING]
                + flow[0] * x[FLOW],
            x[SETTLED],
            swing[1] * x[OSCILLATING] + flow[1] * x[FLOW],
            swing[2] * x[OSCILLATING] + flow[2] * x[FLOW],
            x[ZERO],
        ]
    }

    /// The transposed transition.
    fn apply_back(&self, x: &Vector) -> Vector {
        let back = |r: &[f64; 3]| r[0] * x[READING] + r[1] * x[OSCILLATING] + r[2] * x[FLOW];
        [
            self.decay * x[READING],
            (1.0 - self.decay) * x[READING] + x[SETTLED],
            back(&self.response.of_swing),
            back(&self.response.of_flow),
            x[ZERO],
        ]
    }
}

/// The five states, each with its columns.
pub(crate) fn states(columns: &mut [f64]) -> [&mut [f64]; N] {
    let n = columns.len() / N;
    let (reading, rest) = columns.split_at_mut(n);
    let (settled, rest) = rest.split_at_mut(n);
    let (oscillating, rest) = rest.split_at_mut(n);
    let (flow, zero) = rest.split_at_mut(n);
    [reading, settled, oscillating, flow, zero]
}

/// `A p A'` for a linear map `A` given as a function of a vector, `p` symmetric.
fn congruence(p: &Matrix, map: impl Fn(&Vector) -> Vector) -> Matrix {
    let half: Matrix = std::array::from_fn(|i| map(&p[i]));
    let columns: Matrix = std::array::from_fn(|j| map(&std::array::from_fn(|i| half[i][j])));
    std::array::from_fn(|i| std::array::from_fn(|j| columns[j][i]))
}

/// The oscillating surplus settles.
fn settle(x: &Vector) -> Vector {
    [x[READING], x[SETTLED] + x[OSCILLATING], 0.0, 0.0, x[ZERO]]
}

/// The transposed [`settle`].
fn settle_back(x: &Vector) -> Vector {
    [x[READING], x[SETTLED], x[SETTLED], 0.0, x[ZERO]]
}

impl Leg {
    pub(crate) fn mean(&self, x: &Vector) -> Vector {
        match self {
            Self::Step(step, ..) => step.apply(x),
            Self::Boundary(..) => settle(x),
        }
    }

    /// The same for many columns, given state by state.
    pub(crate) fn means(&self, columns: &mut [f64]) {
        let [reading, settled, oscillating, flow, _] = states(columns);
        let n = reading.len();
        match self {
            Self::Step(step, ..) => {
                let (decay, Response { of_swing: s, of_flow: f }) = (step.decay, step.response);
                for k in 0..n {
                    reading[k] = decay * reading[k]
                        + (1.0 - decay) * settled[k]
                        + s[0] * oscillating[k]
                        + f[0] * flow[k];
                    (oscillating[k], flow[k]) =
                        (s[1] * oscillating[k] + f[1] * flow[k], s[2] * oscillating[k] + f[2] * flow[k]);
                }
            }
            Self::Boundary(..) => {
                settled
                    .iter_mut()
                    .zip(oscillating.iter())
                    .for_each(|(settled, oscillating)| *settled += oscillating);
                oscillating.fill(0.0);
                flow.fill(0.0);
            }
        }
    }

    pub(crate) fn covariance(&self, p: &Matrix) -> Matrix {
        match self {
            Self::Step(step, flow_var, zero_var) => {
                const AT: [usize; 3] = [READING, OSCILLATING, FLOW];
                let mut out = congruence(p, |x| step.apply(x));
                for (i, unit) in AT.into_iter().zip(&step.unit) {
                    AT.into_iter().zip(unit).for_each(|(j, q)| out[i][j] += flow_var * q);
                }
                out[ZERO][ZERO] += zero_var;
                out
            }
            Self::Boundary(flow_var, centre_var) => {
                let mut out = congruence(p, settle);
                out[FLOW][FLOW] += flow_var;
                out[SETTLED][SETTLED] += centre_var;
                out[OSCILLATING][OSCILLATING] += centre_var;
                out[SETTLED][OSCILLATING] -= centre_var;
                out[OSCILLATING][SETTLED] -= centre_var;
                out
            }
        }
    }

    pub(crate) fn back(&self, r: &Vector, n: &Matrix) -> (Vector, Matrix) {
        match self {
            Self::Step(step, ..) => (step.apply_back(r), congruence(n, |x| step.apply_back(x))),
            Self::Boundary(..) => (settle_back(r), congruence(n, settle_back)),
        }
    }
}

/// Propagates the state from stamp to stamp through rests and pours.
pub(crate) struct Propagation<'a> {
    disturbance: &'a Disturbance,
    stretches: &'a [Stretch],
    steps: Steps,
    pub(crate) position: Position,
}

/// Position of a propagation.
#[derive(Clone, Copy)]
pub(crate) struct Position {
    /// Index of the current or next stretch.
    at: usize,
    inside: bool,
    time_s: f64,
}

impl<'a> Propagation<'a> {
    pub(crate) fn new(disturbance: &'a Disturbance, stretches: &'a [Stretch], start_s: f64) -> Self {
        let at = stretches.iter().take_while(|s| s.end_s <= start_s).count();
        let inside = stretches.get(at).is_some_and(|s| s.start_s < start_s);
        Self {
            disturbance,
            stretches,
            steps: Steps::new(),
            position: Position { at, inside, time_s: start_s },
        }
    }

    fn flow(&self) -> f64 {
        if self.position.inside { self.stretches[self.position.at].flow_g_per_s.abs() } else { 0.0 }
    }

    fn flow_sd(&self) -> f64 {
        (self.disturbance.tremor * self.flow()).max(self.disturbance.rest_flow_g_per_s)
    }

    pub(crate) fn noise_var(&self) -> f64 {
        self.disturbance.noise_sd_g.powi(2) + (self.flow() * self.disturbance.stamp_sd_s).powi(2)
    }

    fn boundary(&self) -> Leg {
        let var = self.flow_sd().powi(2);
        Leg::Boundary(
            var,
            if self.position.inside { var / self.disturbance.swing_rad_per_s.powi(2) } else { 0.0 },
        )
    }

    /// Covariance before the first sample.
    pub(crate) fn first(&self) -> Matrix {
        self.boundary().covariance(&[[0.0; N]; N])
    }

    pub(crate) fn advance(&mut self, to_s: f64, legs: &mut Vec<Leg>) {
        legs.clear();
        loop {
            let edge = match self.stretches.get(self.position.at) {
                Some(s) if self.position.inside => s.end_s,
                Some(s) => s.start_s,
                None => f64::INFINITY,
            };
            let mut left = edge.min(to_s) - self.position.time_s;
            if left > 0.0 {
                let regime = if self.position.inside { Regime::Pour } else { Regime::Rest };
                let flow_var = self.flow_sd().powi(2);
                let mut push = |dt_s: f64, times: usize| {
                    let leg = Leg::Step(
                        self.steps.of(self.disturbance, regime, dt_s),
                        flow_var,
                        self.disturbance.zero_g.powi(2) * dt_s,
                    );
                    legs.extend(std::iter::repeat_n(leg, times));
                };
                let stepwise = MAX_STEPS * STEP_RAD / self.disturbance.swing_rad_per_s;
                if self.position.inside && left > stepwise {
                    push(left - stepwise, 1);
                    left = stepwise;
                }
                let pieces = if self.position.inside {
                    (left * self.disturbance.swing_rad_per_s / STEP_RAD).ceil()
                } else {
                    1.0
                };
                push(left / pieces, pieces as usize);
                self.position.time_s = edge.min(to_s);
            }
            if edge > to_s {
                return;
            }
            self.position.at += usize::from(self.position.inside);
            self.position.inside = !self.position.inside;
            legs.push(self.boundary());
        }
    }
}
