//! In: normal equations, an unknown at a time. Out: their Cholesky factor, which grows and shrinks with them, and what a change would do.
//!
//! Unknowns come in pairs, the cosine and the sine of a beat. What taking out a pair would do is read off the block of the inverse that is
//! its own (partitioned inverse; Golub and Van Loan, Matrix Computations, section 2.1).

use crate::math::inner::inner;

/// Factor of the information, and the pull as seen through it.
pub(super) struct Factor {
    rows: Vec<f64>,
    stride: usize,
    pulled: Vec<f64>,
}

/// A pair that may be taken out.
pub(super) struct Pair {
    /// First row of it.
    at: usize,
    /// Its columns of the identity, seen through the factor, from that row on.
    seen: [Vec<f64>; 2],
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
    pub(super) fn new(most: usize) -> Self {
        Self { rows: vec![0.0; most * most], stride: most, pulled: Vec::with_capacity(most) }
    }

    pub(super) fn truncate(&mut self, unknowns: usize) {
        self.pulled.truncate(unknowns);
    }

    /// Adds an unknown: its information with those that are there and with itself, and its pull. False where it is no new one.
    pub(super) fn push(&mut self, with: impl Fn(usize) -> f64, own: f64, pull: f64) -> bool {
        let n = self.pulled.len();
        let (before, new) = self.rows.split_at_mut(n * self.stride);
        for (j, row) in before.chunks_exact(self.stride).enumerate() {
            new[j] = (with(j) - inner(&new[..j], &row[..j])) / row[j];
        }
        let left = own - inner(&new[..n], &new[..n]);
        let is_new = left > n as f64 * f64::EPSILON * own;
        new[n] = if is_new { left.sqrt() } else { f64::INFINITY };
        self.pulled.push((pull - inner(&new[..n], &self.pulled)) / new[n]);
        is_new
    }

    /// Half of what the unknowns explain, less half of the logarithm of the determinant.
    pub(super) fn evidence(&self) -> f64 {
        let n = self.pulled.len();
        // The logarithm of a product of a few is a logarithm, not a few.
        let few =
            |k: usize| (k..n.min(k + 8)).map(|i| self.rows[i * (self.stride + 1)]).product::<f64>().ln();
        0.5 * inner(&self.pulled, &self.pulled) - (0..n).step_by(8).map(few).sum::<f64>()
    }

    /// The pair whose first unknown is at `at`.
    pub(super) fn pair(&self, at: usize) -> Pair {
        let n = self.pulled.len();
        let seen = [0, 1].map(|k| {
            let mut seen = vec![0.0; n - at];
            for i in k..n - at {
                let row = &self.rows[(at + i) * self.stride + at..][..=i];
                let unit = if i == k { 1.0 } else { 0.0 };
                seen[i] = (unit - inner(&row[..i], &seen[..i])) / row[i];
            }
            seen
        });
        let [a, b] = &seen;
        let pulled = &self.pulled[at..];
        let value = [inner(a, pulled), inner(b, pulled)];
        Pair { at, block: [inner(a, a), inner(a, b), inner(b, b)], value, seen }
    }

    /// What another pair in the place of `gone` would explain beside the rest: its information that is its own, and its pull. `with` gives its
    /// information with each unknown, `own` with itself.
    pub(super) fn instead(
        &self,
        gone: &Pair,
        with: [impl Fn(usize) -> f64; 2],
        own: Block,
        pull: [f64; 2],
    ) -> (Block, [f64; 2]) {
        let n = self.pulled.len();
        let is_gone = |i: usize| i == gone.at || i == gone.at + 1;
        let seen = with.map(|with| {
            let mut seen = vec![0.0; n];
            for i in 0..n {
                let row = &self.rows[i * self.stride..][..=i];
                let known = if is_gone(i) { 0.0 } else { with(i) };
                seen[i] = (known - inner(&row[..i], &seen[..i])) / row[i];
            }
            seen
        });
        // What the gone pair would have explained of it must not be taken out.
        let by_gone = seen.each_ref().map(|seen| gone.seen.each_ref().map(|g| inner(g, &seen[gone.at..])));
        let [p, q, r] = gone.block;
        let determinant = p * r - q * q;
        let back = |u: [f64; 2], v: [f64; 2]| {
            (r * u[0] * v[0] - q * (u[0] * v[1] + u[1] * v[0]) + p * u[1] * v[1]) / determinant
        };
        let left = |i: usize, j: usize| back(by_gone[i], by_gone[j]) - inner(&seen[i], &seen[j]);
        let pulled =
            [0, 1].map(|i: usize| pull[i] - inner(&seen[i], &self.pulled) + back(by_gone[i], gone.value));
        ([own[0] + left(0, 0), own[1] + left(0, 1), own[2] + left(1, 1)], pulled)
    }

