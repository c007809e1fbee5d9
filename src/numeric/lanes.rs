//! Several real numbers in lockstep, one of each variant of a circuit.
//!
//! Sums, products and quotients lane by lane, nothing fused: each lane has the bits it would have
//! alone.

// Measured: a call for each operation would cost more than the operation.
#![allow(clippy::inline_always)]

use super::Field;
use std::array;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// How many: one of a processor's widest registers in common use. Eight walk the same streams of indices for
/// twice as much, but what they work on outgrows the first level of the cache: measured a tenth slower.
pub const LANES: usize = 4;

/// One number a variant.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(align(32))]
pub struct Lanes(pub [f64; LANES]);

/// Operations between two of them.
macro_rules! between {
    ($($trait:ident $operation:ident $sign:tt),*) => { $(
        impl $trait for Lanes {
            type Output = Self;
            #[inline(always)]
            fn $operation(self, o: Self) -> Self {
                Self(array::from_fn(|k| self.0[k] $sign o.0[k]))
            }
        }
    )* };
}

between!(Add add +, Sub sub -, Mul mul *, Div div /);

impl Neg for Lanes {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self(self.0.map(|x| -x))
    }
}

impl AddAssign for Lanes {
    #[inline(always)]
    fn add_assign(&mut self, o: Self) {
        *self = *self + o;
    }
}

impl SubAssign for Lanes {
    #[inline(always)]
    fn sub_assign(&mut self, o: Self) {
        *self = *self - o;
    }
}

impl Field for Lanes {
    #[inline(always)]
    fn splat(x: f64) -> Self {
        Self([x; LANES])
    }

    #[inline(always)]
    fn pivot_size(self) -> f64 {
        self.0.iter().fold(0.0, |largest, x| if x.abs() > largest { x.abs() } else { largest })
    }

    #[inline(always)]
    fn size(self) -> Self {
        Self(self.0.map(f64::abs))
    }

    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        Self(array::from_fn(|k| if self.0[k] > other.0[k] { self.0[k] } else { other.0[k] }))
    }

    /// A lane whose pivot is of no use ends with no number, or with a residual, and is solved alone.
    #[inline(always)]
    fn inverse(self) -> Option<Self> {
        Some(Self::splat(1.0) / self)
    }
}
