//! In: stamps and readings that are consistent with a vessel under a stream. Out: the water that has arrived
//! and the current flow, each with its sd, corrected for the scale's lag.
//!
//! Three Kalman filters run in parallel and are mixed before each sample by their posterior probabilities
//! (interacting multiple models: Blom and Bar-Shalom, The interacting multiple model algorithm for systems with
//! Markovian switching coefficients, IEEE Transactions on Automatic Control 33, 1988, 780-783; the paper was
//! not checked). The states of each are the lagged reading, the water and the flow: `r' = (w - r)/tau`,
//! `w' = f`, solved exactly over each step. They differ in the flow: none, a steady pour, or a change. The
//! result is the mean and the sd of the mixture: the sd includes the uncertainty whether a pour has begun.

use crate::estimate::Estimate;

/// Sd of the flow at rest, g/s: a guess, small compared with the 0.5 g/s that make a pour.
const REST_FLOW_G_PER_S: f64 = 0.05;
/// Process noise of the zero of any scale, g per root s.
const ZERO_G: f64 = 0.05;
/// Relative sd of the flow in a pour, of the order of the demo's. The whole fit estimates it; this filter
/// cannot.
const TREMOR: f64 = 0.05;
/// Angular frequency of that variation, rad/s: about one cycle per second (common practice, no source).
const OSCILLATION_RAD_PER_S: f64 = 6.0;
/// Flow that a change may reach, g/s; sets the process noise of the flow during a ramp.
const USUAL_FLOW_G_PER_S: f64 = 8.0;
/// Mean duration of rests and pours, s; sets only the prior probability of a change (common practice, no
/// source).
const REST_LASTS_S: f64 = 20.0;
const POUR_LASTS_S: f64 = 8.0;

/// Upper bound of a prediction step, s; without it the sums of squares would lose precision.
const MAX_STEP_S: f64 = 10.0;

/// Nodes and weights of the three-point Gauss-Legendre rule on 0..1.
const GAUSS: [(f64, f64); 3] =
    [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];

const REST: usize = 0;
const STEADY: usize = 1;
const CHANGE: usize = 2;
const MODES: usize = 3;

/// Reading, water, flow.
type Vector = [f64; 3];
type Matrix = [[f64; 3]; 3];

#[derive(Debug, Clone, Copy)]
struct Mode {
    x: Vector,
    p: Matrix,
    weight: f64,
}

/// The filter, of constant size.
#[derive(Debug, Clone)]
pub(crate) struct Filter {
    lag_s: f64,
    lag_sd_s: f64,
    ramp_s: f64,
    modes: [Mode; MODES],
}

impl Filter {
    /// A filter at rest at that level, g.
    pub(crate) fn new(lag: Estimate, ramp_s: f64, level_g: f64, sd_g: f64) -> Self {
        // At rest the reading equals the water: one variance for both.
        let level = sd_g * sd_g;
        let p = |flow: f64| [[level, level, 0.0], [level, level, 0.0], [0.0, 0.0, flow * flow]];
        let mode = |weight, flow| Mode { x: [level_g, level_g, 0.0], p: p(flow), weight };
        // A lag below the shortest ramp has no effect.
        Self {
            lag_s: lag.value.max(1e-3),
            lag_sd_s: lag.sd,
            ramp_s,
            // Prior: most likely at rest, but water may run already.
            modes: [
                mode(0.9, REST_FLOW_G_PER_S),
                mode(0.05, USUAL_FLOW_G_PER_S),
                mode(0.05, USUAL_FLOW_G_PER_S),
            ],
        }
    }

    /// Predicts over a time without a sample.
    pub(crate) fn pass(&mut self, dt_s: f64) {
        let dt_s = dt_s.min(MAX_STEP_S);
        self.mix(dt_s);
        let leg = Leg::new(self.lag_s, dt_s);
        for (k, mode) in self.modes.iter_mut().enumerate() {
            leg.go(mode, k, self.ramp_s);
        }
    }

