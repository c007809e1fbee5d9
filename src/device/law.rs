//! The form every nonlinear law takes: currents and charges as functions of a few inputs.

use super::Noise;
use crate::numeric::Scalar;

/// The most inputs, output currents and charges any law has.
pub const MOST_INPUTS: usize = 6;

/// Currents and charges of one element over its inputs.
///
/// `N` inputs (voltages between two unknowns, a drive level, or time), `M` currents, `K` charges.
/// Written once over any [`Scalar`]; dual numbers give the Jacobian. Laws never branch on a value
/// and stay finite for every finite input.
pub trait Law<T: Scalar<Base = T>, const N: usize, const M: usize, const K: usize> {
    /// Currents in A (each flows out of its `from` pin, through the element, into its `to` pin)
    /// and charges in C (each sits on its `from` pin, its opposite on its `to` pin).
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; N]) -> ([S; M], [S; K]);

    /// Shortens a Newton step from `previous` to `proposed` where the law is steep (junctions), so
    /// that the exponential is not linearised far from where it holds. Leaves others alone.
    fn limit(&self, previous: &[f64; N], proposed: &mut [f64; N]) {
        let _ = (previous, proposed);
    }

    /// Where the element works, in the trade's words ("saturated", "off"), or nothing to say.
    fn region(&self, u: &[f64; N]) -> Option<&'static str> {
        let _ = u;
        None
    }

    /// Noise of each current (of a law that is read as a voltage: of that voltage) at these inputs.
    /// Sources of different currents have nothing to do with each other. None unless it is said.
    fn noise(&self, u: &[T; N]) -> [Noise<T>; M] {
        let _ = u;
        [Noise::none(); M]
    }

    /// For each current, whether it is carried by a conductance between its own two pins (so that
    /// it ties their voltages together), as opposed to a current forced by something else.
    fn resistive(&self) -> [bool; M] {
        [true; M]
    }
}
