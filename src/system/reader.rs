//! Reads the same sums of quantities at many points: what they need is worked out once, and only
//! that is evaluated, in room of its own, at several points at once.
//!
//! Every number has the bits that it has where it is read at one point alone.

// Measured: a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::observe::{Quantity, Term};
use super::{Pieces, PlacedLaw, System};
use crate::device::{Law, Visitor};
use crate::numeric::{Dual, Field, LANES, Lanes, Straight};
use pulp::{Arch, Simd, WithSimd};
use std::array;

/// factor·(seen\[plus\] − seen\[minus\])·seen\[weight\]
#[derive(Clone, Copy, Debug, PartialEq)]
struct Share {
    factor: f64,
    plus: u32,
    minus: u32,
    weight: u32,
}

/// Sums of quantities of one system, ready to be read.
///
/// What is seen at a point lies side by side: z, its rates, currents and charge rates of the laws, 1.
#[derive(Clone, Debug)]
pub struct Reader {
    /// The widest instructions of this machine.
    arch: Arch,
    shares: Vec<Share>,
    /// Where the shares of each sum end.
    ends: Vec<u32>,
    laws: Vec<u32>,
    /// Unknowns whose values are needed, and those whose rates are.
    values: Vec<u32>,
    rates: Vec<u32>,
    /// Whether levels of drives are, or time.
    drives: bool,
    unknowns: u32,
    seen: Vec<Lanes>,
}

/// Where the parts of what is seen start.
#[derive(Clone, Copy)]
struct Places {
    rates: u32,
    currents: u32,
    charges: u32,
    one: u32,
}

impl Places {
    fn of(system: &System) -> Self {
        let rates = system.extent() as u32;
        let currents = 2 * rates;
        let charges = currents + system.law_currents() as u32;
        Self { rates, currents, charges, one: charges + system.law_charges() as u32 }
    }
}