    /// Updates with a reading whose noise has that sd, g.
    pub(crate) fn see(&mut self, reading_g: f64, noise_g: f64) {
        let mut squares = [0.0; MODES];
        for (mode, square) in self.modes.iter_mut().zip(&mut squares) {
            let variance = mode.p[0][0] + noise_g * noise_g;
            let innovation = reading_g - mode.x[0];
            let first = mode.p[0];
            let gain = first.map(|p| p / variance);
            for (i, gain) in gain.into_iter().enumerate() {
                mode.x[i] += gain * innovation;
                mode.p[i].iter_mut().zip(first).for_each(|(p, first)| *p -= gain * first);
            }
            *square = innovation * innovation / variance;
            mode.weight /= variance.sqrt();
        }
        // Relative to the best, so that the weights of a distant reading do not underflow.
        let least = squares[REST].min(squares[STEADY]).min(squares[CHANGE]);
        let mut sum = 0.0;
        for (mode, square) in self.modes.iter_mut().zip(squares) {
            mode.weight *= (-0.5 * (square - least)).exp();
            sum += mode.weight;
        }
        // Never 0: a later reading can restore a mode.
        self.modes.iter_mut().for_each(|mode| mode.weight = (mode.weight / sum).max(1e-12));
    }

    /// Water that has arrived, g.
    pub(crate) fn water_g(&self) -> Estimate {
        let water = self.mixture(1);
        Estimate::new(water.value, water.sd.hypot(self.lag_sd_s * self.mixture(2).value))
    }

    /// Flow, g/s; never below 0.
    pub(crate) fn flow_g_per_s(&self) -> Estimate {
        let flow = self.mixture(2);
        Estimate::new(flow.value.max(0.0), flow.sd)
    }

    /// The reading that is expected, without its noise, g.
    pub(crate) fn reading_g(&self) -> Estimate {
        self.mixture(0)
    }

    /// Posterior probability of rest.
    pub(crate) fn rest(&self) -> f64 {
        self.modes[REST].weight
            / (self.modes[REST].weight + self.modes[STEADY].weight + self.modes[CHANGE].weight)
    }

    fn mixture(&self, i: usize) -> Estimate {
        let sum: f64 = self.modes.iter().map(|m| m.weight).sum();
        let mean = self.modes.iter().map(|m| m.weight * m.x[i]).sum::<f64>() / sum;
        let variance =
            self.modes.iter().map(|m| m.weight * (m.p[i][i] + (m.x[i] - mean).powi(2))).sum::<f64>() / sum;
        Estimate::new(mean, variance.max(0.0).sqrt())
    }

    /// Mixes the modes by their transition probabilities before the next step.
    fn mix(&mut self, dt_s: f64) {
        // 1 - exp(-x) to first order, below 1 for any step.
        let within = |lasts_s: f64| dt_s / (dt_s + lasts_s);
        let (rest, pour, ramp) = (within(REST_LASTS_S), within(POUR_LASTS_S), within(self.ramp_s));
        let transition: [[f64; MODES]; MODES] =
            [[1.0 - rest, 0.0, rest], [0.0, 1.0 - pour, pour], [0.5 * ramp, 0.5 * ramp, 1.0 - ramp]];
        let before = self.modes;
        for (to, mode) in self.modes.iter_mut().enumerate() {
            let share: [f64; MODES] = std::array::from_fn(|from| transition[from][to] * before[from].weight);
            let weight: f64 = share.iter().sum();
            let share = share.map(|s| s / weight);
            let x: Vector = std::array::from_fn(|i| {
                share[0] * before[0].x[i] + share[1] * before[1].x[i] + share[2] * before[2].x[i]
            });
            let mut p = [[0.0; 3]; 3];
            for (from, share) in before.iter().zip(share) {
                let off: Vector = std::array::from_fn(|i| from.x[i] - x[i]);
                for i in 0..3 {
                    for j in 0..3 {
                        p[i][j] += share * (from.p[i][j] + off[i] * off[j]);
                    }
                }
            }
            *mode = Mode { x, p, weight };
        }
    }
}

