//! What linear algebra needs of a number.

use nalgebra::Complex;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A number that can be eliminated with: real, complex, or several reals in lockstep.
pub trait Field:
    Copy
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
{
    /// The constant `x` in this field.
    fn splat(x: f64) -> Self;

    /// Magnitude by which pivots are compared; the largest over the lanes where there are lanes.
    fn pivot_size(self) -> f64;

    /// That magnitude as a number of this field, of each lane its own where there are lanes.
    fn size(self) -> Self;

    /// The larger of two magnitudes, lane by lane; `other` where one is no number.
    #[inline]
    fn larger(self, other: Self) -> Self {
        if self.pivot_size() > other.pivot_size() { self } else { other }
    }

    /// 1/self, unless that is no number or none to working precision; in lockstep always, for what a
    /// lane makes of it shows in its own solution.
    #[inline]
    fn inverse(self) -> Option<Self> {
        let inverse = Self::splat(1.0) / self;
        let size = inverse.pivot_size();
        (self.pivot_size() > 0.0 && size > 0.0 && size < f64::INFINITY).then_some(inverse)
    }
}

impl Field for f64 {
    fn splat(x: f64) -> Self {
        x
    }

    #[inline]
    fn pivot_size(self) -> f64 {
        self.abs()
    }

    #[inline]
    fn size(self) -> Self {
        self.abs()
    }
}

impl Field for Complex<f64> {
    fn splat(x: f64) -> Self {
        Complex::new(x, 0.0)
    }

    /// |re| + |im|: within √2 of the modulus and free of the square root.
    fn pivot_size(self) -> f64 {
        self.re.abs() + self.im.abs()
    }

    fn size(self) -> Self {
        Complex::new(self.pivot_size(), 0.0)
    }
}