impl Reader {
    /// Sums of (factor, quantity).
    pub fn new<'q>(system: &System, sums: impl IntoIterator<Item = &'q [(f64, Quantity)]>) -> Self {
        let places = Places::of(system);
        let mut seen = vec![Lanes::splat(0.0); places.one as usize + 1];
        seen[places.one as usize] = Lanes::splat(1.0);
        let unknowns = system.unknowns.len() as u32;
        let nothing = Vec::new;
        let mut reader = Self {
            arch: Arch::new(),
            shares: Vec::new(),
            ends: Vec::new(),
            laws: nothing(),
            values: nothing(),
            rates: nothing(),
            drives: false,
            unknowns,
            seen,
        };
        for sum in sums {
            for &(factor, quantity) in sum {
                reader.lay(system, places, factor, quantity);
            }
            reader.ends.push(reader.shares.len() as u32);
        }
        reader.note_needs(system, places);
        reader
    }

    fn lay(&mut self, system: &System, places: Places, factor: f64, quantity: Quantity) {
        let plain = |at: usize| Share { factor, plus: at as u32, minus: 0, weight: places.one };
        match quantity {
            // Ground adds nothing.
            Quantity::Unknown(0) => {}
            Quantity::Unknown(k) => self.shares.push(plain(k)),
            Quantity::Drive(d) => self.shares.push(plain(system.unknowns.len() + d)),
            Quantity::Current(part, terminal) => {
                self.lay_current(system, places, (part, terminal), (factor, places.one));
            }
            Quantity::Power(part) => {
                for (terminal, &node) in system.parts[part].pins.iter().enumerate() {
                    let weighted = (factor, node as u32);
                    self.lay_current(system, places, (part, terminal), weighted);
                }
            }
        }
    }

    fn lay_current(
        &mut self,
        system: &System,
        places: Places,
        (part, terminal): (usize, usize),
        (factor, weight): (f64, u32),
    ) {
        for (sign, term) in &system.terminals[part][terminal] {
            let (own, plus, minus) = match *term {
                Term::Voltage([plus, minus], own) => (own, plus as u32, minus as u32),
                Term::Rate([plus, minus], own) => {
                    (own, places.rates + plus as u32, places.rates + minus as u32)
                }
                Term::Unknown(k, own) => (own, k as u32, 0),
                Term::LawCurrent(law, m) => {
                    (1.0, places.currents + system.law_current_at(law, m) as u32, 0)
                }
                Term::LawCharge(law, k) => {
                    (1.0, places.charges + system.law_charge_at(law, k) as u32, 0)
                }
            };
            self.shares.push(Share { factor: factor * sign * own, plus, minus, weight });
        }
    }

    fn note_needs(&mut self, system: &System, places: Places) {
        let mut needed = vec![false; self.seen.len()];
        // Sums of unknowns alone are not read at points.
        let read = (0..self.ends.len()).filter(|sum| !self.is_of_unknowns(*sum));
        for share in read.flat_map(|sum| self.shares(sum)) {
            for at in [share.plus, share.minus, share.weight] {
                needed[at as usize] = true;
            }
        }
        for (k, law) in system.laws.iter().enumerate() {
            let from = |first: u32, at: usize, count: usize| {
                (first as usize + at..).take(count).collect::<Vec<_>>()
            };
            let currents = from(places.currents, law.first_current, law.currents.len());
            let charges = from(places.charges, law.first_charge, law.charges.len());
            let moves = charges.iter().any(|at| needed[*at]);
            if !moves && !currents.iter().any(|at| needed[*at]) {
                continue;
            }
            self.laws.push(k as u32);
            for at in law.inputs.iter().flatten() {
                needed[*at as usize] = true;
                needed[(places.rates + at) as usize] |= moves;
            }
        }
        let among = |first: u32| {
            let unknowns = 1..self.unknowns;
            unknowns.filter(|k| needed[(first + k) as usize]).collect::<Vec<_>>()
        };
        (self.values, self.rates) = (among(0), among(places.rates));
        let levels = self.unknowns as usize..places.rates as usize;
        let slopes = levels.start + levels.end..2 * levels.end;
        self.drives = needed[levels].contains(&true) || needed[slopes].contains(&true);
    }

    /// Whether a sum is one of unknowns alone, so that it bends as they bend.
    pub fn is_of_unknowns(&self, sum: usize) -> bool {
        let one = self.seen.len() as u32 - 1;
        let plain = |s: &Share| s.weight == one && s.plus.max(s.minus) < self.unknowns;
        self.shares(sum).iter().all(plain)
    }

    /// Such a sum, as factors of differences of two unknowns.
    pub fn of_unknowns(&self, sum: usize) -> impl Iterator<Item = (f64, [usize; 2])> {
        self.shares(sum).iter().map(|s| (s.factor, [s.plus as usize, s.minus as usize]))
    }

    /// Whether anything that is read goes with the rates of unknowns.
    pub fn needs_rates(&self) -> bool {
        !self.rates.is_empty()
    }

    /// Looks at several points in time between the same corners.
    pub fn look(&mut self, system: &System, at: (&Pieces, Lanes), points: impl Points) {
        self.arch.dispatch(Gathering { reader: self, system, at, points });
        let extent = system.extent();
        let (z, rest) = self.seen.split_at_mut(extent);
        let (rates, rest) = rest.split_at_mut(extent);
        let (currents, charge_rates) = rest.split_at_mut(system.law_currents());
        for &law in &self.laws {
            let placed = &system.laws[law as usize];
            placed.law.visit(Outputs { arch: self.arch, placed, z, rates, currents, charge_rates });
        }
    }

    /// A sum at the points looked at last.
    pub fn read(&self, sum: usize) -> Lanes {
        let seen = |at: u32| self.seen[at as usize];
        let share =
            |s: &Share| Lanes::splat(s.factor) * (seen(s.plus) - seen(s.minus)) * seen(s.weight);
        self.shares(sum).iter().map(share).fold(NOTHING, |sum, share| sum + share)
    }

    fn shares(&self, sum: usize) -> &[Share] {
        let start = sum.checked_sub(1).map_or(0, |before| self.ends[before] as usize);
        &self.shares[start..self.ends[sum] as usize]
    }
}

