//! All nonlinear laws under one name, dispatched by one match instead of boxed traits.

use super::Law;
use crate::numeric::Scalar;

/// A first law to build the engine against: i = scale·tanh(u/width).
#[derive(Clone, Copy, Debug)]
pub struct Tanh<T> {
    /// A
    pub scale: T,
    /// V
    pub width: T,
}

impl<T: Scalar<Base = T>> Law<T, 1, 1, 0> for Tanh<T> {
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 1], [S; 0]) {
        ([S::lift(self.scale) * (u[0] / S::lift(self.width)).tanh()], [])
    }
}

/// Any nonlinear law.
#[derive(Clone, Debug)]
pub enum Nonlinear {
    /// Saturating conductance.
    Tanh(Tanh<f64>),
}

/// Something to do with a law whatever its kind.
pub trait Visitor {
    /// What it gives.
    type Output;
    /// Does it.
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Self::Output;
}

impl Nonlinear {
    /// Calls the visitor with the law inside.
    #[inline]
    pub fn visit<V: Visitor>(&self, visitor: V) -> V::Output {
        match self {
            Nonlinear::Tanh(law) => visitor.visit(law),
        }
    }
}

impl From<Tanh<f64>> for Nonlinear {
    fn from(law: Tanh<f64>) -> Self {
        Nonlinear::Tanh(law)
    }
}
