//! A number whose functions never branch: a loop over the variants of a circuit that is written with it
//! is straight code, which compilers turn into code for several variants at once.
//!
//! Every result has the bits of the plain number's: a variant comes out the same in company as alone.

// Measured: what is not made part of the loop ends its being done several at once.
#![allow(clippy::inline_always)]

use super::{Field, Scalar, elementary};
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A plain number, see above.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Straight(pub f64);

/// Operations between two of them.
macro_rules! between {
    ($($trait:ident $operation:ident $sign:tt),*) => { $(
        impl $trait for Straight {
            type Output = Self;
            #[inline(always)]
            fn $operation(self, o: Self) -> Self {
                Self(self.0 $sign o.0)
            }
        }
    )* };
}

between!(Add add +, Sub sub -, Mul mul *, Div div /);

impl Neg for Straight {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Field for Straight {
    #[inline(always)]
    fn splat(x: f64) -> Self {
        Self(x)
    }
    #[inline(always)]
    fn pivot_size(self) -> f64 {
        self.0.abs()
    }
    #[inline(always)]
    fn size(self) -> Self {
        Self(self.0.abs())
    }
}

impl Scalar for Straight {
    type Base = f64;
    type Mask = bool;

    #[inline(always)]
    fn lift(parameter: f64) -> Self {
        Self(parameter)
    }
    #[inline(always)]
    fn less(self, other: Self) -> bool {
        self.0 < other.0
    }
    #[inline(always)]
    fn select(mask: bool, a: Self, b: Self) -> Self {
        Self(if mask { a.0 } else { b.0 })
    }
    #[inline(always)]
    fn exp(self) -> Self {
        Self(elementary::exp(self.0))
    }
    #[inline(always)]
    fn fading(self) -> Self {
        Self(elementary::fading_straight(self.0))
    }
    #[inline(always)]
    fn ln(self) -> Self {
        Self(elementary::ln(self.0))
    }
    #[inline(always)]
    fn ln_1p(self) -> Self {
        Self(elementary::ln_1p_straight(self.0))
    }
    #[inline(always)]
    fn tanh(self) -> Self {
        Self(elementary::tanh_straight(self.0))
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        Self(self.0.sqrt())
    }
    #[inline(always)]
    fn power(self, exponent: f64) -> Self {
        Self(Scalar::power(self.0, exponent))
    }
    #[inline(always)]
    fn sin(self) -> Self {
        Self(Scalar::sin(self.0))
    }
    #[inline(always)]
    fn cos(self) -> Self {
        Self(Scalar::cos(self.0))
    }
}
