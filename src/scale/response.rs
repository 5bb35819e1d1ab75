//! In: readings about one change of load. Out: its instant, its size, and the lag of the response.
//!
//! A first-order lag responds to a load change `m` at `s` with `a + m (1 - exp(-(t - s)/tau))`. All four parameters
//! are fitted by least squares in continuous time (Levenberg 1944, Marquardt 1963). There are several starts, because
//! the sum of squares has a kink wherever `s` passes a stamp. The sd come from the curvature at the minimum (JCGM
//! 100:2008, 5.1).

use crate::estimate::Estimate;
use crate::math::solve::{cholesky, inverse};

/// Starts for the lag, s.
const STARTS_S: [f64; 8] = [0.01, 0.03, 0.08, 0.15, 0.3, 0.6, 1.2, 2.5];
const MAX_ITERATIONS: usize = 60;

/// One fitted load change.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Response {
    pub at_s: Estimate,
    pub mass_g: Estimate,
    pub lag_s: Estimate,
    /// Root mean square of the residuals, g.
    pub rms_g: f64,
}

/// Parameters: level before, size, instant, lag.
type Parameters = [f64; 4];

/// Fits a load change; `noise_g` is the sd of a reading. None if the four parameters are not identifiable.
pub(crate) fn response(t: &[f64], y: &[f64], noise_g: f64) -> Option<Response> {
    let n = t.len();
    if n < 8 {
        return None;
    }
    let mean = |y: &[f64]| y.iter().sum::<f64>() / y.len() as f64;
    let (before, after) = (mean(&y[..4]), mean(&y[n - 4..]));
    let size = after - before;
    // The first sample past half of the change, which noise does not revert.
    let half = (1..n).find(|&i| (y[i] - before) / size > 0.5)?;
    let starts = STARTS_S.iter().flat_map(|&lag| {
        [0.05, 0.35, 0.65, 0.95]
            .map(|share| [before, size, t[half - 1] + share * (t[half] - t[half - 1]) - 0.69 * lag, lag])
    });
    let (p, cost) = starts
        .map(|p| descend(t, y, p))
        .filter(|(_, cost)| cost.is_finite())
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let rms_g = (cost / (n - 4) as f64).sqrt();
    let covariance = inverted(curvature(t, y, &p).0)?;
    let sd = |k: usize| noise_g.max(rms_g) * covariance[k * 4 + k].max(0.0).sqrt();
    Some(Response {
        at_s: Estimate::new(p[2], sd(2)),
        mass_g: Estimate::new(p[1], sd(1)),
        lag_s: Estimate::new(p[3], sd(3)),
        rms_g,
    })
}

/// Value and derivatives at one instant.
fn model(t: f64, p: &Parameters) -> (f64, [f64; 4]) {
    let [before, size, at, lag] = *p;
    let u = (t - at) / lag;
    if u <= 0.0 {
        return (before, [1.0, 0.0, 0.0, 0.0]);
    }
    let left = (-u).exp();
    (before + size * (1.0 - left), [1.0, 1.0 - left, -size * left / lag, -size * left * u / lag])
}

/// Normal matrix, gradient and sum of squares.
fn curvature(t: &[f64], y: &[f64], p: &Parameters) -> ([f64; 16], [f64; 4], f64) {
    let (mut matrix, mut gradient, mut cost) = ([0.0; 16], [0.0; 4], 0.0);
    for (&t, &y) in t.iter().zip(y) {
        let (shown, slope) = model(t, p);
        let residual = y - shown;
        cost += residual * residual;
        for i in 0..4 {
            gradient[i] += slope[i] * residual;
            for j in 0..4 {
                matrix[4 * i + j] += slope[i] * slope[j];
            }
        }
    }
    (matrix, gradient, cost)
}

fn inverted(mut matrix: [f64; 16]) -> Option<Vec<f64>> {
    cholesky(&mut matrix, 4).then(|| inverse(&matrix, 4))
}

/// Minimisation after Levenberg and Marquardt.
fn descend(t: &[f64], y: &[f64], mut p: Parameters) -> (Parameters, f64) {
    let mut damping = 1e-2;
    let (mut matrix, mut gradient, mut cost) = curvature(t, y, &p);
    for _ in 0..MAX_ITERATIONS {
        let mut damped = matrix;
        for k in 0..4 {
            damped[5 * k] += damping * matrix[5 * k] + 1e-12;
        }
        let Some(inverse) = inverted(damped) else { break };
        let mut next = p;
        for (k, value) in next.iter_mut().enumerate() {
            *value += (0..4).map(|j| inverse[4 * k + j] * gradient[j]).sum::<f64>();
        }
        next[3] = next[3].clamp(1e-3, 20.0);
        let (m, g, c) = curvature(t, y, &next);
        if c < cost {
            let decrease = cost - c;
            (p, matrix, gradient, cost) = (next, m, g, c);
            damping = (damping * 0.2).max(1e-9);
            if decrease < 1e-10 * cost {
                break;
            }
        } else {
            damping *= 5.0;
            if damping > 1e8 {
                break;
            }
        }
    }
    (p, cost)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    #[test]
    fn the_closed_form_of_a_first_order_lag_is_recovered() {
        // y = 3 + 200 (1 - exp(-(t - 2.03)/0.25)), the textbook step response of a first-order lag.
        let t: Vec<f64> = (0..80).map(|i| f64::from(i) * 0.1).collect();
        let shown = |t: &f64| if *t > 2.03 { 3.0 + 200.0 * (1.0 - (-(t - 2.03) / 0.25).exp()) } else { 3.0 };
        let found = response(&t, &t.iter().map(shown).collect::<Vec<_>>(), 1e-6).unwrap();
        assert!((found.lag_s.value - 0.25).abs() < 1e-7, "{found:?}");
        assert!((found.at_s.value - 2.03).abs() < 1e-7 && (found.mass_g.value - 200.0).abs() < 1e-5);
    }

    #[test]
    fn the_stated_sd_covers_the_error() {
        for (lag, rate) in [(0.08, 10.0), (0.25, 10.0), (0.25, 50.0), (0.35, 5.0)] {
            let (mut within, mut square) = (0, 0.0);
            for seed in 0..200 {
                let mut random = Random::new(seed);
                let at = 2.0 + random.unit() / rate;
                let shown = |t: &f64| if *t > at { 150.0 * (1.0 - (-(t - at) / lag).exp()) } else { 0.0 };
                let t: Vec<f64> = (0..(8.0 * rate) as usize).map(|i| i as f64 / rate).collect();
                let y: Vec<f64> = t
                    .iter()
                    .map(|t| shown(t) + 0.06 * random.normal())
                    .map(|y| (y * 10.0).round() / 10.0)
                    .collect();
                let found = response(&t, &y, 0.0666).unwrap();
                let z = (found.lag_s.value - lag) / found.lag_s.sd;
                within += usize::from(z.abs() < 2.0);
                square += z * z;
            }
            assert!(
                (180..=199).contains(&within),
                "lag {lag} at {rate} Hz: {within} of 200, mean square {square}"
            );
        }
    }
}
