//! Laws side by side: each place gives the bits of its own law.

use super::jacobian::{Case, at_every_point, every_case};
use crate::device::{Law, Nonlinear, Rank, RankVisitor, Ranked, Visitor};
use crate::numeric::{Dual, LANES, Straight};
use std::borrow::Borrow;

/// Values and slopes of everything a law gives, one after the other.
type Bits = Vec<u64>;

/// A law by itself.
struct Alone<'a>(&'a [f64]);

impl Visitor for Alone<'_> {
    type Output = Bits;
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Bits {
        let u: [f64; N] = self.0.try_into().expect("as many inputs as the law has");
        let ((i, q), (di, dq)) = (law.evaluate(&u), law.evaluate(&Dual::inputs(u)));
        let duals = di.iter().chain(&dq).flat_map(|d| d.slope.into_iter().chain([d.value]));
        i.into_iter().chain(q).chain(duals).map(bits).collect()
    }
}

/// The law in a place among others.
struct InPlace<'a>(&'a [f64], usize, &'a mut Bits);

impl RankVisitor for InPlace<'_> {
    fn visit<L, R, const N: usize, const M: usize, const K: usize>(self, rank: &R)
    where
        L: Law<f64, N, M, K>,
        R: Rank<L>,
    {
        let u: [f64; N] = self.0.try_into().expect("as many inputs as the law has");
        let (u, law) = (u.map(Straight), rank.at(self.1));
        let ((i, q), (di, dq)) =
            (law.borrow().evaluate(&u), law.borrow().evaluate(&Dual::inputs(u)));
        let duals = di.iter().chain(&dq).flat_map(|d| d.slope.into_iter().chain([d.value]));
        self.2.extend(i.into_iter().chain(q).chain(duals).map(|x| bits(x.0)));
    }
}

/// Nothing is nothing, whatever its sign.
fn bits(x: f64) -> u64 {
    if x == 0.0 { 0 } else { x.to_bits() }
}

fn in_place(ranked: &Ranked, place: usize, u: &[f64]) -> Bits {
    let mut found = Bits::new();
    ranked.visit(InPlace(u, place, &mut found));
    found
}

#[test]
fn every_place_gives_the_bits_of_its_own_law() {
    for case in every_case() {
        let mut ranked = Ranked::of(&case.law);
        assert!(ranked.seat(1, &case.other), "{}", case.label);
        let mut tells = false;
        at_every_point(&case, &case.grid, &mut |case: &Case, u| {
            let (own, other) = (case.law.visit(Alone(u)), case.other.visit(Alone(u)));
            tells |= own != other;
            assert_eq!(in_place(&ranked, 0, u), own, "{} at {u:?}", case.label);
            assert_eq!(in_place(&ranked, 1, u), other, "{} at {u:?}", case.label);
            assert_eq!(in_place(&ranked, LANES - 1, u), own, "{} at {u:?}", case.label);
        });
        // What has no numbers of its own has nothing to tell.
        let numberless = matches!(case.law, Nonlinear::Short(_) | Nonlinear::ResistanceLoad(_));
        assert!(tells || numberless, "{} is the same with other numbers", case.label);
    }
}

#[test]
fn laws_of_another_kind_find_no_place() {
    let laws: Vec<Nonlinear> = every_case().into_iter().map(|case| case.law).collect();
    let mut first = Ranked::of(&laws[0]);
    assert!(first.seat(1, &laws[0]) && !first.seat(1, &laws[2]));
}
