//! In: the samples around a pour and the fitted bursts. Out: the residuals from the bursts, and the response of
//! the readings to oscillations of the flow.
//!
//! An oscillation is a flow `level (a cos + b sin)` while water arrives; the scale reads its integral through
//! the lag, in closed form. The bursts' own parameters are projected out. Rows are whitened for the scale's
//! noise and the random walk of its zero.

use crate::metrics::equations::Equations;
use crate::model::burst::{Burst, PARAMETERS};
use crate::model::samples::Samples;
use crate::model::scale::Scale;
use crate::segment::fitted::{Fit, Group};
use crate::segment::pour::Pour;
use std::f64::consts::TAU;
use std::ops::RangeInclusive;

/// Length of the rest before a pour that is used, s.
const BEFORE_S: f64 = 1.5;

/// Rounding with an sd below this fraction of the step is attributed to the noise.
const MIN_ROUNDING: f64 = 0.01;
/// Largest number of frequencies of one pour; a pour of minutes has a coarser grid.
const MAX_FREQUENCIES: usize = 200;

/// The whole time of the bursts.
pub(super) const WHOLE: RangeInclusive<f64> = f64::NEG_INFINITY..=f64::INFINITY;

/// The readings of one pour, less those of the bursts.
pub(super) struct Observation {
    pub bursts: Vec<Burst>,
    pub scale: Scale,
    pub tau_sd_s: f64,
    /// From sample to sample, s.
    pub interval_s: f64,
    time_s: Vec<f64>,
    residual_g: Vec<f64>,
    noise_var: Vec<f64>,
    zero_g: f64,
    rounding: Option<Rounding>,
}

/// Rounding error of a readout in steps: a sinusoid whose phase is the reading, in cycles of a step.
struct Rounding {
    turns: Vec<f64>,
    /// Its prior sd, g.
    sd_g: f64,
}

impl Observation {
    /// Samples from the rest before to the rest after the bursts `first..=last` of a group.
    pub(super) fn new(
        x: &Samples,
        step_g: f64,
        fit: &Fit,
        group: &Group,
        first: usize,
        last: usize,
    ) -> Option<Self> {
        let bursts = group.bursts.get(first..=last)?.to_vec();
        let scale = fit.disturbance.scale;
        let tau_s = scale.tau_s;
        let settled = 3.0 * tau_s;
        let (start, end) = (bursts[0].start_s(), bursts.last()?.end_s());
        let after = first.checked_sub(1).map_or(f64::NEG_INFINITY, |k| group.bursts[k].end_s() + settled);
        let until = group.bursts.get(last + 1).map_or(f64::INFINITY, Burst::start_s);
        let is_near = |&i: &usize| {
            let t = x.time_s[i];
            t > (start - BEFORE_S).max(after) && t < (end + settled + BEFORE_S).min(until)
        };
        let index: Vec<usize> = (group.from..group.to).filter(is_near).collect();
        let stamp = fit.disturbance.stamp_sd_s;
        let flow = |t: f64| bursts.iter().map(|b| b.flow_at(t + tau_s / 2.0)).sum::<f64>();
        let reading: Vec<f64> = index.iter().map(|&i| group.reading(x.time_s[i], scale)).collect();
        let sd_g = x.rounding_var_g2.sqrt();
        let turns = || reading.iter().map(|r| r / step_g).collect();
        let rounding = (sd_g > MIN_ROUNDING * step_g).then(|| Rounding { turns: turns(), sd_g });
        Some(Self {
            rounding,
            time_s: index.iter().map(|&i| x.time_s[i]).collect(),
            residual_g: index.iter().zip(&reading).map(|(&i, r)| x.mass_g[i] - r).collect(),
            noise_var: index
                .iter()
                .map(|&i| fit.disturbance.noise_sd_g.powi(2) + (flow(x.time_s[i]) * stamp).powi(2))
                .collect(),
            zero_g: fit.disturbance.zero_g,
            bursts,
            scale,
            tau_sd_s: fit.tau_s.sd,
            interval_s: x.interval_s,
        })
    }

