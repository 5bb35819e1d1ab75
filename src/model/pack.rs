//! Several numbers of one meaning, on which the processor works at once.

use std::ops::{Add, AddAssign, Mul, Sub, SubAssign};

/// One value per set of parameters, or per curve.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(align(16))]
pub(crate) struct Pack<const K: usize>(pub [f64; K]);

impl<const K: usize> Pack<K> {
    pub(crate) const ZERO: Self = Self([0.0; K]);

    pub(crate) fn all(value: f64) -> Self {
        Self([value; K])
    }

    pub(crate) fn of(value: impl FnMut(usize) -> f64) -> Self {
        Self(std::array::from_fn(value))
    }

    pub(crate) fn recip(self) -> Self {
        Self(self.0.map(f64::recip))
    }
}

macro_rules! by_value {
    ($($trait:ident $name:ident $op:tt),*) => {$(
        impl<const K: usize> $trait for Pack<K> {
            type Output = Self;
            #[inline(always)]
            fn $name(mut self, other: Self) -> Self {
                for k in 0..K {
                    self.0[k] $op other.0[k];
                }
                self
            }
        }
    )*};
}

by_value!(Add add +=, Sub sub -=, Mul mul *=);

impl<const K: usize> AddAssign for Pack<K> {
    #[inline(always)]
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl<const K: usize> SubAssign for Pack<K> {
    #[inline(always)]
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl<const K: usize> Mul<f64> for Pack<K> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, by: f64) -> Self {
        self * Self::all(by)
    }
}
