//! What device laws need of a number.

use super::{Field, elementary};

/// A number that device laws are written over.
///
/// Laws must not branch on a value: they build a mask with [`Scalar::less`] and choose with
/// [`Scalar::select`], so that both sides are always computed and must stay finite.
pub trait Scalar: Field {
    /// The plain number behind a parameter of a device: `f64`, or lanes of it.
    type Base: Scalar<Base = Self::Base>;
    /// The outcome of a comparison, one bit a lane.
    type Mask: Copy;

    /// A parameter as a constant (no slope).
    fn lift(parameter: Self::Base) -> Self;
    /// `self < other`.
    fn less(self, other: Self) -> Self::Mask;
    /// `a` where the mask holds, else `b`.
    fn select(mask: Self::Mask, a: Self, b: Self) -> Self;
    /// e^x; the caller bounds the argument.
    fn exp(self) -> Self;
    /// e^x of something that fades out and is read beside other things: nothing where it has faded to
    /// below 1e-26.
    fn fading(self) -> Self;
    /// Natural logarithm.
    fn ln(self) -> Self;
    /// ln(1 + x).
    fn ln_1p(self) -> Self;
    /// Hyperbolic tangent.
    fn tanh(self) -> Self;
    /// Square root.
    fn sqrt(self) -> Self;
    /// x to a constant power; the caller keeps x above zero.
    fn power(self, exponent: f64) -> Self;
    /// Sine of an angle in radians.
    fn sin(self) -> Self;
    /// Cosine of an angle in radians.
    fn cos(self) -> Self;

    /// The smaller of two.
    fn minimum(self, other: Self) -> Self {
        Self::select(self.less(other), self, other)
    }

    /// The larger of two.
    fn maximum(self, other: Self) -> Self {
        Self::select(other.less(self), self, other)
    }

    /// |x|.
    fn absolute(self) -> Self {
        self.maximum(-self)
    }

    /// x² without a call.
    fn squared(self) -> Self {
        self * self
    }
}

impl Scalar for f64 {
    type Base = f64;
    type Mask = bool;

    fn lift(parameter: f64) -> f64 {
        parameter
    }
    fn less(self, other: f64) -> bool {
        self < other
    }
    fn select(mask: bool, a: f64, b: f64) -> f64 {
        if mask { a } else { b }
    }
    #[inline]
    fn exp(self) -> f64 {
        elementary::exp(self)
    }
    fn fading(self) -> f64 {
        elementary::fading(self)
    }
    fn ln(self) -> f64 {
        elementary::ln(self)
    }
    fn ln_1p(self) -> f64 {
        elementary::ln_1p(self)
    }
    fn tanh(self) -> f64 {
        elementary::tanh(self)
    }
    fn sqrt(self) -> f64 {
        self.sqrt()
    }
    fn power(self, exponent: f64) -> f64 {
        self.powf(exponent)
    }
    fn sin(self) -> f64 {
        self.sin()
    }
    fn cos(self) -> f64 {
        self.cos()
    }
}