    /// The solution, moved by `noise` in units of what is open about it.
    pub(super) fn solution(&self, mut noise: impl FnMut() -> f64) -> Vec<f64> {
        let n = self.pulled.len();
        let mut x: Vec<f64> = self.pulled.iter().map(|p| p + noise()).collect();
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

    /// Information and pull of `n` unknowns seen by twice as many readings.
    fn system(n: usize) -> (Vec<f64>, Vec<f64>) {
        let mut random = Random::new(5);
        let columns: Vec<Vec<f64>> = (0..n).map(|_| (0..2 * n).map(|_| random.normal()).collect()).collect();
        let a = (0..n * n).map(|k| inner(&columns[k / n], &columns[k % n])).collect();
        (a, (0..n).map(|_| random.normal()).collect())
    }

    /// The evidence of the unknowns of those indices by the plain factor of the plain matrix.
    fn plain(a: &[f64], pull: &[f64], n: usize, index: &[usize]) -> f64 {
        let m = index.len();
        let mut part: Vec<f64> = (0..m * m).map(|k| a[index[k / m] * n + index[k % m]]).collect();
        assert!(cholesky(&mut part, m));
        let own: Vec<f64> = index.iter().map(|i| pull[*i]).collect();
        let mut x = own.clone();
        solve(&part, m, &mut x);
        0.5 * inner(&own, &x) - (0..m).map(|i| part[i * (m + 1)].ln()).sum::<f64>()
    }

    #[test]
    fn growing_shrinking_and_exchanging_agree_with_the_factor_of_the_whole() {
        let n = 14;
        let (a, pull) = system(n);
        let mut factor = Factor::new(n);
        for i in 0..12 {
            assert!(factor.push(|j| a[i * n + j], a[i * (n + 1)], pull[i]));
        }
        let all: Vec<usize> = (0..12).collect();
        let evidence = factor.evidence();
        assert!((evidence - plain(&a, &pull, n, &all)).abs() < 1e-10);
        for at in [0, 4, 10] {
            let pair = factor.pair(at);
            let (explained, determinant) = weigh(pair.block, pair.value);
            let without: Vec<usize> = all.iter().copied().filter(|i| i / 2 != at / 2).collect();
            let expected = plain(&a, &pull, n, &without);
            let rest = evidence - 0.5 * explained - 0.5 * determinant.ln();
            assert!((rest - expected).abs() < 1e-10, "{rest} for {expected}");
            let own = [a[12 * n + 12], a[12 * n + 13], a[13 * n + 13]];
            let with = [12, 13].map(|new| {
                let a = &a;
                move |j: usize| a[new * n + j]
            });
            let (block, value) = factor.instead(&pair, with, own, [pull[12], pull[13]]);
            let (explained, determinant) = weigh(block, value);
            let with: Vec<usize> = without.iter().copied().chain([12, 13]).collect();
            let expected = plain(&a, &pull, n, &with);
            let found = rest + 0.5 * explained - 0.5 * determinant.ln();
            assert!((found - expected).abs() < 1e-10, "{found} for {expected}");
        }
        factor.truncate(6);
        assert!((factor.evidence() - plain(&a, &pull, n, &all[..6])).abs() < 1e-10);
        let x = factor.solution(|| 0.0);
        for i in 0..6 {
            let given: f64 = (0..6).map(|j| a[i * n + j] * x[j]).sum();
            assert!((given - pull[i]).abs() < 1e-10, "A x = b in row {i}");
        }
    }

    #[test]
    fn an_unknown_that_is_there_already_is_refused() {
        let mut factor = Factor::new(2);
        assert!(factor.push(|_| 0.0, 2.0, 1.0) && !factor.push(|_| 2.0, 2.0, 1.0));
    }
}
