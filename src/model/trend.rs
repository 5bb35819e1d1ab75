//! In: a series on uneven stamps and the sd of its noise. Out: its level and slope at each stamp, with their variances.
//!
//! The signal is an integrated Wiener process: its slope is a random walk. It may be observed through a short
//! first-order lag, to first order as the level less the lag times the slope. Method: Kalman filter and the
//! backward smoother without inverses, one pass each (Durbin and Koopman, Time Series Analysis by State Space
//! Methods, 4.4).

/// Smoothed slope at each stamp. `corner_rad_per_s` is the bandwidth of the smoother; stamps never decrease.
pub(crate) fn slopes(
    time: &[f64],
    value: &[f64],
    noise_sd: f64,
    interval: f64,
    corner_rad_per_s: f64,
) -> Vec<f64> {
    let noise_var = noise_sd * noise_sd;
    let power = corner_rad_per_s.powi(4) * noise_var * interval;
    let trend = Trend { noise_var, lag: 0.0, power: &|_| power, start_var: wide(noise_var) };
    trend.smooth(time, value, |s| s.slope)
}

/// State-space model of a series.
pub(crate) struct Trend<'a> {
    /// Variance of the noise of a value.
    pub noise_var: f64,
    /// Time constant of the lag through which the signal is observed; short compared with the time in which the
    /// slope changes.
    pub lag: f64,
    /// Process noise before the sample of that index: variance of the slope's change in a unit of time.
    pub power: &'a dyn Fn(usize) -> f64,
    /// Variance of level and slope before the first sample, about the first value and 0.
    pub start_var: [f64; 2],
}

/// Wide but finite prior: sd of level and slope 1e3 times that of the noise.
pub(crate) fn wide(noise_var: f64) -> [f64; 2] {
    [noise_var * 1e6; 2]
}

/// Level and slope at one stamp.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Smoothed {
    pub level: f64,
    pub level_var: f64,
    pub slope: f64,
    pub slope_var: f64,
}

/// Length of a block of samples whose filter pass is stored for the backward pass; bounds the memory of a long
/// series.
const BLOCK: usize = 4096;

/// State of the filter: level and slope after the last sample, and their covariance (level; level and slope;
/// slope).
#[derive(Clone, Copy)]
struct State {
    time: f64,
    mean: [f64; 2],
    p: [f64; 3],
}

/// Predicted state and covariance (level; level and slope; slope) for a sample, and its innovation.
struct Past {
    dt: f64,
    mean: [f64; 2],
    p: [f64; 3],
    innovation: Option<Innovation>,
}

/// Gain at a sample, innovation and its variance.
#[derive(Clone, Copy)]
struct Innovation {
    gain: [f64; 2],
    v: f64,
    s: f64,
}