    pub(super) fn time_s(&self) -> &[f64] {
        &self.time_s
    }

    /// The part of the bursts' time that belongs to the pour: all of it, unless an edge lies in full flow. A
    /// detected edge never does.
    pub(super) fn part(&self, pour: &Pour) -> RangeInclusive<f64> {
        let (start_s, end_s) = (pour.start_s.value, pour.end_s.value);
        let full_from_s = self.bursts.first().map_or(f64::INFINITY, |b| b.rise_s + b.rise_ramp_s / 2.0);
        let full_to_s = self.bursts.last().map_or(f64::NEG_INFINITY, |b| b.fall_s - b.fall_ramp_s / 2.0);
        let from_s = if start_s >= full_from_s { start_s } else { *WHOLE.start() };
        from_s..=if end_s <= full_to_s { end_s } else { *WHOLE.end() }
    }

    /// Number of samples while water of that part arrives.
    pub(super) fn samples(&self, part: &RangeInclusive<f64>) -> usize {
        let inside =
            |t: &&f64| part.contains(*t) && self.bursts.iter().any(|b| b.rise_s < **t && **t < b.fall_s);
        self.time_s.iter().filter(inside).count()
    }

    /// Time from the first rise to the last fall, s.
    pub(super) fn duration_s(&self) -> f64 {
        self.bursts.last().map_or(0.0, |b| b.fall_s) - self.start_s()
    }

    /// Origin of the phase of the oscillations, s.
    pub(super) fn start_s(&self) -> f64 {
        self.bursts[0].rise_s
    }

    /// Equations of oscillations at these frequencies; None if the readings do not identify the bursts.
    pub(super) fn equations(&self, hz: &[f64]) -> Option<Equations> {
        let mut columns = self.of_bursts();
        let nuisances = columns.len();
        columns.extend(self.oscillations(hz));
        columns.push(self.residual_g.clone());
        self.whiten(&mut columns);
        Equations::new(hz, &columns, &self.expected(), nuisances)
    }

    /// Frequencies from half a cycle per pour up to `fastest_hz`, so close that an oscillation between two of
    /// them is not missed. The first is a quarter of a cycle: the slow change, nearly a straight line.
    pub(super) fn frequencies(&self, fastest_hz: f64) -> Vec<f64> {
        let step = (0.5 / self.duration_s()).max(fastest_hz / MAX_FREQUENCIES as f64);
        let oscillations = (1..).map(|k| f64::from(k) * step).take_while(|f| *f <= fastest_hz);
        std::iter::once(step / 2.0).chain(oscillations).collect()
    }

    /// Columns of the base, of the bursts' parameters and of the rounding.
    fn of_bursts(&self) -> Vec<Vec<f64>> {
        let mut columns = vec![vec![1.0; self.time_s.len()]];
        for burst in &self.bursts {
            let by: Vec<[f64; PARAMETERS]> =
                self.time_s.iter().map(|&t| burst.reading(t, self.scale).by_parameter).collect();
            columns.extend((0..PARAMETERS).map(|k| by.iter().map(|row| row[k]).collect()));
        }
        if let Some(rounding) = &self.rounding {
            let part = |of: fn(f64) -> f64| rounding.turns.iter().map(|t| of(TAU * t)).collect();
            columns.extend([part(f64::cos), part(f64::sin)]);
        }
        columns
    }

    /// Prior information on the bursts: wide, to regularise the equations; ramps with an sd of 0.2 s.
    fn expected(&self) -> Vec<f64> {
        let own = |b: &Burst| [1.0, 25.0, 1.0, 25.0, b.flow_g_per_s.powi(-2)];
        let rounding = self.rounding.iter().flat_map(|r| [r.sd_g.powi(-2); 2]);
        std::iter::once(1e-6).chain(self.bursts.iter().flat_map(own)).chain(rounding).collect()
    }

