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

    /// Magnitude by which pivots are compared; the smallest over the lanes where there are lanes.
    fn pivot_size(self) -> f64;
}

impl Field for f64 {
    fn splat(x: f64) -> Self {
        x
    }

    fn pivot_size(self) -> f64 {
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
}
