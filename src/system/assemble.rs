//! Values of f and Q, and their slopes, at one point.

// Measured: a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::{PlacedLaw, System};
use crate::device::{Law, Role, Visitor};
use crate::numeric::{Dual, Field, ROOM};
use std::array;

/// f, Q and their slopes at one point. Vectors over rows have entry 0 for ground, never read.
#[derive(Clone, Debug)]
pub struct Linearisation<F = f64> {
    /// f(x, t) by row, A (V in branch rows).
    pub f: Vec<F>,
    /// Nonlinear charges Q(x) in C.
    pub q: Vec<F>,
    /// ∂f/∂t by row.
    pub f_slope: Vec<F>,
    /// ∂Q/∂t of the nonlinear charges.
    pub q_slope: Vec<F>,
    /// ∂f/∂x in the slots of the pattern, one more slot behind for what falls on ground.
    pub conductances: Vec<F>,
    /// A·∂Q/∂x of linear and nonlinear charges in the same slots.
    pub capacitances: Vec<F>,
    /// ∂Q/∂u of each law over its own inputs, law by law.
    pub charge_slopes: Vec<F>,
    /// Room for rows, long enough to be filled fastest.
    pub(super) rows: Vec<F>,
}

impl<F: Field> Linearisation<F> {
    /// Room for a system's values.
    pub fn new(system: &System) -> Self {
        let (rows, zero) = (system.unknowns.len(), F::splat(0.0));
        let slots = system.pattern.slots() + 1;
        Self {
            f: vec![zero; rows],
            q: vec![zero; system.law_charges],
            f_slope: vec![zero; rows],
            q_slope: vec![zero; system.law_charges],
            conductances: vec![zero; slots],
            capacitances: vec![zero; slots],
            charge_slopes: vec![zero; system.law_slopes],
            rows: vec![zero; rows.max(ROOM)],
        }
    }

    /// values = ∂f/∂x + A·∂Q/∂x·`rate` (1/s), over the pattern's slots.
    #[inline(always)]
    pub fn matrix(&self, rate: F, values: &mut [F]) {
        let both = self.conductances.iter().zip(&self.capacitances);
        for (value, (&g, &c)) in values.iter_mut().zip(both) {
            *value = g + rate * c;
        }
    }
}

impl System {
    /// f(x, t) and nonlinear Q(x) at z; z and f may be longer than they need be, and are read and
    /// written fastest where they have [`crate::numeric::ROOM`].
    pub fn evaluate(&self, z: &[f64], f: &mut [f64], q: &mut [f64]) {
        self.evaluate_in_place(z, f, q);
    }

    /// The same without a call of its own, for who asks millions of times.
    #[inline(always)]
    pub(super) fn evaluate_in_place(&self, z: &[f64], f: &mut [f64], q: &mut [f64]) {
        self.statics.times(z, f, self.unknowns.len());
        for placed in &self.laws {
            placed.law.visit_in_place(Evaluate { placed, z, f, q });
        }
    }

    /// f, Q and all their slopes at z; `slopes` holds the slopes in time of drives and time.
    pub fn linearise(&self, z: &[f64], slopes: &[f64], into: &mut Linearisation) {
        self.start_linearising(z, slopes, into);
        for placed in &self.laws {
            placed.law.visit(Linearise { placed, z, slopes, into, held: None });
        }
    }

    /// Like [`System::linearise`], but every law is evaluated where its `limit` allows, starting
    /// from `held` (the inputs it was evaluated at last, updated here), and continued from there
    /// along its tangent. Gives whether any law was held back.
    pub fn linearise_limited(
        &self,
        z: &[f64],
        slopes: &[f64],
        held: &mut [f64],
        into: &mut Linearisation,
    ) -> bool {
        self.start_linearising(z, slopes, into);
        let mut limited = false;
        for placed in &self.laws {
            let own = &mut held[placed.first_input..][..placed.inputs.len()];
            limited |= placed.law.visit(Linearise { placed, z, slopes, into, held: Some(own) });
        }
        limited
    }

    fn start_linearising(&self, z: &[f64], slopes: &[f64], into: &mut Linearisation) {
        let count = self.unknowns.len();
        self.statics.times(z, &mut into.rows, count);
        into.f.copy_from_slice(&into.rows[..count]);
        self.driven.times(slopes, &mut into.rows, count);
        into.f_slope.copy_from_slice(&into.rows[..count]);
        into.conductances.copy_from_slice(&self.static_values);
        into.capacitances.copy_from_slice(&self.charge_values);
    }

    /// Adds `siemens` from every node to where `to` says (ground when empty): the conductance of
    /// continuation and of pseudo-transients.
    pub fn add_anchor(&self, siemens: f64, to: &[f64], z: &[f64], into: &mut Linearisation) {
        self.add_anchor_where(Role::is_voltage, siemens, (to, z), into);
    }

