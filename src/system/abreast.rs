//! Several variants of one circuit in lockstep: the same equations with other values, one variant a lane,
//! each at its own time and with its own drives.
//!
//! What a lane computes has the bits of what its circuit computes alone, operation by operation.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::constant::ConstantRows;
use super::equations::Equations;
use super::lane_drives::LaneDrives;
use super::{Linearisation, PlacedLaw, System};
use crate::device::{Law, Rank, RankVisitor, Ranked};
use crate::numeric::{Dual, Field, LANES, Lanes, Pattern, Straight};
use pulp::{Arch, Simd, WithSimd};
use std::array;
use std::borrow::Borrow;
use std::marker::PhantomData;

/// The equations of up to [`LANES`] variants.
#[derive(Clone, Debug)]
pub(crate) struct Abreast {
    /// The widest instructions of this machine.
    arch: Arch,
    rows: usize,
    extent: usize,
    pattern: Pattern,
    statics: ConstantRows<Lanes>,
    driven: ConstantRows<Lanes>,
    charges: ConstantRows<Lanes>,
    static_values: Vec<Lanes>,
    charge_values: Vec<Lanes>,
    laws: Vec<PlacedRank>,
}

/// A law of all lanes with its places, which are the same in all.
#[derive(Clone, Debug)]
struct PlacedRank {
    ranked: Ranked,
    places: PlacedLaw,
}

impl Abreast {
    /// One circuit in all lanes.
    pub(crate) fn of(system: &System) -> Self {
        let all = |values: &[f64]| values.iter().copied().map(Lanes::splat).collect();
        let rank = |placed: &PlacedLaw| PlacedRank {
            ranked: Ranked::of(&placed.law),
            places: placed.clone(),
        };
        Self {
            arch: Arch::new(),
            rows: system.unknowns.len(),
            extent: system.extent(),
            pattern: system.pattern.clone(),
            statics: ConstantRows::of(&system.statics),
            driven: ConstantRows::of(&system.driven),
            charges: ConstantRows::of(&system.charges),
            static_values: all(&system.static_values),
            charge_values: all(&system.charge_values),
            laws: system.laws.iter().map(rank).collect(),
        }
    }

    /// Puts a circuit into a lane; `false`, and the lane of no use, if it has other equations.
    pub(crate) fn seat(&mut self, lane: usize, system: &System) -> bool {
        let lane = lane % LANES;
        let alike = self.rows == system.unknowns.len()
            && self.extent == system.extent()
            && self.laws.len() == system.laws.len()
            && self.pattern == system.pattern;
        let mut laws = self.laws.iter_mut().zip(&system.laws);
        alike
            && self.statics.seat(lane, &system.statics)
            && self.driven.seat(lane, &system.driven)
            && self.charges.seat(lane, &system.charges)
            && seat_values(&mut self.static_values, lane, &system.static_values)
            && seat_values(&mut self.charge_values, lane, &system.charge_values)
            && laws
                .all(|(own, law)| own.places.is_placed_as(law) && own.ranked.seat(lane, &law.law))
    }
}

fn seat_values(own: &mut [Lanes], lane: usize, values: &[f64]) -> bool {
    for (own, &value) in own.iter_mut().zip(values) {
        own.0[lane] = value;
    }
    own.len() == values.len()
}

impl PlacedLaw {
    fn is_placed_as(&self, other: &Self) -> bool {
        self.inputs == other.inputs
            && self.currents == other.currents
            && self.charges == other.charges
            && self.current_slots == other.current_slots
            && self.charge_slots == other.charge_slots
            && self.first_charge == other.first_charge
            && self.first_slope == other.first_slope
            && self.timed == other.timed
    }
}

impl Equations for Abreast {
    type Number = Lanes;
    type Drives = LaneDrives;

    #[inline(always)]
    fn set_time(&self, drives: &LaneDrives, t: Lanes, z: &mut [Lanes]) {
        drives.levels(t, &mut z[self.rows..]);
        if let Some(last) = z.last_mut() {
            *last = t;
        }
    }

    #[inline(always)]
    fn set_slopes(&self, drives: &LaneDrives, t: Lanes, slopes: &mut [Lanes]) {
        drives.slopes(t, &mut slopes[self.rows..]);
        if let Some(last) = slopes.last_mut() {
            *last = Lanes::splat(1.0);
        }
    }