    /// Readings of oscillations, two columns per frequency: of its cosine and of its sine.
    ///
    /// Of a flow `e^(i w t)` from `a` on, the water is `(e^(i w t) - e^(i w a)) / (i w)`; a first-order lag
    /// reduces the reading by `(e^(i w t) - e^(i w a) e^(-(t - a) / tau)) / (i w + 1 / tau)`, which decays with
    /// its time constant after the flow ends. The force of the stream reads `lead / tau` times the same.
    fn oscillations(&self, hz: &[f64]) -> Vec<Vec<f64>> {
        let mut out = vec![vec![0.0; self.time_s.len()]; 2 * hz.len()];
        let kappa = 1.0 / self.scale.tau_s;
        for burst in &self.bursts {
            let (a, b) = (burst.rise_s, burst.fall_s);
            let from = self.time_s.partition_point(|t| *t <= a);
            let time = &self.time_s[from..];
            let until: Vec<f64> = time.iter().map(|t| t.min(b)).collect();
            let decay: Vec<f64> = until.iter().map(|t| (-kappa * (t - a)).exp()).collect();
            let flow = burst.flow_g_per_s;
            let late = |(t, until): (&f64, &f64)| {
                flow * (1.0 - self.scale.lead_s * kappa) * (-kappa * (t - until)).exp()
            };
            let release: Vec<f64> = time.iter().zip(&until).map(late).collect();
            let mut angles = Angles::new(until.iter().chain([&a]).map(|t| t - self.start_s()).collect());
            for (hz, columns) in hz.iter().zip(out.chunks_exact_mut(2)) {
                let w = TAU * hz;
                angles.turn_to(w);
                let n = time.len();
                let (cos_a, sin_a) = (angles.cos[n], angles.sin[n]);
                let (by_cos, by_sin) = columns.split_at_mut(1);
                let (by_cos, by_sin) = (&mut by_cos[0][from..], &mut by_sin[0][from..]);
                let (once, share) = (flow / w, 1.0 / (kappa * kappa + w * w));
                for k in 0..n {
                    let (cos, sin) = (angles.cos[k], angles.sin[k]);
                    // Division by i w turns (cos, sin) into (sin, -cos) / w; by kappa + i w as written.
                    let (re, im) = (cos - cos_a * decay[k], sin - sin_a * decay[k]);
                    let late = share * release[k];
                    by_cos[k] += once * (sin - sin_a) - late * (kappa * re + w * im);
                    by_sin[k] += once * (cos_a - cos) - late * (kappa * im - w * re);
                }
            }
        }
        out
    }

    /// Innovations under white noise and a random walk of zero, in units of their sd.
    fn whiten(&self, columns: &mut [Vec<f64>]) {
        let (mut var, mut before) = (0.0, self.time_s.first().copied().unwrap_or(0.0));
        let steps: Vec<(f64, f64)> = self
            .time_s
            .iter()
            .zip(&self.noise_var)
            .map(|(&t, &noise)| {
                var += self.zero_g.powi(2) * (t - before);
                before = t;
                let s = var + noise;
                let gain = var / s;
                var *= 1.0 - gain;
                (gain, 1.0 / s.sqrt())
            })
            .collect();
        // Columns in parallel, without a chain of dependencies.
        for side in columns.chunks_mut(4) {
            let mut means = [0.0; 4];
            for (k, (gain, scale)) in steps.iter().enumerate() {
                for (column, mean) in side.iter_mut().zip(&mut means) {
                    let v = column[k] - *mean;
                    *mean += gain * v;
                    column[k] = v * scale;
                }
            }
        }
    }
}

/// Cosine and sine of `w t` at many instants, for one `w` after the other.
struct Angles {
    time_s: Vec<f64>,
    w: f64,
    cos: Vec<f64>,
    sin: Vec<f64>,
    /// Cosine and sine of the last change of `w`, which is usually that of the next too.
    step: f64,
    turn: Vec<(f64, f64)>,
}