/// What there is at several points.
pub trait Points {
    /// Values of an unknown.
    fn value(&self, unknown: usize) -> Lanes;
    /// Its rates, in 1/s.
    fn rate(&self, unknown: usize) -> Lanes;
}

/// What laws are told of points. A struct and not a closure, as all that is dispatched here: the call that hands
/// a closure over is not made part of the code for wide registers.
struct Gathering<'a, P> {
    reader: &'a mut Reader,
    system: &'a System,
    at: (&'a Pieces, Lanes),
    points: P,
}

impl<P: Points> WithSimd for Gathering<'_, P> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Self { reader, system, at: (pieces, t), points } = self;
        let (z, rates) = reader.seen.split_at_mut(system.extent());
        for &k in &reader.values {
            z[k as usize] = points.value(k as usize);
        }
        for &k in &reader.rates {
            rates[k as usize] = points.rate(k as usize);
        }
        if !reader.drives {
            return;
        }
        let first = system.unknowns.len();
        let levels = z[first..].iter_mut().zip(&mut rates[first..]);
        for ((level, slope), piece) in levels.zip(pieces.list()) {
            *level = Lanes(t.0.map(|t| piece.value(t)));
            *slope = Lanes(t.0.map(|t| piece.slope(t)));
        }
        let time = system.extent() - 1;
        (z[time], rates[time]) = (t, Lanes::splat(1.0));
    }
}

/// What a sum of nothing is: added to anything, it leaves the sign of a zero.
const NOTHING: Lanes = Lanes([-0.0; LANES]);

/// What a law gives at several points: its currents, and the rates of its charges.
struct Outputs<'a> {
    arch: Arch,
    placed: &'a PlacedLaw,
    z: &'a [Lanes],
    rates: &'a [Lanes],
    currents: &'a mut [Lanes],
    charge_rates: &'a mut [Lanes],
}

/// The same of a law of known size.
struct OfLaw<'a, L, const N: usize, const M: usize, const K: usize> {
    law: &'a L,
    what: Outputs<'a>,
}

impl Visitor for Outputs<'_> {
    type Output = ();

    #[inline]
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(self, law: &L) {
        self.arch.dispatch(OfLaw::<L, N, M, K> { law, what: self });
    }
}

impl<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize> WithSimd
    for OfLaw<'_, L, N, M, K>
{
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Outputs { placed, z, rates, currents, charge_rates, .. } = self.what;
        let u: [Lanes; N] = inputs(placed, z);
        let along: [Lanes; N] = inputs(placed, rates);
        let (mut i, mut q_rates) = ([NOTHING; M], [NOTHING; K]);
        for lane in 0..LANES {
            let at = array::from_fn(|n| Straight(u[n].0[lane]));
            if K == 0 {
                let (currents, _) = self.law.evaluate(&at);
                for m in 0..M {
                    i[m].0[lane] = currents[m].0;
                }
                continue;
            }
            let (currents, charges) = self.law.evaluate(&Dual::inputs(at));
            for m in 0..M {
                i[m].0[lane] = currents[m].value.0;
            }
            for k in 0..K {
                for (slope, rate) in charges[k].slope.iter().zip(&along) {
                    q_rates[k].0[lane] += slope.0 * rate.0[lane];
                }
            }
        }
        currents[placed.first_current..][..M].copy_from_slice(&i);
        charge_rates[placed.first_charge..][..K].copy_from_slice(&q_rates);
    }
}

/// Inputs of a law at several points, or their rates.
#[inline(always)]
fn inputs<const N: usize>(placed: &PlacedLaw, z: &[Lanes]) -> [Lanes; N] {
    let ends = &placed.inputs[..N];
    array::from_fn(|n| z[ends[n][0] as usize] - z[ends[n][1] as usize])
}
