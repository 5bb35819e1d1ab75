//! In: normal equations, one unknown at a time. Out: their Cholesky factor with updates, and the effect of a
//! change on the evidence.
//!
//! Unknowns come in pairs, the cosine and the sine of an oscillation. The effect of removing a pair follows
//! from its own block of the inverse (partitioned inverse; Golub and Van Loan, Matrix Computations, section
//! 2.1).

use crate::math::inner::inner;

/// Factor of the information, and the forward-solved right-hand side.
pub(super) struct Factor {
    rows: Vec<f64>,
    stride: usize,
    rhs_forward: Vec<f64>,
}

/// A pair that may be removed.
pub(super) struct Pair {
    /// First row of it.
    at: usize,
    /// Its columns of the identity, forward-solved, from that row on.
    forward: [Vec<f64>; 2],
    /// Its block of the inverse, and its part of the solution.
    pub block: Block,
    pub value: [f64; 2],
}

/// A symmetric block of two by two: (first; both; second).
pub(super) type Block = [f64; 3];

/// `x' block^-1 x`, and the determinant of the block.
pub(super) fn weigh([a, b, c]: Block, [u, v]: [f64; 2]) -> (f64, f64) {
    let determinant = a * c - b * b;
    ((c * u * u - 2.0 * b * u * v + a * v * v) / determinant, determinant)
}

impl Factor {
    /// Room for so many unknowns.
    pub(super) fn new(max: usize) -> Self {
        Self { rows: vec![0.0; max * max], stride: max, rhs_forward: Vec::with_capacity(max) }
    }

    pub(super) fn truncate(&mut self, unknowns: usize) {
        self.rhs_forward.truncate(unknowns);
    }

    /// Adds an unknown: its information with the present ones and with itself, and its right-hand side. False
    /// if it is collinear.
    pub(super) fn push(&mut self, with: impl Fn(usize) -> f64, own: f64, rhs: f64) -> bool {
        let n = self.rhs_forward.len();
        let (before, new) = self.rows.split_at_mut(n * self.stride);
        for (j, row) in before.chunks_exact(self.stride).enumerate() {
            new[j] = (with(j) - inner(&new[..j], &row[..j])) / row[j];
        }
        let left = own - inner(&new[..n], &new[..n]);
        let is_new = left > n as f64 * f64::EPSILON * own;
        new[n] = if is_new { left.sqrt() } else { f64::INFINITY };
        self.rhs_forward.push((rhs - inner(&new[..n], &self.rhs_forward)) / new[n]);
        is_new
    }

    /// Half of the explained sum of squares, less half of the logarithm of the determinant.
    pub(super) fn evidence(&self) -> f64 {
        let n = self.rhs_forward.len();
        // The logarithm of a product is faster than a sum of logarithms.
        let block_log =
            |k: usize| (k..n.min(k + 8)).map(|i| self.rows[i * (self.stride + 1)]).product::<f64>().ln();
        0.5 * inner(&self.rhs_forward, &self.rhs_forward) - (0..n).step_by(8).map(block_log).sum::<f64>()
    }

    /// The pair whose first unknown is at `at`.
    pub(super) fn pair(&self, at: usize) -> Pair {
        let n = self.rhs_forward.len();
        let forward = [0, 1].map(|k| {
            let mut forward = vec![0.0; n - at];
            for i in k..n - at {
                let row = &self.rows[(at + i) * self.stride + at..][..=i];
                let unit = if i == k { 1.0 } else { 0.0 };
                forward[i] = (unit - inner(&row[..i], &forward[..i])) / row[i];
            }
            forward
        });
        let [a, b] = &forward;
        let rhs_forward = &self.rhs_forward[at..];
        let value = [inner(a, rhs_forward), inner(b, rhs_forward)];
        Pair { at, block: [inner(a, a), inner(a, b), inner(b, b)], value, forward }
    }

    /// Partial information and right-hand side of another pair in place of `removed`, given the rest. `with`
    /// gives its information with each unknown, `own` with itself.
    pub(super) fn replacement(
        &self,
        removed: &Pair,
        with: [impl Fn(usize) -> f64; 2],
        own: Block,
        rhs: [f64; 2],
    ) -> (Block, [f64; 2]) {
        let n = self.rhs_forward.len();
        let is_removed = |i: usize| i == removed.at || i == removed.at + 1;
        let forward = with.map(|with| {
            let mut forward = vec![0.0; n];
            for i in 0..n {
                let row = &self.rows[i * self.stride..][..=i];
                let known = if is_removed(i) { 0.0 } else { with(i) };
                forward[i] = (known - inner(&row[..i], &forward[..i])) / row[i];
            }
            forward
        });
        // The projection on the removed pair is added back.
        let by_removed = forward
            .each_ref()
            .map(|forward| removed.forward.each_ref().map(|g| inner(g, &forward[removed.at..])));
        let [p, q, r] = removed.block;
        let determinant = p * r - q * q;
        let back = |u: [f64; 2], v: [f64; 2]| {
            (r * u[0] * v[0] - q * (u[0] * v[1] + u[1] * v[0]) + p * u[1] * v[1]) / determinant
        };
        let left = |i: usize, j: usize| back(by_removed[i], by_removed[j]) - inner(&forward[i], &forward[j]);
        let rhs_forward = [0, 1].map(|i: usize| {
            rhs[i] - inner(&forward[i], &self.rhs_forward) + back(by_removed[i], removed.value)
        });
        ([own[0] + left(0, 0), own[1] + left(0, 1), own[2] + left(1, 1)], rhs_forward)
    }

