//! In: stamps, and the stretches in which a hand pours. Out: how what a log shows beside the bursts moves from stamp to stamp.
//!
//! Beside the trapezoids there are the hand's own unsteadiness, a slowly wandering zero, and white noise. While a hand pours its flow
//! deviates like the speed of a damped oscillator in noise, so that the surplus of water stays bounded; at rest like an
//! Ornstein-Uhlenbeck process, or not at all. All of it is seen through the scale's lag. The five states are the lagged reading, the
//! surplus that stays, the surplus that swings, the flow deviation and the zero; the transitions are those of uneven
//! stamps, each length to .4 % (`Steps`).

use crate::model::scale::Scale;
use serde::{Deserialize, Serialize};

/// What is assumed of hand and scale.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Disturbance {
    /// The scale: its lag, and the lead that the stream's force gives it.
    pub scale: Scale,
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

pub(crate) const N: usize = 5;
pub(crate) type Vector = [f64; N];
pub(crate) type Matrix = [[f64; N]; N];

pub(crate) const READING: usize = 0;
pub(crate) const STAYS: usize = 1;
pub(crate) const SWINGS: usize = 2;
pub(crate) const FLOW: usize = 3;
pub(crate) const ZERO: usize = 4;

/// How fast a flow deviation at rest forgets itself, 1/s.
const REST_FORGETS_PER_S: f64 = 4.0;

/// Longest step of the quadrature of the process noise, in radians of the swing.
const STEP_RAD: f64 = 1.5;

/// Over a stretch without samples, so many steps before its end are taken one by one; what was before them is forgotten.
const MOST_STEPS: f64 = 40.0;

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
#[derive(Clone, Copy, PartialEq)]
enum Regime {
    Rest,
    Pour,
}

/// Transition over a time step.
#[derive(Clone, Copy)]
pub(crate) struct Step {
    dt_s: f64,
    keep: f64,
    response: Response,
    /// Covariance of reading, surplus and flow that a flow deviation of unit variance adds.
    unit: [[f64; 3]; 3],
}

/// One leg of the way from stamp to stamp.
#[allow(clippy::large_enum_variant)] // nearly every leg is a step
#[derive(Clone, Copy)]
pub(crate) enum Leg {
    /// A step within one regime, the variance of the flow deviation, and what the zero wanders.
    Step(Step, f64, f64),
    /// A pour begins or ends: what swings stays from now on; the flow deviation starts anew with this variance, and the surplus swings
    /// around a centre that is off by the second.
    Anew(f64, f64),
}