impl Angles {
    fn new(time_s: Vec<f64>) -> Self {
        let n = time_s.len();
        Self { time_s, w: 0.0, cos: vec![1.0; n], sin: vec![0.0; n], step: 0.0, turn: vec![(1.0, 0.0); n] }
    }

    fn turn_to(&mut self, w: f64) {
        let step = w - self.w;
        if (step - self.step).abs() > 1e-9 * w {
            self.step = step;
            let turn = |t: &f64| {
                let (sin, cos) = (step * t).sin_cos();
                (cos, sin)
            };
            self.turn.clear();
            self.turn.extend(self.time_s.iter().map(turn));
        }
        for ((cos, sin), turn) in self.cos.iter_mut().zip(&mut self.sin).zip(&self.turn) {
            (*cos, *sin) = (*cos * turn.0 - *sin * turn.1, *sin * turn.0 + *cos * turn.1);
        }
        self.w = w;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn observation(bursts: Vec<Burst>, time_s: Vec<f64>) -> Observation {
        let n = time_s.len();
        Observation {
            bursts,
            scale: Scale { tau_s: 0.23, lead_s: 0.1 },
            tau_sd_s: 0.0,
            interval_s: 0.1,
            time_s,
            residual_g: vec![0.0; n],
            noise_var: vec![1.0; n],
            zero_g: 0.0,
            rounding: None,
        }
    }

    fn burst(rise_s: f64, fall_s: f64, flow_g_per_s: f64) -> Burst {
        Burst { rise_s, rise_ramp_s: 0.02, fall_s, fall_ramp_s: 0.02, flow_g_per_s }
    }

    #[test]
    fn the_reading_of_an_oscillation_solves_the_lag_equation() {
        // The reference is a forward integration of w' = flow, r' = (w + lead flow - r) / tau with a small
        // step.
        let bursts = vec![burst(0.5, 2.0, 8.0), burst(2.6, 4.0, 5.0)];
        let at: Vec<f64> = (0..50).map(|i| 0.1 * f64::from(i)).collect();
        let observation = observation(bursts.clone(), at.clone());
        // The last of several frequencies, so that the rotation from one to the next is tested.
        let w = TAU * 1.3;
        let result = observation.oscillations(&[0.05, 0.1, 0.4, 0.7, 1.0, 1.3]).split_off(10);
        for (part, column) in result.iter().enumerate() {
            let (mut water, mut reading, mut t, dt, mut next) = (0.0, 0.0, 0.0, 1e-5, 0);
            while next < at.len() {
                if t >= at[next] - dt / 2.0 {
                    assert!(
                        (reading - column[next]).abs() < 1e-3,
                        "{part} at {t}: {reading} {}",
                        column[next]
                    );
                    next += 1;
                }
                let (sin, cos) = (w * (t - 0.5)).sin_cos();
                let on: f64 =
                    bursts.iter().filter(|b| b.rise_s < t && t < b.fall_s).map(|b| b.flow_g_per_s).sum();
                let flow = on * [cos, sin][part];
                reading += dt * (water + 0.1 * flow - reading) / 0.23;
                water += dt * flow;
                t += dt;
            }
        }
    }

    #[test]
    fn whitening_scales_white_noise_by_its_sd_and_a_random_walk_to_its_increments() {
        let time: Vec<f64> = (0..40).map(f64::from).collect();
        let mut observation = observation(vec![burst(0.5, 2.0, 8.0)], time);
        observation.noise_var = vec![4.0; 40];
        let mut columns = vec![vec![3.0; 40]];
        observation.whiten(&mut columns);
        assert!(columns[0].iter().all(|x| *x == 1.5));
        // A walk of 1 g per step with almost no noise: the innovations are the steps.
        (observation.zero_g, observation.noise_var) = (1.0, vec![1e-12; 40]);
        let mut columns = vec![(0..40).map(f64::from).collect()];
        observation.whiten(&mut columns);
        assert!(columns[0][2..].iter().all(|x| (x - 1.0).abs() < 1e-6));
    }
}