    /// The same from nodes of some roles alone.
    pub fn add_anchor_where(
        &self,
        anchored: impl Fn(Role) -> bool,
        siemens: f64,
        (to, z): (&[f64], &[f64]),
        into: &mut Linearisation,
    ) {
        for (k, entry) in self.unknowns.iter().enumerate().skip(1) {
            if anchored(entry.role) {
                into.f[k] += siemens * (z[k] - to.get(k).copied().unwrap_or(0.0));
                into.conductances[self.diagonal[k] as usize] += siemens;
            }
        }
    }

    /// Adds a conductance from one unknown to a level in V.
    pub fn add_pull(
        &self,
        (unknown, siemens, level): (usize, f64, f64),
        z: &[f64],
        into: &mut Linearisation,
    ) {
        into.f[unknown] += siemens * (z[unknown] - level);
        into.conductances[self.diagonal[unknown] as usize] += siemens;
    }

    /// Adds `w_per_k` from every junction that parts heat to ambient.
    pub fn add_tie(&self, w_per_k: f64, z: &[f64], into: &mut Linearisation) {
        for path in self.heat_paths.iter().filter(|path| !path.heated.is_empty()) {
            into.f[path.junction] += w_per_k * z[path.junction];
            into.conductances[self.diagonal[path.junction] as usize] += w_per_k;
        }
    }

    /// The inputs of all laws at z.
    pub fn inputs(&self, z: &[f64], inputs: &mut [f64]) {
        let places = self.laws.iter().flat_map(|placed| &placed.inputs);
        for (input, place) in inputs.iter_mut().zip(places) {
            *input = z[place[0] as usize] - z[place[1] as usize];
        }
    }

    /// Adds A·values of nonlinear charges to `rows`.
    #[inline(always)]
    pub fn scatter_charges(&self, values: &[f64], rows: &mut [f64]) {
        for placed in &self.laws {
            for (k, pair) in placed.charges.iter().enumerate() {
                let value = values[placed.first_charge + k];
                rows[pair[0] as usize] += value;
                rows[pair[1] as usize] -= value;
            }
        }
    }

    /// out = C·u of the nonlinear charges, where u are the inputs read from a vector like z.
    #[inline(always)]
    pub fn charge_slopes_times(&self, at: &Linearisation, z: &[f64], out: &mut [f64]) {
        for placed in &self.laws {
            let width = placed.inputs.len();
            for k in 0..placed.charges.len() {
                let slopes = &at.charge_slopes[placed.first_slope + k * width..][..width];
                out[placed.first_charge + k] = slopes
                    .iter()
                    .zip(&placed.inputs)
                    .map(|(c, p)| c * (z[p[0] as usize] - z[p[1] as usize]))
                    .sum();
            }
        }
    }

    /// Whether a law's own step limit would shorten the change of its inputs from z0 to z1.
    pub fn outruns_a_junction(&self, z0: &[f64], z1: &[f64]) -> bool {
        self.laws.iter().any(|placed| placed.law.visit(Outruns { placed, z0, z1 }))
    }

    /// Currents and charge rates of all laws at z, with rates of the unknowns in `rates`.
    pub(super) fn law_outputs(
        &self,
        z: &[f64],
        rates: &[f64],
        currents: &mut [f64],
        charge_rates: &mut [f64],
    ) {
        for law in 0..self.laws.len() {
            self.outputs_of(law, (z, rates), currents, charge_rates);
        }
    }

    /// The same of one law, into the places it has among all.
    pub(super) fn outputs_of(
        &self,
        law: usize,
        (z, rates): (&[f64], &[f64]),
        currents: &mut [f64],
        charge_rates: &mut [f64],
    ) {
        let placed = &self.laws[law];
        placed.law.visit(Outputs { placed, z, rates, currents, charge_rates });
    }

    /// Room needed by the currents of all laws.
    pub(super) fn law_currents(&self) -> usize {
        self.law_currents
    }

    /// Index of current `m` of law `law` among all.
    pub(super) fn law_current_at(&self, law: usize, m: usize) -> usize {
        self.laws[law].first_current + m
    }

    /// Index of charge `k` of law `law` among all.
    pub(super) fn law_charge_at(&self, law: usize, k: usize) -> usize {
        self.laws[law].first_charge + k
    }
}

#[inline]
pub(super) fn gather<const N: usize>(placed: &PlacedLaw, z: &[f64]) -> [f64; N] {
    let inputs = &placed.inputs[..N];
    array::from_fn(|n| z[inputs[n][0] as usize] - z[inputs[n][1] as usize])
}

struct Evaluate<'a> {
    placed: &'a PlacedLaw,
    z: &'a [f64],
    f: &'a mut [f64],
    q: &'a mut [f64],
}

impl Visitor for Evaluate<'_> {
    type Output = ();

    #[inline(always)]
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(self, law: &L) {
        let (currents, charges) = law.evaluate(&gather::<N>(self.placed, self.z));
        for (i, rows) in currents.iter().zip(&self.placed.currents) {
            self.f[rows[0] as usize] += i;
            self.f[rows[1] as usize] -= i;
        }
        self.q[self.placed.first_charge..][..K].copy_from_slice(&charges);
    }
}

