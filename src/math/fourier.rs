//! In: real samples, a power of two. Out: the magnitude of their discrete Fourier transform up to half the rate.
//!
//! The transform is that of `realfft` without its processor-specific code, so that the same log gives the same digits
//! on every machine.

use realfft::RealFftPlanner;
use std::cell::RefCell;

thread_local! {
    /// Computing the plan takes longer than one transform.
    static PLANNER: RefCell<RealFftPlanner<f64>> = RefCell::new(RealFftPlanner::new());
}

/// Magnitudes at the frequencies 0 to half the rate of the samples, padded with zeros to `n`, a power of two at least
/// their number.
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
}
