//! Dual numbers: a value with its slopes to N inputs, so that a law written once yields its
//! exact Jacobian. Own code because ready-made crates tie the value to `f64` and shut lanes out.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::{Field, Scalar};
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A value and its partial derivatives to `N` inputs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dual<T, const N: usize> {
    /// The value.
    pub value: T,
    /// Its slope to each input.
    pub slope: [T; N],
}

impl<T: Field, const N: usize> Dual<T, N> {
    /// A constant.
    pub fn constant(value: T) -> Self {
        Self { value, slope: [T::splat(0.0); N] }
    }

    /// The inputs `values`, each with slope 1 to itself.
    pub fn inputs(values: [T; N]) -> [Self; N] {
        let mut k = 0;
        values.map(|value| {
            let mut x = Self::constant(value);
            x.slope[k] = T::splat(1.0);
            k += 1;
            x
        })
    }

    /// f(self) given f's value and its derivative there.
    #[inline(always)]
    fn chain(self, value: T, derivative: T) -> Self {
        Self { value, slope: self.slope.map(|s| derivative * s) }
    }
}

/// Combines slopes pairwise.
#[inline(always)]
fn zip<T: Copy, const N: usize>(a: [T; N], b: [T; N], f: impl Fn(T, T) -> T) -> [T; N] {
    std::array::from_fn(|k| f(a[k], b[k]))
}

impl<T: Field, const N: usize> Add for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn add(self, o: Self) -> Self {
        Self { value: self.value + o.value, slope: zip(self.slope, o.slope, |a, b| a + b) }
    }
}

impl<T: Field, const N: usize> Sub for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, o: Self) -> Self {
        Self { value: self.value - o.value, slope: zip(self.slope, o.slope, |a, b| a - b) }
    }
}

impl<T: Field, const N: usize> Mul for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    #[allow(clippy::suspicious_arithmetic_impl)] // the product rule adds
    fn mul(self, o: Self) -> Self {
        let slope = zip(self.slope, o.slope, |a, b| a * o.value + self.value * b);
        Self { value: self.value * o.value, slope }
    }
}

impl<T: Field, const N: usize> Div for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn div(self, o: Self) -> Self {
        let inverse = T::splat(1.0) / o.value;
        let value = self.value * inverse;
        Self { value, slope: zip(self.slope, o.slope, |a, b| (a - value * b) * inverse) }
    }
}

impl<T: Field, const N: usize> Neg for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self { value: -self.value, slope: self.slope.map(|s| -s) }
    }
}

impl<T: Field, const N: usize> Field for Dual<T, N> {
    fn splat(x: f64) -> Self {
        Self::constant(T::splat(x))
    }
    fn pivot_size(self) -> f64 {
        self.value.pivot_size()
    }
    fn size(self) -> Self {
        Self::constant(self.value.size())
    }
}

impl<T: Scalar, const N: usize> Scalar for Dual<T, N> {
    type Base = T::Base;
    type Mask = T::Mask;

    #[inline(always)]
    fn lift(parameter: T::Base) -> Self {
        Self::constant(T::lift(parameter))
    }
    #[inline(always)]
    fn less(self, o: Self) -> T::Mask {
        self.value.less(o.value)
    }
    #[inline(always)]
    fn select(mask: T::Mask, a: Self, b: Self) -> Self {
        Self {
            value: T::select(mask, a.value, b.value),
            slope: zip(a.slope, b.slope, |a, b| T::select(mask, a, b)),
        }
    }
    #[inline(always)]
    fn exp(self) -> Self {
        let e = self.value.exp();
        self.chain(e, e)
    }
    #[inline(always)]
    fn fading(self) -> Self {
        let e = self.value.fading();
        self.chain(e, e)
    }
    #[inline(always)]
    fn ln(self) -> Self {
        self.chain(self.value.ln(), T::splat(1.0) / self.value)
    }
    #[inline(always)]
    fn ln_1p(self) -> Self {
        self.chain(self.value.ln_1p(), T::splat(1.0) / (T::splat(1.0) + self.value))
    }
    #[inline(always)]
    fn tanh(self) -> Self {
        let y = self.value.tanh();
        self.chain(y, T::splat(1.0) - y * y)
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        let y = self.value.sqrt();
        self.chain(y, T::splat(0.5) / y)
    }
    #[inline(always)]
    fn power(self, exponent: f64) -> Self {
        let y = self.value.power(exponent);
        self.chain(y, T::splat(exponent) * y / self.value)
    }
    #[inline(always)]
    fn sin(self) -> Self {
        self.chain(self.value.sin(), self.value.cos())
    }
    #[inline(always)]
    fn cos(self) -> Self {
        self.chain(self.value.cos(), -self.value.sin())
    }
}
