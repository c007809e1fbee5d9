//! How the current into one terminal of a part follows the unknowns, linear around a point.

use super::assemble::gather;
use super::observe::Term;
use super::{PlacedLaw, System};
use crate::device::{Law, Visitor};
use crate::numeric::Dual;
use nalgebra::Complex;

/// The current into a terminal as δi = Σ g·δx + d/dt Σ c·δx, drives and time held.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TerminalSlopes {
    /// (unknown, S or A/A)
    pub conductances: Vec<(usize, f64)>,
    /// (unknown, F)
    pub capacitances: Vec<(usize, f64)>,
}

impl TerminalSlopes {
    /// The complex amplitude of the current in A where the unknowns have the amplitudes `x`; `s` in
    /// rad/s.
    pub fn current(&self, x: &[Complex<f64>], s: Complex<f64>) -> Complex<f64> {
        let sum = |terms: &[(usize, f64)]| {
            terms.iter().map(|&(k, slope)| x[k] * slope).sum::<Complex<f64>>()
        };
        sum(&self.conductances) + s * sum(&self.capacitances)
    }
}

impl System {
    /// The slopes of the current into terminal `terminal` of part `part` at the extended vector z.
    pub fn terminal_slopes(&self, z: &[f64], part: usize, terminal: usize) -> TerminalSlopes {
        let mut slopes = TerminalSlopes::default();
        let terms = self.terminals.get(part).and_then(|all| all.get(terminal));
        for (sign, term) in terms.into_iter().flatten() {
            match *term {
                Term::Voltage([plus, minus], factor) => {
                    slopes.conductances.extend([(plus, sign * factor), (minus, -sign * factor)]);
                }
                Term::Rate([plus, minus], factor) => {
                    slopes.capacitances.extend([(plus, sign * factor), (minus, -sign * factor)]);
                }
                Term::Unknown(k, factor) => slopes.conductances.push((k, sign * factor)),
                Term::LawCurrent(law, m) => {
                    let row = self.laws[law].law.visit(Row { placed: &self.laws[law], z }).0;
                    slopes.conductances.extend(self.ends(law, &row[m], *sign));
                }
                Term::LawCharge(law, k) => {
                    let row = self.laws[law].law.visit(Row { placed: &self.laws[law], z }).1;
                    slopes.capacitances.extend(self.ends(law, &row[k], *sign));
                }
            }
        }
        // A drive stands behind the unknowns in z and is held.
        slopes.conductances.retain(|(k, _)| *k < self.unknowns.len());
        slopes.capacitances.retain(|(k, _)| *k < self.unknowns.len());
        slopes
    }

    fn ends(&self, law: usize, slopes: &[f64], sign: f64) -> Vec<(usize, f64)> {
        let places = self.laws[law].inputs.iter().zip(slopes);
        let pair = |(place, slope): (&[u32; 2], &f64)| {
            [(place[0] as usize, sign * slope), (place[1] as usize, -sign * slope)]
        };
        places.flat_map(pair).collect()
    }
}

/// Slopes of every current and every charge of a law to its inputs.
struct Row<'a> {
    placed: &'a PlacedLaw,
    z: &'a [f64],
}

impl Visitor for Row<'_> {
    type Output = (Vec<Vec<f64>>, Vec<Vec<f64>>);

    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Self::Output {
        let at = gather::<N>(self.placed, self.z);
        let (currents, charges) = law.evaluate(&Dual::inputs(at));
        let slopes = |all: &[Dual<f64, N>]| all.iter().map(|d| d.slope.to_vec()).collect();
        (slopes(&currents), slopes(&charges))
    }
}
