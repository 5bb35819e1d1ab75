//! In: a small symmetric matrix, row after row in one slice. Out: its Cholesky factor, solutions and inverse.
//!
//! Golub and Van Loan, Matrix Computations, section 4.2. For the tens of unknowns of a fit, not for large systems.

use crate::math::inner::inner;

/// Replaces the lower triangle of the `n` by `n` matrix `a` by its Cholesky factor. The upper triangle is never read.
///
/// False if the matrix is not positive definite to working precision, or holds a NaN; `a` is then of no use.
#[must_use]
pub(crate) fn cholesky(a: &mut [f64], n: usize) -> bool {
    for i in 0..n {
        for j in 0..i {
            let known = inner(&a[i * n..i * n + j], &a[j * n..j * n + j]);
            a[i * n + j] = (a[i * n + j] - known) / a[j * n + j];
        }
        let row = &a[i * n..i * n + i];
        let (diagonal, known) = (a[i * n + i], inner(row, row));
        let pivot = diagonal - known;
        // A pivot of the size of the rounding error is zero: its inverse would be noise.
        if !(pivot > n as f64 * f64::EPSILON * diagonal && pivot.is_finite()) {
            return false;
        }
        a[i * n + i] = pivot.sqrt();
    }
    true
}

/// Solves `A x = b` in place, given the factor `l` of `A` from [`cholesky`].
pub(crate) fn solve(l: &[f64], n: usize, b: &mut [f64]) {
    for i in 0..n {
        b[i] = (b[i] - inner(&l[i * n..i * n + i], &b[..i])) / l[i * n + i];
    }
    for i in (0..n).rev() {
        let tail: f64 = (i + 1..n).map(|k| l[k * n + i] * b[k]).sum();
        b[i] = (b[i] - tail) / l[i * n + i];
    }
}

/// Inverse of `A`, given its factor `l` from [`cholesky`]: the whole matrix, row after row.
pub(crate) fn inverse(l: &[f64], n: usize) -> Vec<f64> {
    let mut inverse = vec![0.0; n * n];
    for i in 0..n {
        // Before the diagonal it is zero in the forward pass and unused in the backward pass: the inverse is symmetric.
        let row = &mut inverse[i * n..(i + 1) * n];
        row[i] = 1.0;
        for j in i..n {
            row[j] = (row[j] - inner(&l[j * n + i..j * n + j], &row[i..j])) / l[j * n + j];
        }
        for j in (i..n).rev() {
            row[j] /= l[j * n + j];
            let found = row[j];
            row[i..j].iter_mut().zip(&l[j * n + i..j * n + j]).for_each(|(b, l)| *b -= l * found);
        }
        for j in i + 1..n {
            inverse[j * n + i] = inverse[i * n + j];
        }
    }
    inverse
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hilbert matrix of order 3, whose inverse is integer; the product is the identity in exact fractions.
    const HILBERT: [f64; 9] =
        [1.0, 1.0 / 2.0, 1.0 / 3.0, 1.0 / 2.0, 1.0 / 3.0, 1.0 / 4.0, 1.0 / 3.0, 1.0 / 4.0, 1.0 / 5.0];
    const HILBERT_INVERSE: [f64; 9] = [9.0, -36.0, 30.0, -36.0, 192.0, -180.0, 30.0, -180.0, 180.0];

    #[test]
    fn the_inverse_of_the_hilbert_matrix_is_the_published_one() {
        let mut l = HILBERT;
        assert!(cholesky(&mut l, 3));
        for (found, published) in inverse(&l, 3).iter().zip(HILBERT_INVERSE) {
            // The condition number is 524, so 1e-12 of the largest entry is a few hundred roundings.
            assert!((found - published).abs() < 192.0 * 1e-12, "{found} for {published}");
        }
    }

    #[test]
    fn the_factor_of_a_whole_number_matrix_is_whole() {
        // Worked example in common use in textbooks; the product is checked by hand.
        let mut a = [4.0, 12.0, -16.0, 12.0, 37.0, -43.0, -16.0, -43.0, 98.0];
        assert!(cholesky(&mut a, 3));
        for (at, whole) in [(0, 2.0), (3, 6.0), (4, 1.0), (6, -8.0), (7, 5.0), (8, 3.0)] {
            assert_eq!(a[at], whole);
        }
    }

    #[test]
    fn a_solution_gives_the_right_side_back() {
        let mut l = HILBERT;
        assert!(cholesky(&mut l, 3));
        // Columns of the published inverse: A x = (1, 2, 3) has x = inverse (1, 2, 3) = (27, -192, 210).
        let mut b = [1.0, 2.0, 3.0];
        solve(&l, 3, &mut b);
        for (found, exact) in b.iter().zip([27.0, -192.0, 210.0]) {
            assert!((found - exact).abs() < 210.0 * 1e-12, "{found} for {exact}");
        }
    }

    #[test]
    fn the_upper_triangle_is_not_read() {
        let mut a = [4.0, f64::NAN, 2.0, 3.0];
        assert!(cholesky(&mut a, 2));
        let mut b = [8.0, 7.0];
        solve(&a, 2, &mut b);
        assert!((b[0] - 1.25).abs() < 1e-15 && (b[1] - 1.5).abs() < 1e-15, "{b:?}");
    }

    #[test]
    fn a_matrix_that_is_not_positive_definite_is_refused() {
        assert!(!cholesky(&mut [1.0, 2.0, 2.0, 1.0], 2), "indefinite");
        assert!(!cholesky(&mut [-1.0], 1), "negative");
        assert!(!cholesky(&mut [0.0], 1), "zero");
        assert!(!cholesky(&mut [f64::NAN], 1), "not a number");
        assert!(!cholesky(&mut [f64::INFINITY], 1), "infinite");
        // Two rows that are equal up to rounding: 0.1 + 0.2 is not 0.3.
        let (p, q) = (0.1 + 0.2, 0.3);
        assert!(!cholesky(&mut [p * p, p * q, p * q, q * q], 2), "singular to working precision");
    }

    #[test]
    fn nothing_is_solved_for_no_unknowns() {
        assert!(cholesky(&mut [], 0));
        assert!(inverse(&[], 0).is_empty());
    }
}
