//! In: whitened columns of the linear model of the readings. Out: the normal equations of the oscillations, the
//! bursts' parameters projected out, and the gain of a single oscillation.

use crate::math::inner::inner;
use crate::math::solve::{cholesky, solve};
use crate::model::burst::{Burst, PARAMETERS};

/// Prior sd of the slow change over a pour, as a fraction of the flow.
const SLOW: f64 = 0.1;

/// Normal equations of the oscillations: two unknowns per frequency, as fractions of the level.
pub(super) struct Equations {
    pub hz: Vec<f64>,
    /// Information, `2 hz.len()` square, row by row, and right-hand side.
    pub information: Vec<f64>,
    pub rhs: Vec<f64>,
    /// Residual sum of squares without oscillations, and its degrees of freedom.
    pub deviance: f64,
    pub degrees: f64,
    nuisance: Nuisance,
}

/// Fit of one oscillation in addition to the slow change.
pub(super) struct Oscillation {
    /// Half of the decrease of chi-square.
    pub gain: f64,
    /// Squared amplitude, as a fraction of the level, and its part due to noise.
    pub square: f64,
    pub noise_var: f64,
}

/// Base and the bursts' parameters: factor of their information, cross information with the oscillations,
/// right-hand side.
struct Nuisance {
    factor: Vec<f64>,
    shared: Vec<f64>,
    rhs: Vec<f64>,
}

impl Equations {
    /// `columns`: those of the `nuisances` unknowns with prior information `prior`; two per frequency; the
    /// readings.
    pub(super) fn new(hz: &[f64], columns: &[Vec<f64>], prior: &[f64], nuisances: usize) -> Option<Self> {
        let (p, n) = (nuisances, 2 * hz.len());
        let dot = |i: usize, j: usize| inner(&columns[i], &columns[j]);
        let mut factor: Vec<f64> = (0..p * p).map(|k| dot(k / p, k % p)).collect();
        prior.iter().enumerate().for_each(|(k, own)| factor[k * (p + 1)] += own);
        if !cholesky(&mut factor, p) {
            return None;
        }
        let last = p + n;
        let rhs: Vec<f64> = (0..p).map(|i| dot(i, last)).collect();
        let shared: Vec<f64> = (0..p * n).map(|k| dot(k % p, p + k / p)).collect();
        // Projection of each column on the nuisance unknowns, in the frame of their factor.
        let mut explained = shared.clone();
        explained.chunks_exact_mut(p).for_each(|column| forward(&factor, p, column));
        let mut rhs_forward = rhs.clone();
        forward(&factor, p, &mut rhs_forward);
        let part = |j: usize| &explained[j * p..(j + 1) * p];
        let mut information = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..=i {
                let value = dot(p + i, p + j) - inner(part(i), part(j));
                information[i * n + j] = value;
                information[j * n + i] = value;
            }
        }
        Some(Self {
            hz: hz.to_vec(),
            information,
            rhs: (0..n).map(|j| dot(p + j, last) - inner(part(j), &rhs_forward)).collect(),
            deviance: dot(last, last) - inner(&rhs_forward, &rhs_forward),
            degrees: columns[last].len() as f64 - p as f64,
            nuisance: Nuisance { factor, shared, rhs },
        })
    }

    /// The bursts sampled from their posterior, given the oscillations `c` and the standard normal numbers
    /// `noise`.
    pub(super) fn bursts(&self, c: &[(usize, f64)], noise: &[f64], bursts: &[Burst]) -> Vec<Burst> {
        let p = self.nuisance.rhs.len();
        let mut rhs = self.nuisance.rhs.clone();
        for &(j, value) in c {
            let shared = &self.nuisance.shared[j * p..(j + 1) * p];
            rhs.iter_mut().zip(shared).for_each(|(x, s)| *x -= s * value);
        }
        solve(&self.nuisance.factor, p, &mut rhs);
        let mut moved = noise[..p].to_vec();
        backward(&self.nuisance.factor, p, &mut moved);
        rhs.iter_mut().zip(&moved).for_each(|(x, m)| *x += m);
        bursts.iter().zip(rhs[1..].chunks_exact(PARAMETERS)).map(|(b, by)| b.moved(by)).collect()
    }

    /// Prior information on the slow change.
    pub(super) fn slow_information() -> f64 {
        1.0 / (SLOW * SLOW)
    }

    /// The oscillation of frequency `k`, fitted jointly with the slow change.
    pub(super) fn oscillation(&self, k: usize) -> Oscillation {
        let n = self.rhs.len();
        let index = [0, 1, 2 * k, 2 * k + 1];
        let mut a: Vec<f64> = index.iter().flat_map(|i| index.map(|j| self.information[i * n + j])).collect();
        let mut rhs = index.map(|i| self.rhs[i]);
        let none = Oscillation { gain: 0.0, square: 0.0, noise_var: 0.0 };
        (a[0], a[5]) = (a[0] + Self::slow_information(), a[5] + Self::slow_information());
        if !cholesky(&mut a, 4) {
            return none;
        }
        forward(&a, 4, &mut rhs);
        let gain = 0.5 * (rhs[2] * rhs[2] + rhs[3] * rhs[3]);
        backward(&a, 4, &mut rhs);
        // Covariance of the last two unknowns from the last block of the factor.
        let (p, q, r) = (a[10], a[14], a[15]);
        let noise_var = 1.0 / (p * p) + (q / (p * r)).powi(2) + 1.0 / (r * r);
        Oscillation { gain, square: rhs[2] * rhs[2] + rhs[3] * rhs[3], noise_var }
    }

    /// Number of nuisance unknowns.
    pub(super) fn nuisances(&self) -> usize {
        self.nuisance.rhs.len()
    }
}

