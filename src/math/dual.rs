//! In: the inputs of a formula. Out: its value, and its slope in every input.
//!
//! Method: forward differentiation with dual numbers, so that a formula is written once and its slopes are exact
//! (Griewank and Walther 2008, Evaluating Derivatives, chapter 3).

use std::ops::{Add, Div, Mul, Sub};

/// A number with its partial derivatives in `N` inputs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Dual<const N: usize> {
    pub value: f64,
    pub slope: [f64; N],
}

impl<const N: usize> Dual<N> {
    /// A number that depends on no input.
    pub(crate) fn constant(value: f64) -> Self {
        Self { value, slope: [0.0; N] }
    }

    /// The input in that place.
    pub(crate) fn input(value: f64, place: usize) -> Self {
        Self { value, slope: std::array::from_fn(|i| f64::from(u8::from(i == place))) }
    }

    /// Sd to first order, if the inputs are independent and have these sd.
    pub(crate) fn sd(&self, sd: [f64; N]) -> f64 {
        self.slope.iter().zip(sd).fold(0.0, |sum, (slope, sd)| f64::hypot(sum, slope * sd))
    }

    /// A multiple of it.
    pub(crate) fn times(self, factor: f64) -> Self {
        Self { value: factor * self.value, slope: self.slope.map(|by| factor * by) }
    }

    /// A power of it.
    pub(crate) fn power(self, exponent: f64) -> Self {
        let slope = exponent * self.value.powf(exponent - 1.0);
        Self { value: self.value.powf(exponent), slope: self.slope.map(|by| by * slope) }
    }

    fn joined(value: f64, a: Self, by_a: f64, b: Self, by_b: f64) -> Self {
        Self { value, slope: std::array::from_fn(|i| by_a * a.slope[i] + by_b * b.slope[i]) }
    }
}

impl<const N: usize> Add for Dual<N> {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::joined(self.value + other.value, self, 1.0, other, 1.0)
    }
}

impl<const N: usize> Sub for Dual<N> {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::joined(self.value - other.value, self, 1.0, other, -1.0)
    }
}

impl<const N: usize> Mul for Dual<N> {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self::joined(self.value * other.value, self, other.value, other, self.value)
    }
}

impl<const N: usize> Div for Dual<N> {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let value = self.value / other.value;
        Self::joined(value, self, 1.0 / other.value, other, -value / other.value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_are_those_of_calculus() {
        // x y / (x + y) - 3 has the slopes (y/(x + y))^2 and (x/(x + y))^2, by hand.
        let (x, y) = (Dual::<2>::input(2.0, 0), Dual::input(3.0, 1));
        let found = x * y / (x + y) - Dual::constant(3.0);
        assert!((found.value + 1.8).abs() < 1e-15);
        assert!((found.slope[0] - 0.36).abs() < 1e-15 && (found.slope[1] - 0.16).abs() < 1e-15);
    }

    #[test]
    fn the_slope_of_a_power_is_that_of_calculus() {
        // (x y)^(1/2) at (2, 8) is 4, with the slopes y/(2 * 4) and x/(2 * 4).
        let found = (Dual::<2>::input(2.0, 0) * Dual::input(8.0, 1)).power(0.5);
        assert!((found.value - 4.0).abs() < 1e-15);
        assert!((found.slope[0] - 1.0).abs() < 1e-15 && (found.slope[1] - 0.25).abs() < 1e-15);
    }

    #[test]
    fn an_input_that_stands_twice_counts_once() {
        // The sd of x - x is 0; x/(x + 1) at x = 1 has the slope 1/4.
        let x = Dual::<1>::input(1.0, 0);
        assert_eq!((x - x).sd([0.2]), 0.0);
        assert!(((x / (x + Dual::constant(1.0))).sd([0.2]) - 0.05).abs() < 1e-15);
    }
}
