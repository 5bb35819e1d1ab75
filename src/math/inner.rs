//! In: two rows of numbers. Out: the sum of their products.
//!
//! Eight independent partial sums: in a single sum each addition waits for the one before it, which takes most of the
//! time of a small factorisation.

/// Sum of the products of two rows, over the length of the shorter one.
#[inline]
pub(crate) fn inner(a: &[f64], b: &[f64]) -> f64 {
    const SIDE: usize = 8;
    let n = a.len().min(b.len());
    let (a, b) = (&a[..n], &b[..n]);
    let (a8, b8) = (a.chunks_exact(SIDE), b.chunks_exact(SIDE));
    let rest: f64 = a8.remainder().iter().zip(b8.remainder()).map(|(x, y)| x * y).sum();
    let mut sums = [0.0; SIDE];
    for (x, y) in a8.zip(b8) {
        for k in 0..SIDE {
            sums[k] += x[k] * y[k];
        }
    }
    let [a, b, c, d, e, f, g, h] = sums;
    ((a + e) + (b + f)) + ((c + g) + (d + h)) + rest
}

#[cfg(test)]
mod tests {
    use super::inner;

    #[test]
    fn whole_numbers_give_the_sum_of_squares_for_any_length() {
        // Sum of the first n squares: n (n + 1) (2 n + 1) / 6.
        for n in 0..40_u32 {
            let a: Vec<f64> = (1..=n).map(f64::from).collect();
            assert_eq!(inner(&a, &a), f64::from(n * (n + 1) * (2 * n + 1)) / 6.0);
        }
        assert_eq!(inner(&[1.0, 2.0, 3.0], &[4.0]), 4.0);
    }
}