/// Transition over one step: the lag's decay, the effect of flow, and the process noise of a flow with unit
/// intensity.
struct Leg {
    dt_s: f64,
    decay: f64,
    from_flow: f64,
    unit: Matrix,
}

impl Leg {
    fn new(lag_s: f64, dt_s: f64) -> Self {
        let decayed = |s: f64| (-s / lag_s).exp();
        let decay = decayed(dt_s);
        let mut unit = [[0.0; 3]; 3];
        for (at, weight) in GAUSS {
            let s = at * dt_s;
            let g = [s - lag_s * (1.0 - decayed(s)), s, 1.0];
            for i in 0..3 {
                for j in 0..3 {
                    unit[i][j] += weight * dt_s * g[i] * g[j];
                }
            }
        }
        Self { dt_s, decay, from_flow: dt_s - lag_s * (1.0 - decay), unit }
    }

    fn go(&self, mode: &mut Mode, which: usize, ramp_s: f64) {
        // At rest the flow is uncorrelated between samples.
        let (dt, from_flow, stays) =
            if which == REST { (0.0, 0.0, 0.0) } else { (self.dt_s, self.from_flow, 1.0) };
        let map = |v: &Vector| {
            [self.decay * v[0] + (1.0 - self.decay) * v[1] + from_flow * v[2], v[1] + dt * v[2], stays * v[2]]
        };
        mode.x = map(&mode.x);
        let half: Matrix = std::array::from_fn(|i| map(&mode.p[i]));
        let turned: Matrix = std::array::from_fn(|j| map(&std::array::from_fn(|i| half[i][j])));
        mode.p = turned;
        let power = match which {
            STEADY => 2.0 * OSCILLATION_RAD_PER_S * (TREMOR * mode.x[2]).powi(2) + REST_FLOW_G_PER_S.powi(2),
            CHANGE => USUAL_FLOW_G_PER_S.max(mode.x[2]).powi(2) / ramp_s,
            _ => 0.0,
        };
        for i in 0..3 {
            for j in 0..3 {
                mode.p[i][j] += power * self.unit[i][j];
            }
        }
        if which == REST {
            mode.p[2][2] = REST_FLOW_G_PER_S.powi(2);
            mode.p[1][1] += ZERO_G * ZERO_G * self.dt_s;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A stream of 6 g/s from 2 s on through a lag of 0.3 s, read at uneven instants, in closed form:
    /// `w - f tau (1 - exp(-t/tau))`.
    fn stream(lag: Estimate, until_s: f64) -> Filter {
        let mut filter = Filter::new(lag, 0.35, 0.0, 0.1);
        let (mut last_s, mut i) = (0.0, 0);
        while last_s < until_s {
            i += 1;
            let dt_s = [0.1, 0.13, 0.05][i % 3];
            last_s += dt_s;
            let u = (last_s - 2.0).max(0.0);
            filter.pass(dt_s);
            filter.see(6.0 * u - 6.0 * 0.3 * (1.0 - (-u / 0.3).exp()), 0.02);
        }
        filter
    }

    #[test]
    fn the_flow_of_a_steady_stream_is_estimated_without_the_lag() {
        let filter = stream(Estimate::exact(0.3), 5.0);
        let (flow, water) = (filter.flow_g_per_s(), filter.water_g());
        assert!((flow.value - 6.0).abs() < 0.02, "{flow}");
        // The last stamp is that of the 54th sample, 18 times 0.28 s.
        assert!((water.value - 6.0 * (18.0 * 0.28 - 2.0)).abs() < 0.05, "{water}");
        assert!(filter.rest() < 1e-3);
    }

    #[test]
    fn the_sd_of_the_lag_adds_the_flow_times_it_to_the_sd_of_the_water() {
        let (known, guessed) = (stream(Estimate::exact(0.3), 5.0), stream(Estimate::new(0.3, 0.1), 5.0));
        let added = guessed.water_g().sd.powi(2) - known.water_g().sd.powi(2);
        assert!((added.sqrt() - 0.1 * 6.0).abs() < 0.01, "{}", added.sqrt());
    }

    #[test]
    fn the_sd_grows_without_samples() {
        let mut filter = stream(Estimate::exact(0.3), 5.0);
        let before = filter.flow_g_per_s().sd;
        filter.pass(0.5);
        let soon = filter.flow_g_per_s().sd;
        filter.pass(1e9);
        assert!(before < soon && soon < filter.flow_g_per_s().sd && filter.flow_g_per_s().sd.is_finite());
    }

    #[test]
    fn a_leg_is_the_closed_form_of_a_lag_and_a_random_walk_of_flow() {
        // With g = s - tau (1 - exp(-s/tau)): closed integrals over 0..h; three nodes are exact up to the fifth
        // power of s.
        let (tau, h) = (0.3_f64, 0.1_f64);
        let leg = Leg::new(tau, h);
        let e = (-h / tau).exp();
        let close = |result: f64, expected: f64| {
            assert!((result - expected).abs() < 1e-9, "{result}, not {expected}")
        };
        close(leg.decay, e);
        close(leg.from_flow, h - tau * (1.0 - e));
        close(leg.unit[2][2], h);
        close(leg.unit[1][2], h * h / 2.0);
        close(leg.unit[1][1], h.powi(3) / 3.0);
        close(leg.unit[0][2], h * h / 2.0 - tau * h + tau * tau * (1.0 - e));
        assert_eq!((leg.unit[0][1], leg.unit[0][2]), (leg.unit[1][0], leg.unit[2][0]));
        // s g: h^3/3 - tau h^2/2 + tau (tau^2 (1 - e) - tau h e).
        close(
            leg.unit[0][1],
            h.powi(3) / 3.0 - tau * h * h / 2.0 + tau * (tau * tau * (1.0 - e) - tau * h * e),
        );
    }

    #[test]
    fn the_mixture_has_the_moments_of_its_parts() {
        let mut filter = Filter::new(Estimate::exact(0.3), 0.35, 0.0, 0.1);
        for (mode, (weight, mean, sd)) in
            filter.modes.iter_mut().zip([(0.2, 1.0, 0.5), (0.1, 4.0, 1.0), (0.1, 2.0, 2.0)])
        {
            (mode.weight, mode.x[2], mode.p[2][2]) = (weight, mean, sd * sd);
        }
        // Mean (0.2 + 0.4 + 0.2)/0.4 = 2; variance (0.2 (0.25 + 1) + 0.1 (1 + 4) + 0.1 (4 + 0))/0.4 = 2.875.
        let result = filter.flow_g_per_s();
        assert!(
            (result.value - 2.0).abs() < 1e-12 && (result.sd - 2.875_f64.sqrt()).abs() < 1e-12,
            "{result}"
        );
        assert!((filter.rest() - 0.5).abs() < 1e-12);
    }

    #[test]
    fn a_reading_moves_each_filter_by_its_gain_and_its_weight_by_its_likelihood() {
        let mut filter = Filter::new(Estimate::exact(0.3), 0.35, 0.0, 0.3);
        // Water with sd 0.3 g, a reading of 1 g with noise 0.4 g: gain 0.09/0.25 = 0.36, remaining variance
        // 0.09 x 0.64.
        filter.see(1.0, 0.4);
        let result = filter.reading_g();
        assert!((result.value - 0.36).abs() < 1e-12 && (result.sd - 0.24).abs() < 1e-12, "{result}");
        // All three predicted the same reading: their weights stay 0.9, 0.05 and 0.05.
        assert!((filter.rest() - 0.9).abs() < 1e-12);
        // A prediction 1 g lower, two of its sd, is exp(-2) as likely.
        filter.modes.iter_mut().for_each(|mode| (mode.weight, mode.p[0][0], mode.x[0]) = (1.0, 0.21, 5.0));
        filter.modes[REST].x[0] = 4.0;
        filter.see(5.0, 0.2);
        assert!((filter.rest() - (-2.0_f64).exp() / (2.0 + (-2.0_f64).exp())).abs() < 1e-12);
    }

    fn close(found: f64, by_hand: f64) {
        assert!((found - by_hand).abs() < 1e-12, "{found}, not {by_hand}");
    }

    #[test]
    fn a_step_moves_state_and_covariance_by_the_transition_and_adds_the_walk_of_its_mode() {
        let (tau, h) = (0.3_f64, 0.1_f64);
        let (leg, e) = (Leg::new(tau, h), (-h / tau).exp());
        let p = [[0.5, 0.1, 0.02], [0.1, 0.4, 0.03], [0.02, 0.03, 0.3]];
        for which in [REST, STEADY, CHANGE] {
            let mut mode = Mode { x: [1.0, 2.0, 3.0], p, weight: 1.0 };
            leg.go(&mut mode, which, 0.35);
            // At rest nothing flows and a flow is gone by the next sample.
            let runs = if which == REST { 0.0 } else { 1.0 };
            let f = [[e, 1.0 - e, runs * (h - tau * (1.0 - e))], [0.0, 1.0, runs * h], [0.0, 0.0, runs]];
            let x = f.map(|row| row[0] + 2.0 * row[1] + 3.0 * row[2]);
            (0..3).for_each(|i| close(mode.x[i], x[i]));
            // Steady: twice the swing of 6 rad/s, a tremor of 5 % of 3 g/s squared, and 0.05 squared; a change: 8
            // g/s squared
            // over the ramp.
            let walk = [0.0, 12.0 * 0.15 * 0.15 + 0.0025, 64.0 / 0.35][which];
            for i in 0..3 {
                for j in 0..3 {
                    let sum: f64 = (0..9).map(|k| f[i][k / 3] * p[k / 3][k % 3] * f[j][k % 3]).sum();
                    let own = match (which, i, j) {
                        (REST, 2, 2) => 0.0025,
                        (REST, 1, 1) => sum + 0.0025 * h,
                        _ => sum + walk * leg.unit[i][j],
                    };
                    close(mode.p[i][j], own);
                }
            }
        }
        // A change of a flow beyond the usual 8 g/s goes by that flow.
        let mut fast = Mode { x: [0.0, 0.0, 10.0], p: [[0.0; 3]; 3], weight: 1.0 };
        leg.go(&mut fast, CHANGE, 0.5);
        close(fast.p[2][2], 100.0 / 0.5 * h);
    }

    #[test]
    fn before_a_step_the_filters_are_mixed_by_how_likely_a_hand_goes_over() {
        let mut filter = Filter::new(Estimate::exact(0.3), 0.35, 7.0, 0.1);
        let weights = filter.modes.map(|mode| mode.weight);
        assert_eq!(weights, [0.9, 0.05, 0.05]);
        assert_eq!(filter.modes.map(|mode| mode.x), [[7.0, 7.0, 0.0]; 3]);
        filter.modes[CHANGE].x[2] = 4.0;
        let before = filter.modes.map(|mode| mode.p[2][2]);
        (0..3).for_each(|k| close(before[k], [0.0025, 64.0, 64.0][k]));
        // In 0.35 s a rest of 20 s goes over to a change, and so does a pour of 8 s; half of the changes end, to
        // either.
        filter.mix(0.35);
        let (rest, pour) = (0.35 / 20.35, 0.35 / 8.35);
        let found = filter.modes.map(|mode| mode.weight);
        let by_hand =
            [0.9 * (1.0 - rest) + 0.0125, 0.05 * (1.0 - pour) + 0.0125, 0.9 * rest + 0.05 * pour + 0.025];
        (0..3).for_each(|k| close(found[k], by_hand[k]));
        // Of the filter of rest 0.0125 come from that of change, with a flow of 4 g/s.
        let share = 0.0125 / by_hand[REST];
        close(filter.modes[REST].x[2], 4.0 * share);
        let spread = share * (1.0 - share) * 16.0;
        close(filter.modes[REST].p[2][2], (1.0 - share) * before[REST] + share * before[CHANGE] + spread);
        close(filter.modes[REST].x[1], 7.0);
    }
}