    /// A sample from the posterior with standard normal numbers `noise`; with zeros, the solution.
    pub(super) fn solution(&self, mut noise: impl FnMut() -> f64) -> Vec<f64> {
        let n = self.rhs_forward.len();
        let mut x: Vec<f64> = self.rhs_forward.iter().map(|p| p + noise()).collect();
        for i in (0..n).rev() {
            let row = &self.rows[i * self.stride..][..=i];
            let value = x[i] / row[i];
            x[i] = value;
            x[..i].iter_mut().zip(row).for_each(|(x, l)| *x -= l * value);
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::math::solve::{cholesky, solve};

    /// Information and right-hand side of `n` unknowns with twice as many readings.
    fn system(n: usize) -> (Vec<f64>, Vec<f64>) {
        let mut random = Random::new(5);
        let columns: Vec<Vec<f64>> = (0..n).map(|_| (0..2 * n).map(|_| random.normal()).collect()).collect();
        let a = (0..n * n).map(|k| inner(&columns[k / n], &columns[k % n])).collect();
        (a, (0..n).map(|_| random.normal()).collect())
    }

    /// The evidence of the unknowns of those indices by direct factorisation.
    fn direct(a: &[f64], rhs: &[f64], n: usize, index: &[usize]) -> f64 {
        let m = index.len();
        let mut part: Vec<f64> = (0..m * m).map(|k| a[index[k / m] * n + index[k % m]]).collect();
        assert!(cholesky(&mut part, m));
        let own: Vec<f64> = index.iter().map(|i| rhs[*i]).collect();
        let mut x = own.clone();
        solve(&part, m, &mut x);
        0.5 * inner(&own, &x) - (0..m).map(|i| part[i * (m + 1)].ln()).sum::<f64>()
    }

    #[test]
    fn updates_of_the_factor_agree_with_direct_factorisation() {
        let n = 14;
        let (a, rhs) = system(n);
        let mut factor = Factor::new(n);
        for i in 0..12 {
            assert!(factor.push(|j| a[i * n + j], a[i * (n + 1)], rhs[i]));
        }
        let all: Vec<usize> = (0..12).collect();
        let evidence = factor.evidence();
        assert!((evidence - direct(&a, &rhs, n, &all)).abs() < 1e-10);
        for at in [0, 4, 10] {
            let pair = factor.pair(at);
            let (explained, determinant) = weigh(pair.block, pair.value);
            let without: Vec<usize> = all.iter().copied().filter(|i| i / 2 != at / 2).collect();
            let expected = direct(&a, &rhs, n, &without);
            let rest = evidence - 0.5 * explained - 0.5 * determinant.ln();
            assert!((rest - expected).abs() < 1e-10, "{rest} for {expected}");
            let own = [a[12 * n + 12], a[12 * n + 13], a[13 * n + 13]];
            let with = [12, 13].map(|new| {
                let a = &a;
                move |j: usize| a[new * n + j]
            });
            let (block, value) = factor.replacement(&pair, with, own, [rhs[12], rhs[13]]);
            let (explained, determinant) = weigh(block, value);
            let with: Vec<usize> = without.iter().copied().chain([12, 13]).collect();
            let expected = direct(&a, &rhs, n, &with);
            let result = rest + 0.5 * explained - 0.5 * determinant.ln();
            assert!((result - expected).abs() < 1e-10, "{result} for {expected}");
        }
        factor.truncate(6);
        assert!((factor.evidence() - direct(&a, &rhs, n, &all[..6])).abs() < 1e-10);
        let x = factor.solution(|| 0.0);
        for i in 0..6 {
            let given: f64 = (0..6).map(|j| a[i * n + j] * x[j]).sum();
            assert!((given - rhs[i]).abs() < 1e-10, "A x = b in row {i}");
        }
    }

    #[test]
    fn a_collinear_unknown_is_refused() {
        let mut factor = Factor::new(2);
        assert!(factor.push(|_| 0.0, 2.0, 1.0) && !factor.push(|_| 2.0, 2.0, 1.0));
    }
}