    #[inline(always)]
    fn evaluate(&self, z: &[Lanes], f: &mut [Lanes], q: &mut [Lanes]) {
        self.statics.times(z, f, self.rows);
        for PlacedRank { ranked, places } in &self.laws {
            ranked.visit(Evaluate { arch: self.arch, places, z, f, q });
        }
    }

    #[inline(always)]
    fn linearise(&self, z: &[Lanes], slopes: &[Lanes], into: &mut Linearisation<Lanes>) {
        self.statics.times(z, &mut into.rows, self.rows);
        into.f.copy_from_slice(&into.rows[..self.rows]);
        self.driven.times(slopes, &mut into.rows, self.rows);
        into.f_slope.copy_from_slice(&into.rows[..self.rows]);
        into.conductances.copy_from_slice(&self.static_values);
        into.capacitances.copy_from_slice(&self.charge_values);
        for PlacedRank { ranked, places } in &self.laws {
            ranked.visit(Linearise { arch: self.arch, places, z, slopes, into });
        }
    }

    #[inline(always)]
    fn linear_charges(&self, z: &[Lanes], rows: &mut [Lanes]) {
        self.charges.times(z, rows, self.rows);
    }

    #[inline(always)]
    fn scatter_charges(&self, values: &[Lanes], rows: &mut [Lanes]) {
        for PlacedRank { places, .. } in &self.laws {
            for (pair, &value) in places.charges.iter().zip(&values[places.first_charge..]) {
                rows[pair[0] as usize] += value;
                rows[pair[1] as usize] -= value;
            }
        }
    }

    #[inline(always)]
    fn charge_slopes_times(&self, at: &Linearisation<Lanes>, z: &[Lanes], out: &mut [Lanes]) {
        for PlacedRank { places, .. } in &self.laws {
            let width = places.inputs.len();
            for k in 0..places.charges.len() {
                let slopes = &at.charge_slopes[places.first_slope + k * width..][..width];
                let mut sum = Lanes::splat(0.0);
                for (&slope, pair) in slopes.iter().zip(&places.inputs) {
                    sum += slope * (z[pair[0] as usize] - z[pair[1] as usize]);
                }
                out[places.first_charge + k] = sum;
            }
        }
    }
}

/// Inputs of a law in all lanes.
#[inline(always)]
fn gather<const N: usize>(places: &PlacedLaw, z: &[Lanes]) -> [Lanes; N] {
    let inputs = &places.inputs[..N];
    array::from_fn(|n| z[inputs[n][0] as usize] - z[inputs[n][1] as usize])
}

/// Something to do with the laws of a rank, by the widest instructions. A struct and not a closure: the call
/// that hands a closure over is not made part of the code for wide registers.
struct OfRank<'r, W, R, L, const N: usize, const M: usize, const K: usize> {
    what: W,
    rank: &'r R,
    law: PhantomData<L>,
}

struct Evaluate<'a> {
    arch: Arch,
    places: &'a PlacedLaw,
    z: &'a [Lanes],
    f: &'a mut [Lanes],
    q: &'a mut [Lanes],
}

impl RankVisitor for Evaluate<'_> {
    #[inline]
    fn visit<L, R, const N: usize, const M: usize, const K: usize>(self, rank: &R)
    where
        L: Law<f64, N, M, K>,
        R: Rank<L>,
    {
        let law = PhantomData::<L>;
        self.arch.dispatch(OfRank::<Self, R, L, N, M, K> { what: self, rank, law });
    }
}

impl<L, R, const N: usize, const M: usize, const K: usize> WithSimd
    for OfRank<'_, Evaluate<'_>, R, L, N, M, K>
where
    L: Law<f64, N, M, K>,
    R: Rank<L>,
{
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Evaluate { places, z, f, q, .. } = self.what;
        let u: [Lanes; N] = gather(places, z);
        let mut currents = [Lanes::splat(0.0); M];
        let mut charges = [Lanes::splat(0.0); K];
        for lane in 0..LANES {
            let at = array::from_fn(|n| Straight(u[n].0[lane]));
            let (i, c) = self.rank.at(lane).borrow().evaluate(&at);
            for m in 0..M {
                currents[m].0[lane] = i[m].0;
            }
            for k in 0..K {
                charges[k].0[lane] = c[k].0;
            }
        }
        for (&i, rows) in currents.iter().zip(&places.currents) {
            f[rows[0] as usize] += i;
            f[rows[1] as usize] -= i;
        }
        q[places.first_charge..][..K].copy_from_slice(&charges);
    }
}

