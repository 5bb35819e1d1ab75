//! In: real samples. Out: magnitude or power of their discrete Fourier transform up to half the rate.
//!
//! The transform is that of `realfft` without its processor-specific code, so that the same log gives the same digits
//! on every machine.

use realfft::RealFftPlanner;
use std::cell::RefCell;

thread_local! {
    /// Computing the plan takes longer than one transform.
    static PLANNER: RefCell<RealFftPlanner<f64>> = RefCell::new(RealFftPlanner::new());
}

/// Magnitudes at the frequencies 0 to half the rate of the samples, padded with zeros to `n`, at least their number.
pub(crate) fn magnitudes(samples: &[f64], n: usize) -> Vec<f64> {
    let transform = PLANNER.with_borrow_mut(|planner| planner.plan_fft_forward(n));
    let (mut input, mut output) = (transform.make_input_vec(), transform.make_output_vec());
    input[..samples.len()].copy_from_slice(samples);
    // Only wrong lengths are an error, and these are its own.
    if transform.process(&mut input, &mut output).is_err() {
        return Vec::new();
    }
    output.iter().map(|z| z.norm_sqr().sqrt()).collect()
}

/// Power at each frequency from 0 to half the rate: the part of the mean square of the samples. The sum of all is that
/// mean square (Parseval's theorem).
pub(crate) fn power(samples: &[f64]) -> Vec<f64> {
    let n = samples.len();
    if n == 0 {
        return Vec::new();
    }
    let square = ((n * n) as f64).recip();
    let both_sides = |k: usize| if k == 0 || 2 * k == n { 1.0 } else { 2.0 };
    magnitudes(samples, n).iter().enumerate().map(|(k, m)| both_sides(k) * m * m * square).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

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

    #[test]
    fn the_powers_add_up_to_the_mean_square_for_any_number_of_samples() {
        // Parseval's theorem; a sine of amplitude 3 over 2 of 7 periods has the power 9/2 at 2, by hand.
        for n in [1, 2, 6, 7, 64, 331] {
            let x: Vec<f64> = (0..n).map(|k| ((k * k) as f64).sin() + 0.3).collect();
            let square = x.iter().map(|x| x * x).sum::<f64>() / n as f64;
            assert!((power(&x).iter().sum::<f64>() / square - 1.0).abs() < 1e-12, "{n}");
        }
        let x: Vec<f64> = (0..7).map(|k| 3.0 * (TAU * 2.0 * f64::from(k) / 7.0 + 0.4).sin()).collect();
        assert!((power(&x)[2] - 4.5).abs() < 1e-12);
        assert!(power(&[]).is_empty());
    }
}