impl Disturbance {
    fn response(&self, regime: Regime, s: f64) -> Response {
        let Scale { tau_s, lead_s } = self.scale;
        let kappa = 1.0 / tau_s;
        let keep = (-kappa * s).exp();
        match regime {
            Regime::Rest => {
                // The lag is never exactly the time of forgetting; if it were, this would be 0/0.
                let lambda =
                    REST_FORGETS_PER_S * if (kappa - REST_FORGETS_PER_S).abs() < 1e-3 { 1.001 } else { 1.0 };
                let forget = (-lambda * s).exp();
                // The lag of the flow itself, and of the water that it brings.
                let flow = kappa * (forget - keep) / (kappa - lambda);
                let reading = ((1.0 - keep) - flow) / lambda + lead_s * flow;
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
        let forgets = match regime {
            Regime::Rest => REST_FORGETS_PER_S,
            Regime::Pour => self.swing_rad_per_s / self.quality,
        };
        let mut unit = [[0.0; 3]; 3];
        for (at, weight) in GAUSS {
            let g = self.response(regime, at * dt_s).of_flow;
            let power = 2.0 * forgets * dt_s * weight;
            for (row, x) in unit.iter_mut().zip(g) {
                row.iter_mut().zip(g).for_each(|(q, y)| *q += power * x * y);
            }
        }
        Step { dt_s, keep: (-dt_s / self.scale.tau_s).exp(), response: self.response(regime, dt_s), unit }
    }
}

/// Steps that were worked out, by regime and length: a log repeats a few intervals, and a step takes far longer than its use.
struct Steps {
    kept: Vec<Option<(Regime, Step)>>,
}

impl Steps {
    const SLOTS: usize = 64;
    /// Lengths are taken to the nearest of so many steps in an octave, as bits: off by at most .4 %, which turns the swing by less than
    /// a hundredth of a radian: a step is `STEP_RAD` at most.
    const SHARE_BITS: u32 = 7;

    fn new() -> Self {
        Self { kept: vec![None; Self::SLOTS] }
    }

    fn of(&mut self, disturbance: &Disturbance, regime: Regime, dt_s: f64) -> Step {
        let round = 1_u64 << (51 - Self::SHARE_BITS);
        let bits = (dt_s.to_bits() + round) & !(2 * round - 1);
        let dt_s = f64::from_bits(bits);
        let slot = (bits >> (52 - Self::SHARE_BITS)) as usize % Self::SLOTS;
        match self.kept[slot] {
            Some((of, step)) if of == regime && step.dt_s == dt_s => step,
            _ => {
                let step = disturbance.step(regime, dt_s);
                self.kept[slot] = Some((regime, step));
                step
            }
        }
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

/// The five states of as many columns.
pub(crate) fn states(columns: &mut [f64]) -> [&mut [f64]; N] {
    let n = columns.len() / N;
    let (reading, rest) = columns.split_at_mut(n);
    let (stays, rest) = rest.split_at_mut(n);
    let (swings, rest) = rest.split_at_mut(n);
    let (flow, zero) = rest.split_at_mut(n);
    [reading, stays, swings, flow, zero]
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
    pub(crate) fn mean(&self, x: &Vector) -> Vector {
        match self {
            Self::Step(step, ..) => step.apply(x),
            Self::Anew(..) => settle(x),
        }
    }

    /// The same for many columns, given state by state.
    pub(crate) fn means(&self, columns: &mut [f64]) {
        let [reading, stays, swings, flow, _] = states(columns);
        let n = reading.len();
        match self {
            Self::Step(step, ..) => {
                let (keep, Response { of_swing: s, of_flow: f }) = (step.keep, step.response);
                for k in 0..n {
                    reading[k] =
                        keep * reading[k] + (1.0 - keep) * stays[k] + s[0] * swings[k] + f[0] * flow[k];
                    (swings[k], flow[k]) =
                        (s[1] * swings[k] + f[1] * flow[k], s[2] * swings[k] + f[2] * flow[k]);
                }
            }
            Self::Anew(..) => {
                stays.iter_mut().zip(swings.iter()).for_each(|(stays, swings)| *stays += swings);
                swings.fill(0.0);
                flow.fill(0.0);
            }
        }
    }

    pub(crate) fn covariance(&self, p: &Matrix) -> Matrix {
        match self {
            Self::Step(step, flow_var, zero_var) => {
                const AT: [usize; 3] = [READING, SWINGS, FLOW];
                let mut out = congruence(p, |x| step.apply(x));
                for (i, unit) in AT.into_iter().zip(&step.unit) {
                    AT.into_iter().zip(unit).for_each(|(j, q)| out[i][j] += flow_var * q);
                }
                out[ZERO][ZERO] += zero_var;
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

    pub(crate) fn back(&self, r: &Vector, n: &Matrix) -> (Vector, Matrix) {
        match self {
            Self::Step(step, ..) => (step.apply_back(r), congruence(n, |x| step.apply_back(x))),
            Self::Anew(..) => (settle_back(r), congruence(n, settle_back)),
        }
    }
}

/// Walks from stamp to stamp through rests and pours.
pub(crate) struct Propagation<'a> {
    disturbance: &'a Disturbance,
    stretches: &'a [Stretch],
    steps: Steps,
    pub(crate) place: Place,
}

/// How far a walk has come.
#[derive(Clone, Copy)]
pub(crate) struct Place {
    /// The stretch that it is in, or that comes next.
    at: usize,
    inside: bool,
    time_s: f64,
}

impl<'a> Propagation<'a> {
    pub(crate) fn new(disturbance: &'a Disturbance, stretches: &'a [Stretch], start_s: f64) -> Self {
        let at = stretches.iter().take_while(|s| s.end_s <= start_s).count();
        let inside = stretches.get(at).is_some_and(|s| s.start_s < start_s);
        Self { disturbance, stretches, steps: Steps::new(), place: Place { at, inside, time_s: start_s } }
    }

    fn flow(&self) -> f64 {
        if self.place.inside { self.stretches[self.place.at].flow_g_per_s.abs() } else { 0.0 }
    }

    fn flow_sd(&self) -> f64 {
        (self.disturbance.tremor * self.flow()).max(self.disturbance.rest_flow_g_per_s)
    }

    pub(crate) fn noise_var(&self) -> f64 {
        self.disturbance.noise_sd_g.powi(2) + (self.flow() * self.disturbance.stamp_sd_s).powi(2)
    }

    fn anew(&self) -> Leg {
        let var = self.flow_sd().powi(2);
        Leg::Anew(var, if self.place.inside { var / self.disturbance.swing_rad_per_s.powi(2) } else { 0.0 })
    }

    /// Covariance before the first sample.
    pub(crate) fn first(&self) -> Matrix {
        self.anew().covariance(&[[0.0; N]; N])
    }

    pub(crate) fn go(&mut self, to_s: f64, legs: &mut Vec<Leg>) {
        legs.clear();
        loop {
            let edge = match self.stretches.get(self.place.at) {
                Some(s) if self.place.inside => s.end_s,
                Some(s) => s.start_s,
                None => f64::INFINITY,
            };
            let mut left = edge.min(to_s) - self.place.time_s;
            if left > 0.0 {
                let regime = if self.place.inside { Regime::Pour } else { Regime::Rest };
                let flow_var = self.flow_sd().powi(2);
                let mut push = |dt_s: f64, times: usize| {
                    let leg = Leg::Step(
                        self.steps.of(self.disturbance, regime, dt_s),
                        flow_var,
                        self.disturbance.zero_g.powi(2) * dt_s,
                    );
                    legs.extend(std::iter::repeat_n(leg, times));
                };
                let stepwise = MOST_STEPS * STEP_RAD / self.disturbance.swing_rad_per_s;
                if self.place.inside && left > stepwise {
                    push(left - stepwise, 1);
                    left = stepwise;
                }
                let pieces = if self.place.inside {
                    (left * self.disturbance.swing_rad_per_s / STEP_RAD).ceil()
                } else {
                    1.0
                };
                push(left / pieces, pieces as usize);
                self.place.time_s = edge.min(to_s);
            }
            if edge > to_s {
                return;
            }
            self.place.at += usize::from(self.place.inside);
            self.place.inside = !self.place.inside;
            legs.push(self.anew());
        }
    }
}
