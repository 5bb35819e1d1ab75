//! In: real samples, a power of two. Out: the magnitude of their discrete Fourier transform up to half the rate.
//!
//! Radix-2 decimation in time (Cooley and Tukey 1965, Math. Comput. 19, 297). A few thousand points a pour: no library is needed.

use std::f64::consts::TAU;

/// Magnitudes at the frequencies 0 to half the rate of the samples, padded with zeros to `n`, a power of two at least their number.
pub(crate) fn magnitudes(samples: &[f64], n: usize) -> Vec<f64> {
    let bits = n.trailing_zeros();
    let mut re = vec![0.0; n];
    for (k, x) in samples.iter().enumerate() {
        re[k.reverse_bits() >> (usize::BITS - bits)] = *x;
    }
    let mut im = vec![0.0; n];
    let turn: Vec<(f64, f64)> = (0..n / 2).map(|k| (-TAU * k as f64 / n as f64).sin_cos()).collect();
    let mut half = 1;
    while half < n {
        let stride = n / (2 * half);
        for block in (0..n).step_by(2 * half) {
            for k in 0..half {
                let (sin, cos) = turn[k * stride];
                let (i, j) = (block + k, block + k + half);
                let (x, y) = (re[j] * cos - im[j] * sin, re[j] * sin + im[j] * cos);
                (re[j], im[j]) = (re[i] - x, im[i] - y);
                (re[i], im[i]) = (re[i] + x, im[i] + y);
            }
        }
        half *= 2;
    }
    re.iter().zip(&im).take(n / 2 + 1).map(|(a, b)| a.hypot(*b)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_transform_is_the_sum_that_defines_it() {
        let x = [1.0, -2.0, 0.5, 3.0, 7.0, -1.0];
        for (k, found) in magnitudes(&x, 16).iter().enumerate() {
            let sum = |part: fn(f64) -> f64| {
                x.iter().enumerate().map(|(i, x)| x * part(TAU * (i * k) as f64 / 16.0)).sum::<f64>()
            };
            assert!((found - sum(f64::cos).hypot(sum(f64::sin))).abs() < 1e-12);
        }
    }
}
