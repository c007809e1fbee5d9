//! One step along the curve of all solutions over the conductance of an anchor.

use super::newton::{Damping, Held, Newton, is_close};
use crate::system::System;

/// A correction ends within this share of the step, or so many tolerances of an iteration: the curve is only a
/// way, and where it turns sharply rounding alone moves a point along it.
const NEAR: f64 = 1e-3;
const TOLERANCES: f64 = 1e3;

/// A point of the curve.
#[derive(Clone, Debug)]
pub(crate) struct Curve {
    /// The extended vector.
    pub(crate) z: Vec<f64>,
    /// ln of the conductance from every node to ground in S.
    pub(crate) siemens_ln: f64,
    /// Direction along the curve by unknown, empty before the first step, …
    pub(crate) tangent: Vec<f64>,
    /// … and of the conductance's logarithm; before the first step its sign alone counts.
    pub(crate) towards: f64,
}

impl Newton {
    /// The point of the curve a `step` further, and how many corrections it took.
    pub(crate) fn follow_curve(
        &mut self,
        system: &System,
        held: &Held<'_>,
        from: &Curve,
        step: f64,
        most_corrections: usize,
    ) -> Option<(Curve, usize)> {
        let (tangent, towards) = self.tangent(system, held, from)?;
        let rows = system.unknowns.len();
        let mut z = from.z.clone();
        z.iter_mut().zip(&tangent).for_each(|(x, along)| *x += step * along);
        let mut siemens_ln = from.siemens_ln + step * towards;
        for correction in 1..=most_corrections {
            let by = self.anchored(system, held, &z, siemens_ln)?;
            let mut back: Vec<f64> = self.at.f[..rows].iter().map(|f| -f).collect();
            back[0] = 0.0;
            self.solver.solve_checked(&mut back[1..]).ok()?;
            let moved: Vec<f64> = z.iter().zip(&from.z).map(|(x, start)| x - start).collect();
            let gone = dot(system, &tangent, &moved) + towards * (siemens_ln - from.siemens_ln);
            let ahead = step - gone - dot(system, &tangent, &back);
            let change_ln = ahead / (towards + dot(system, &tangent, &by));
            back.iter_mut().zip(&by).for_each(|(back, by)| *back += change_ln * by);
            if !change_ln.is_finite() || back.iter().any(|change| !change.is_finite()) {
                return None;
            }
            z.iter_mut().zip(&back).for_each(|(x, change)| *x += change);
            siemens_ln += change_ln;
            let corrected = dot(system, &back, &back).sqrt() + change_ln.abs();
            if corrected <= NEAR * step || is_close(system, &z, &back, TOLERANCES) {
                return Some((Curve { z, siemens_ln, tangent, towards }, correction));
            }
        }
        None
    }

    /// Along the curve at a point, of length 1, the way it was followed so far.
    fn tangent(&mut self, system: &System, held: &Held<'_>, at: &Curve) -> Option<(Vec<f64>, f64)> {
        let by = self.anchored(system, held, &at.z, at.siemens_ln)?;
        let onward = if at.tangent.is_empty() {
            at.towards
        } else {
            dot(system, &at.tangent, &by) + at.towards
        };
        let length = onward.signum() * (1.0 + dot(system, &by, &by)).sqrt();
        let tangent: Vec<f64> = by.iter().map(|change| change / length).collect();
        tangent.iter().all(|along| along.is_finite()).then_some((tangent, 1.0 / length))
    }

    /// Linearises and factors there; the change of the unknowns with the conductance's logarithm.
    fn anchored(
        &mut self,
        system: &System,
        held: &Held<'_>,
        z: &[f64],
        siemens_ln: f64,
    ) -> Option<Vec<f64>> {
        let anchor_siemens = siemens_ln.exp();
        let held = Held { anchor_siemens, ..*held };
        self.linearise(system, &held, Damping::WholeStep, z);
        self.factor(&held).ok()?;
        let mut by = vec![0.0; system.unknowns.len()];
        for (k, entry) in system.unknowns.iter().enumerate().skip(1) {
            if entry.role.is_voltage() {
                by[k] = -anchor_siemens * z[k];
            }
        }
        self.solver.solve_checked(&mut by[1..]).ok()?;
        Some(by)
    }
}

/// Over node voltages, in V²: currents follow from them.
fn dot(system: &System, a: &[f64], b: &[f64]) -> f64 {
    let unknowns = system.unknowns.iter().zip(a.iter().zip(b)).skip(1);
    let voltages = unknowns.filter(|(entry, _)| entry.role.is_voltage());
    voltages.map(|(_, (a, b))| a * b).sum()
}