struct Linearise<'a> {
    placed: &'a PlacedLaw,
    z: &'a [f64],
    slopes: &'a [f64],
    into: &'a mut Linearisation,
    held: Option<&'a mut [f64]>,
}

/// A law was held back if its inputs were moved by more than this, in V: below it the tangent is
/// the law for every purpose of a Newton iteration.
const HELD_V: f64 = 1e-9;

impl Visitor for Linearise<'_> {
    type Output = bool;

    #[inline]
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> bool {
        let Self { placed, z, slopes, into, held } = self;
        let asked = gather::<N>(placed, z);
        let mut at = asked;
        let limited = held.is_some();
        if let Some(held) = held {
            let previous = array::from_fn(|n| held[n]);
            law.limit(&previous, &mut at);
            held.copy_from_slice(&at);
        }
        let rest: [f64; N] = array::from_fn(|n| asked[n] - at[n]);
        let (currents, charges) = law.evaluate(&Dual::inputs(at));
        let along = |d: &Dual<f64, N>| {
            let slopes = d.slope.iter().zip(&rest);
            if limited { slopes.map(|(s, r)| s * r).sum::<f64>() } else { 0.0 }
        };
        let timed: [f64; N] = if placed.timed { gather::<N>(placed, slopes) } else { [0.0; N] };
        let in_time =
            |d: &Dual<f64, N>| d.slope.iter().zip(&timed).map(|(s, r)| s * r).sum::<f64>();
        for (m, current) in currents.iter().enumerate() {
            let rows = placed.currents[m];
            let i = current.value + along(current);
            into.f[rows[0] as usize] += i;
            into.f[rows[1] as usize] -= i;
            if placed.timed {
                let slope = in_time(current);
                into.f_slope[rows[0] as usize] += slope;
                into.f_slope[rows[1] as usize] -= slope;
            }
            stamp(&mut into.conductances, &placed.current_slots[m * N..][..N], &current.slope);
        }
        for (k, charge) in charges.iter().enumerate() {
            into.q[placed.first_charge + k] = charge.value + along(charge);
            into.q_slope[placed.first_charge + k] =
                if placed.timed { in_time(charge) } else { 0.0 };
            into.charge_slopes[placed.first_slope + k * N..][..N].copy_from_slice(&charge.slope);
            stamp(&mut into.capacitances, &placed.charge_slots[k * N..][..N], &charge.slope);
        }
        rest.iter().any(|r| r.abs() > HELD_V)
    }
}

#[inline]
fn stamp(values: &mut [f64], slots: &[[u32; 4]], slopes: &[f64]) {
    for (slot, slope) in slots.iter().zip(slopes) {
        values[slot[0] as usize] += slope;
        values[slot[1] as usize] -= slope;
        values[slot[2] as usize] -= slope;
        values[slot[3] as usize] += slope;
    }
}

struct Outruns<'a> {
    placed: &'a PlacedLaw,
    z0: &'a [f64],
    z1: &'a [f64],
}

impl Visitor for Outruns<'_> {
    type Output = bool;

    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> bool {
        let asked = gather::<N>(self.placed, self.z1);
        let mut allowed = asked;
        law.limit(&gather::<N>(self.placed, self.z0), &mut allowed);
        asked != allowed
    }
}

struct Outputs<'a> {
    placed: &'a PlacedLaw,
    z: &'a [f64],
    rates: &'a [f64],
    currents: &'a mut [f64],
    charge_rates: &'a mut [f64],
}

impl Visitor for Outputs<'_> {
    type Output = ();

    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(self, law: &L) {
        let first = self.placed.first_current;
        if K == 0 {
            let (currents, _) = law.evaluate(&gather::<N>(self.placed, self.z));
            self.currents[first..][..M].copy_from_slice(&currents);
            return;
        }
        let (currents, charges) = law.evaluate(&Dual::inputs(gather::<N>(self.placed, self.z)));
        let rates = gather::<N>(self.placed, self.rates);
        for (m, current) in currents.iter().enumerate() {
            self.currents[first + m] = current.value;
        }
        for (k, charge) in charges.iter().enumerate() {
            let rate = charge.slope.iter().zip(&rates).map(|(c, r)| c * r).sum();
            self.charge_rates[self.placed.first_charge + k] = rate;
        }
    }
}

struct Region<'a> {
    placed: &'a PlacedLaw,
    z: &'a [f64],
}

impl Visitor for Region<'_> {
    type Output = Option<&'static str>;

    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Option<&'static str> {
        law.region(&gather::<N>(self.placed, self.z))
    }
}

pub(super) fn region(placed: &PlacedLaw, z: &[f64]) -> Option<&'static str> {
    placed.law.visit(Region { placed, z })
}