impl Trend<'_> {
    /// Deviance (-2 log likelihood) of the values, up to a constant.
    pub(crate) fn deviance(&self, time: &[f64], value: &[f64]) -> f64 {
        let mut state = self.start(time, value);
        let mut sum = 0.0;
        for (k, (&t, &y)) in time.iter().zip(value).enumerate() {
            if let Some(Innovation { v, s, .. }) = self.step(&mut state, k, t, y).innovation {
                sum += v * v / s + s.ln();
            }
        }
        sum
    }

    /// A function of the smoothed level and slope at each stamp; NaN is a missing value.
    pub(crate) fn smooth<T: Clone + Default>(
        &self,
        time: &[f64],
        value: &[f64],
        wanted: impl Fn(Smoothed) -> T,
    ) -> Vec<T> {
        self.smooth_by(BLOCK, time, value, wanted)
    }

    fn smooth_by<T: Clone + Default>(
        &self,
        samples: usize,
        time: &[f64],
        value: &[f64],
        wanted: impl Fn(Smoothed) -> T,
    ) -> Vec<T> {
        let mut out = vec![T::default(); time.len()];
        // The backward pass needs the forward pass. For a long series the forward pass is recomputed block by
        // block from the stored state at the start of each block.
        let mut state = self.start(time, value);
        let mut blocks = vec![state];
        for k in 0..time.len().saturating_sub(1) / samples * samples {
            self.step(&mut state, k, time[k], value[k]);
            if (k + 1) % samples == 0 {
                blocks.push(state);
            }
        }
        let mut all = Vec::with_capacity(samples.min(time.len()));
        let (mut r, mut n) = ([0.0; 2], [0.0; 3]);
        for (block, mut state) in blocks.into_iter().enumerate().rev() {
            let first = block * samples;
            let last = (first + samples).min(time.len());
            all.clear();
            all.extend((first..last).map(|k| self.step(&mut state, k, time[k], value[k])));
            for (out, past) in out[first..last].iter_mut().zip(&all).rev() {
                if let Some(innovation) = past.innovation {
                    (r, n) = self.backward_update(r, n, innovation);
                }
                let Past { dt, mean, p, .. } = past;
                let rows = [[p[0], p[1]], [p[1], p[2]]];
                let of = |row: [f64; 2], mean: f64, var: f64| {
                    let known =
                        row[0] * row[0] * n[0] + 2.0 * row[0] * row[1] * n[1] + row[1] * row[1] * n[2];
                    (mean + row[0] * r[0] + row[1] * r[1], (var - known).max(0.0))
                };
                let (level, level_var) = of(rows[0], mean[0], p[0]);
                let (slope, slope_var) = of(rows[1], mean[1], p[2]);
                *out = wanted(Smoothed { level, level_var, slope, slope_var });
                // Back over the transition level' = level + dt slope.
                r[1] += dt * r[0];
                n = [n[0], n[1] + dt * n[0], n[2] + dt * (2.0 * n[1] + dt * n[0])];
            }
        }
        out
    }

    fn start(&self, time: &[f64], value: &[f64]) -> State {
        State {
            time: time.first().copied().unwrap_or(0.0),
            mean: [value.iter().copied().find(|y| y.is_finite()).unwrap_or(0.0), 0.0],
            p: [self.start_var[0], 0.0, self.start_var[1]],
        }
    }

    /// Predicts to the sample of that index and updates with it.
    fn step(&self, state: &mut State, k: usize, t: f64, y: f64) -> Past {
        let State { time, mut mean, mut p } = *state;
        let dt = t - time;
        let power = (self.power)(k);
        mean[0] += dt * mean[1];
        p = [
            p[0] + dt * (2.0 * p[1] + dt * p[2]) + power * dt.powi(3) / 3.0,
            p[1] + dt * p[2] + power * dt * dt / 2.0,
            p[2] + power * dt,
        ];
        let mut past = Past { dt, mean, p, innovation: None };
        if y.is_finite() {
            let across = [p[0] - self.lag * p[1], p[1] - self.lag * p[2]];
            let s = across[0] - self.lag * across[1] + self.noise_var;
            let gain = across.map(|c| c / s);
            let v = y - mean[0] + self.lag * mean[1];
            mean = [mean[0] + gain[0] * v, mean[1] + gain[1] * v];
            p = [p[0] - gain[0] * across[0], p[1] - gain[0] * across[1], p[2] - gain[1] * across[1]];
            past.innovation = Some(Innovation { gain, v, s });
        }
        *state = State { time: t, mean, p };
        past
    }

    /// The backward recursion across a sample: `L = I - gain h'` with `h = (1, -lag)`; `r <- h v/s + L' r`,
    /// `N <- h h'/s + L' N L`.
    fn backward_update(
        &self,
        r: [f64; 2],
        n: [f64; 3],
        Innovation { gain: g, v, s }: Innovation,
    ) -> ([f64; 2], [f64; 3]) {
        let h = [1.0, -self.lag];
        let back = v / s - g[0] * r[0] - g[1] * r[1];
        let ng = [n[0] * g[0] + n[1] * g[1], n[1] * g[0] + n[2] * g[1]];
        let gng = g[0] * ng[0] + g[1] * ng[1] + 1.0 / s;
        (
            [r[0] + h[0] * back, r[1] + h[1] * back],
            [
                n[0] + gng - 2.0 * ng[0],
                n[1] + h[1] * gng - ng[1] - ng[0] * h[1],
                n[2] + h[1] * h[1] * gng - 2.0 * h[1] * ng[1],
            ],
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::math::solve::{cholesky, inverse, solve};

    #[test]
    fn the_slope_of_a_straight_line_on_uneven_stamps_is_recovered() {
        let time: Vec<f64> = (0..200).map(|i| 0.1 * f64::from(i) + 0.03 * f64::from(i % 3)).collect();
        let value: Vec<f64> = time.iter().map(|t| 3.0 + 7.5 * t).collect();
        for s in slopes(&time, &value, 0.05, 0.1, 8.0) {
            assert!((s - 7.5).abs() < 1e-3, "{s}");
        }
    }

    #[test]
    fn smoothing_in_blocks_is_bitwise_that_in_one_pass() {
        let mut random = Random::new(4);
        let time: Vec<f64> = (0..100).map(|i| 0.1 * f64::from(i) + 0.03 * random.normal().abs()).collect();
        let value: Vec<f64> = time
            .iter()
            .enumerate()
            .map(|(i, t)| if i % 9 == 4 { f64::NAN } else { t.sin() + 0.1 * random.normal() })
            .collect();
        let trend =
            Trend { noise_var: 0.01, lag: 0.05, power: &|k| 1.0 + k as f64 / 50.0, start_var: wide(0.01) };
        let bits = |samples: usize| -> Vec<[u64; 4]> {
            trend.smooth_by(samples, &time, &value, |s| {
                [s.level, s.level_var, s.slope, s.slope_var].map(f64::to_bits)
            })
        };
        for samples in [1, 7, 50, 99] {
            assert_eq!(bits(samples), bits(100), "blocks of {samples}");
        }
    }

    /// Covariance of level and slope of an integrated Wiener process at two instants after a start at 0
    /// (textbook form).
    fn kernel(a: f64, b: f64, power: f64, start_var: f64) -> [[f64; 2]; 2] {
        let (m, diff) = (a.min(b), (a - b).abs());
        let ll = power * (m * m * m / 3.0 + m * m * diff / 2.0);
        // Cov(level(a), slope(b)): only the increments before both instants are shared.
        let ls = |a: f64, b: f64| if b < a { power * (a * b - b * b / 2.0) } else { power * a * a / 2.0 };
        [
            [ll + start_var * (1.0 + a * b), ls(a, b) + start_var * a],
            [ls(b, a) + start_var * b, power * m + start_var],
        ]
    }

    #[test]
    fn smoother_and_likelihood_agree_with_the_dense_normal_equations() {
        let time: Vec<f64> = (0..18).map(|i| 0.1 * f64::from(i) + 0.03 * f64::from((i * 7) % 3)).collect();
        let (noise_var, lag, power) = (4e-4, 0.15, 0.8);
        let mut value: Vec<f64> = time.iter().map(|t| (2.0 * t).sin() + 0.4 * t).collect();
        value[7] = f64::NAN;
        let trend = Trend { noise_var, lag, power: &|_| power, start_var: wide(noise_var) };
        let observed: Vec<usize> = (0..time.len()).filter(|&i| value[i].is_finite()).collect();
        let n = observed.len();
        let h = [1.0, -lag];
        let of = |i: usize, j: usize| kernel(time[i] - time[0], time[j] - time[0], power, noise_var * 1e6);
        let mut c = vec![0.0; n * n];
        for (a, &i) in observed.iter().enumerate() {
            for (b, &j) in observed.iter().enumerate() {
                let k = of(i, j);
                c[a * n + b] = (0..2).flat_map(|p| (0..2).map(move |q| h[p] * h[q] * k[p][q])).sum::<f64>();
                c[a * n + b] += if a == b { noise_var } else { 0.0 };
            }
        }
        assert!(cholesky(&mut c, n));
        let y: Vec<f64> = observed.iter().map(|&i| value[i] - value[0]).collect();
        let mut weight = y.clone();
        solve(&c, n, &mut weight);
        let log_det: f64 = (0..n).map(|i| 2.0 * c[i * n + i].ln()).sum();
        let dense = y.iter().zip(&weight).map(|(a, b)| a * b).sum::<f64>() + log_det;
        assert!((trend.deviance(&time, &value) - dense).abs() < 1e-4, "{dense}");
        let inverse = inverse(&c, n);
        for (i, s) in trend.smooth(&time, &value, |s| s).iter().enumerate() {
            let across = |part: usize| -> Vec<f64> {
                observed.iter().map(|&j| of(i, j)[part][0] * h[0] + of(i, j)[part][1] * h[1]).collect()
            };
            for (part, result, result_var, base) in
                [(0, s.level, s.level_var, value[0]), (1, s.slope, s.slope_var, 0.0)]
            {
                let k = across(part);
                let mean = base + k.iter().zip(&weight).map(|(a, b)| a * b).sum::<f64>();
                let known: f64 = (0..n)
                    .flat_map(|a| (0..n).map(move |b| (a, b)))
                    .map(|(a, b)| k[a] * k[b] * inverse[a * n + b])
                    .sum();
                let var = of(i, i)[part][part] - known;
                assert!((result - mean).abs() < 1e-5 * (1.0 + mean.abs()), "{i} {part}: {result} {mean}");
                // The dense difference 400 - 400 leaves some nine digits.
                assert!((result_var - var).abs() < 1e-3 * var + 2e-6, "{i} {part}: {result_var} {var}");
            }
        }
    }

    #[test]
    fn a_short_lag_is_corrected() {
        // A ramp of 4 g/s observed through a lag of 0.2 s lies 0.8 g low (closed form of the settled
        // first-order lag).
        let mut random = Random::new(3);
        let time: Vec<f64> = (0..300).map(|i| 0.1 * f64::from(i)).collect();
        let value: Vec<f64> = time.iter().map(|t| 4.0 * t - 0.8 + 0.05 * random.normal()).collect();
        let trend = Trend { noise_var: 0.0025, lag: 0.2, power: &|_| 0.01, start_var: wide(0.0025) };
        let middle = trend.smooth(&time, &value, |s| s)[150];
        assert!(
            (middle.level - 60.0).abs() < 3.0 * middle.level_var.sqrt() && middle.level_var.sqrt() < 0.05
        );
        assert!((middle.slope - 4.0).abs() < 3.0 * middle.slope_var.sqrt() && middle.slope_var.sqrt() < 0.1);
    }
}
