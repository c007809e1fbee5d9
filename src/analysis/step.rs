//! A step of an integration: where it sets out, where it ends, and its course between.

use crate::numeric::Field;
use crate::system::System;

/// Where the integration stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Point<F = f64> {
    /// s
    pub t: F,
    /// Unknowns by index, ground first; V and A.
    pub x: Vec<F>,
    /// Nonlinear charges in C, carried and never reset to Q(x).
    pub q: Vec<F>,
    /// A·dq/dt by row in A; used by TR-BDF2.
    pub flow: Vec<F>,
}

/// A step that was tried: its end and its continuous extension
/// v(θ) = (1−θ)·v₀ + θ·(v₁ + (1−θ)·(b₀ + θ·b₁)).
#[derive(Clone, Debug)]
pub struct Step<F = f64> {
    /// Its end.
    pub end: Point<F>,
    /// b₀ of every unknown.
    pub bend0: Vec<F>,
    /// b₁ of every unknown.
    pub bend1: Vec<F>,
    /// Estimated error of every unknown,
    pub error: Vec<F>,
    /// and the largest of them against its tolerance.
    pub norm: F,
}

impl<F: Field> Step<F> {
    /// Room for a system's step.
    pub fn new(system: &System) -> Self {
        let (rows, zero) = (system.unknowns.len(), F::splat(0.0));
        let end = Point {
            t: zero,
            x: vec![zero; rows],
            q: vec![zero; system.law_charges()],
            flow: vec![zero; rows],
        };
        Self {
            end,
            bend0: vec![zero; rows],
            bend1: vec![zero; rows],
            error: vec![zero; rows],
            norm: zero,
        }
    }
}

/// An attempt that could not be finished; the step must be shorter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unfinished {
    /// The unknown that gave trouble.
    pub unknown: usize,
}
