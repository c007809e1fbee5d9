//! What an integrator asks of equations A·q' + f(x, t) = 0, q = Q(x): of one circuit, or of several variants
//! of it in lockstep.

use super::{Linearisation, Pieces, System};
use crate::numeric::Field;

/// Equations over numbers of one kind. Vectors are as those of [`System`].
pub(crate) trait Equations {
    /// Plain, or one a variant.
    type Number: Field;
    /// What its sources and loads follow between two corners.
    type Drives;

    /// Writes drive levels and time into z.
    fn set_time(&self, drives: &Self::Drives, t: Self::Number, z: &mut [Self::Number]);
    /// Writes the slopes in time of drives and of time itself into a vector like z.
    fn set_slopes(&self, drives: &Self::Drives, t: Self::Number, slopes: &mut [Self::Number]);
    /// f(x, t) and nonlinear Q(x) at z, as [`System::evaluate`].
    fn evaluate(&self, z: &[Self::Number], f: &mut [Self::Number], q: &mut [Self::Number]);
    /// f, Q and all their slopes at z, as [`System::linearise`].
    fn linearise(
        &self,
        z: &[Self::Number],
        slopes: &[Self::Number],
        into: &mut Linearisation<Self::Number>,
    );
    /// M·x by row, as [`System::linear_charges`].
    fn linear_charges(&self, z: &[Self::Number], rows: &mut [Self::Number]);
    /// Adds A·values of nonlinear charges to rows, as [`System::scatter_charges`].
    fn scatter_charges(&self, values: &[Self::Number], rows: &mut [Self::Number]);
    /// C·u of the nonlinear charges, as [`System::charge_slopes_times`].
    fn charge_slopes_times(
        &self,
        at: &Linearisation<Self::Number>,
        z: &[Self::Number],
        out: &mut [Self::Number],
    );
}

impl Equations for System {
    type Number = f64;
    type Drives = Pieces;

    #[inline]
    fn set_time(&self, pieces: &Pieces, t: f64, z: &mut [f64]) {
        System::set_time(self, pieces, t, z);
    }
    #[inline]
    fn set_slopes(&self, pieces: &Pieces, t: f64, slopes: &mut [f64]) {
        System::set_slopes(self, pieces, t, slopes);
    }
    #[inline]
    fn evaluate(&self, z: &[f64], f: &mut [f64], q: &mut [f64]) {
        System::evaluate(self, z, f, q);
    }
    #[inline]
    fn linearise(&self, z: &[f64], slopes: &[f64], into: &mut Linearisation) {
        System::linearise(self, z, slopes, into);
    }
    #[inline]
    fn linear_charges(&self, z: &[f64], rows: &mut [f64]) {
        System::linear_charges(self, z, rows);
    }
    #[inline]
    fn scatter_charges(&self, values: &[f64], rows: &mut [f64]) {
        System::scatter_charges(self, values, rows);
    }
    #[inline]
    fn charge_slopes_times(&self, at: &Linearisation, z: &[f64], out: &mut [f64]) {
        System::charge_slopes_times(self, at, z, out);
    }
}
