//! A compiled expression: a small stack program over any [`Scalar`].

use super::Dimension;
use crate::numeric::Scalar;

/// A compiled expression.
#[derive(Clone, Debug, PartialEq)]
pub struct Program {
    dimension: Dimension,
}

impl Program {
    /// Dimension of its result.
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }

    /// Its value, names read from `slots`.
    pub fn evaluate<S: Scalar>(&self, slots: &[S]) -> S {
        let _ = slots;
        S::splat(0.0)
    }
}