struct Linearise<'a> {
    arch: Arch,
    places: &'a PlacedLaw,
    z: &'a [Lanes],
    slopes: &'a [Lanes],
    into: &'a mut Linearisation<Lanes>,
}

impl RankVisitor for Linearise<'_> {
    #[inline]
    fn visit<L, R, const N: usize, const M: usize, const K: usize>(self, rank: &R)
    where
        L: Law<f64, N, M, K>,
        R: Rank<L>,
    {
        let law = PhantomData::<L>;
        self.arch.dispatch(OfRank::<Self, R, L, N, M, K> { what: self, rank, law });
    }
}

impl<L, R, const N: usize, const M: usize, const K: usize> WithSimd
    for OfRank<'_, Linearise<'_>, R, L, N, M, K>
where
    L: Law<f64, N, M, K>,
    R: Rank<L>,
{
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        let Linearise { places, z, slopes, into, .. } = self.what;
        let u: [Lanes; N] = gather(places, z);
        let zero = Lanes::splat(0.0);
        let (mut currents, mut charges) = ([zero; M], [zero; K]);
        let (mut current_slopes, mut charge_slopes) = ([[zero; N]; M], [[zero; N]; K]);
        for lane in 0..LANES {
            let at = array::from_fn(|n| Straight(u[n].0[lane]));
            let (i, c) = self.rank.at(lane).borrow().evaluate(&Dual::inputs(at));
            for m in 0..M {
                currents[m].0[lane] = i[m].value.0;
                for (own, slope) in current_slopes[m].iter_mut().zip(i[m].slope) {
                    own.0[lane] = slope.0;
                }
            }
            for k in 0..K {
                charges[k].0[lane] = c[k].value.0;
                for (own, slope) in charge_slopes[k].iter_mut().zip(c[k].slope) {
                    own.0[lane] = slope.0;
                }
            }
        }
        let timed = if places.timed { gather::<N>(places, slopes) } else { [zero; N] };
        into.add_currents(places, &currents, &current_slopes, &timed);
        into.put_charges(places, &charges, &charge_slopes, &timed);
    }
}

/// Σ slope·rate, in the order in which a circuit alone adds them.
#[inline(always)]
fn in_time<const N: usize>(slopes: &[Lanes; N], timed: &[Lanes; N]) -> Lanes {
    let mut sum = Lanes::splat(0.0);
    for (&slope, &rate) in slopes.iter().zip(timed) {
        sum += slope * rate;
    }
    sum
}

impl Linearisation<Lanes> {
    #[inline(always)]
    fn add_currents<const N: usize>(
        &mut self,
        places: &PlacedLaw,
        currents: &[Lanes],
        slopes: &[[Lanes; N]],
        timed: &[Lanes; N],
    ) {
        for (m, (&i, slopes)) in currents.iter().zip(slopes).enumerate() {
            let rows = places.currents[m];
            self.f[rows[0] as usize] += i;
            self.f[rows[1] as usize] -= i;
            if places.timed {
                let slope = in_time(slopes, timed);
                self.f_slope[rows[0] as usize] += slope;
                self.f_slope[rows[1] as usize] -= slope;
            }
            stamp(&mut self.conductances, &places.current_slots[m * N..][..N], slopes);
        }
    }

    #[inline(always)]
    fn put_charges<const N: usize>(
        &mut self,
        places: &PlacedLaw,
        charges: &[Lanes],
        slopes: &[[Lanes; N]],
        timed: &[Lanes; N],
    ) {
        for (k, (&charge, slopes)) in charges.iter().zip(slopes).enumerate() {
            self.q[places.first_charge + k] = charge;
            self.q_slope[places.first_charge + k] =
                if places.timed { in_time(slopes, timed) } else { Lanes::splat(0.0) };
            self.charge_slopes[places.first_slope + k * N..][..N].copy_from_slice(slopes);
            stamp(&mut self.capacitances, &places.charge_slots[k * N..][..N], slopes);
        }
    }
}

#[inline(always)]
fn stamp(values: &mut [Lanes], slots: &[[u32; 4]], slopes: &[Lanes]) {
    for (slot, &slope) in slots.iter().zip(slopes) {
        values[slot[0] as usize] += slope;
        values[slot[1] as usize] -= slope;
        values[slot[2] as usize] -= slope;
        values[slot[3] as usize] += slope;
    }
}