/// Solves `L x = b` in place.
fn forward(l: &[f64], n: usize, b: &mut [f64]) {
    for i in 0..n {
        b[i] = (b[i] - inner(&l[i * n..i * n + i], &b[..i])) / l[i * n + i];
    }
}

/// Solves `L' x = b` in place.
fn backward(l: &[f64], n: usize, b: &mut [f64]) {
    for i in (0..n).rev() {
        let tail: f64 = (i + 1..n).map(|k| l[k * n + i] * b[k]).sum();
        b[i] = (b[i] - tail) / l[i * n + i];
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn the_gain_of_an_oscillation_is_that_of_the_least_squares_periodogram() {
        // scipy 1.17.1, signal.lombscargle(t, y, 2 pi f, floating_mean=True, normalize=True): the relative
        // decrease of chi-square.
        const REFERENCE: [(f64, f64); 4] = [
            (0.4, 0.04088164837722095),
            (0.9, 0.022036052230359704),
            (1.3, 0.7595997996539735),
            (2.1, 0.02313142045702749),
        ];
        let t: Vec<f64> = (0..60).map(f64::from).map(|i| 0.1 * i + 0.03 * (7.0 * i).sin()).collect();
        let y = |t: f64| 0.4 * (TAU * 1.3 * t + 0.5).sin() + 0.2 * (9.1 * t * t / 6.0).cos() + 0.7;
        // A mean is projected out; no slow change.
        let mut columns = vec![vec![1.0; t.len()], vec![0.0; t.len()], vec![0.0; t.len()]];
        for (hz, _) in REFERENCE {
            columns.push(t.iter().map(|t| (TAU * hz * t).cos()).collect());
            columns.push(t.iter().map(|t| (TAU * hz * t).sin()).collect());
        }
        columns.push(t.iter().map(|t| y(*t)).collect());
        let hz: Vec<f64> = std::iter::once(0.0).chain(REFERENCE.map(|r| r.0)).collect();
        let e = Equations::new(&hz, &columns, &[0.0], 1).unwrap();
        assert!((e.deviance - 4.97404896886844).abs() < 1e-10, "{}", e.deviance);
        for (k, (hz, power)) in REFERENCE.iter().enumerate() {
            let result = 2.0 * e.oscillation(k + 1).gain / e.deviance;
            assert!((result - power).abs() < 1e-10, "{result}, not {power}, at {hz} Hz");
        }
    }
}
