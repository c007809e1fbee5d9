//! How large the terms are that cancel in each row: what its own rounding leaves of it.
//!
//! A point whose rows are all within a few units of rounding of their terms solves a neighbouring problem
//! exactly (Oettli & Prager, Numer. Math. 6, 1964); no iteration gets closer by more than chance.

use super::assemble::gather;
use super::{PlacedLaw, System};
use crate::device::{Law, Visitor};
use crate::numeric::Dual;

impl System {
    /// The sum of the sizes of all terms of each row of f at z, where each entry of z counts with the size that
    /// `amounts` gives it, and with `rate` (1/s) of the charges that came to it from `before`.
    pub(crate) fn sizes(
        &self,
        z: &[f64],
        amounts: &[f64],
        (rate, before): (f64, &[f64]),
    ) -> Vec<f64> {
        let mut terms = vec![0.0; self.unknowns.len()];
        self.statics.add_sizes(amounts, 1.0, &mut terms);
        if rate > 0.0 {
            self.charges.add_sizes(amounts, rate, &mut terms);
            terms.iter_mut().zip(before).for_each(|(size, held)| *size += rate * held.abs());
        }
        for placed in &self.laws {
            placed.law.visit(AddSizes { placed, z, amounts, rate, terms: &mut terms });
        }
        terms
    }
}

/// Adds what a law's currents and charges are made of: themselves, and what a digit of each of its inputs'
/// two ends is worth in them.
struct AddSizes<'a> {
    placed: &'a PlacedLaw,
    z: &'a [f64],
    amounts: &'a [f64],
    rate: f64,
    terms: &'a mut [f64],
}

impl Visitor for AddSizes<'_> {
    type Output = ();

    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(self, law: &L) {
        let Self { placed, z, amounts, rate, terms } = self;
        let ends = |n: usize| placed.inputs[n].map(|end| amounts[end as usize]);
        let of = |output: &Dual<f64, N>| {
            let inputs = (0..N).map(|n| output.slope[n].abs() * (ends(n)[0] + ends(n)[1]));
            output.value.abs() + inputs.sum::<f64>()
        };
        let (currents, charges) = law.evaluate(&Dual::inputs(gather(placed, z)));
        for (current, rows) in currents.iter().zip(&placed.currents) {
            rows.iter().for_each(|row| terms[*row as usize] += of(current));
        }
        for (charge, rows) in charges.iter().zip(&placed.charges) {
            rows.iter().for_each(|row| terms[*row as usize] += rate * of(charge));
        }
    }
}
