//! Numbering and assembly: a laid-out net becomes A·q' + f(x, t) = 0, q = Q(x).
//!
//! Charge-oriented modified nodal analysis (Ho, Ruehli, Brennan 1975; Günther & Feldmann 1999).
//! x holds node voltages and branch currents. Linear charges stay inside one constant matrix M
//! (their q is M·x exactly); nonlinear charges are carried as unknowns of their own, eliminated
//! inside the element, so that charge is conserved to rounding.
//!
//! Everything is read from one extended vector z = (0, x, drive levels, t): index 0 is ground, so
//! that no law and no stamp needs a branch for it.

// Measured: a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

mod abreast;
mod assemble;
mod build;
mod constant;
mod equations;
mod lane_drives;
mod ledger;
mod noise;
mod observe;
mod reader;
mod rounding;
mod stores;
mod structure;
mod terminal;

pub(crate) use abreast::Abreast;
pub use assemble::Linearisation;
pub(crate) use equations::Equations;
pub(crate) use lane_drives::LaneDrives;
pub use ledger::Ledger;
pub use noise::NoiseAt;
pub use observe::{Observation, Quantity};
pub use reader::{Points, Reader};
pub use stores::Store;
pub use terminal::TerminalSlopes;

use constant::ConstantRows;

use crate::device::{
    Drive, HeatPath, Nonlinear, PartEntry, Piece, PlacedTrip, UnknownEntry, Wanted,
};
use crate::numeric::Pattern;

/// A nonlinear law with its places in z, in the rows and in the matrix.
#[derive(Clone, Debug)]
pub(crate) struct PlacedLaw {
    law: Nonlinear,
    part: usize,
    /// Each input is z\[first\] − z\[second\].
    inputs: Vec<[u32; 2]>,
    /// Rows each current leaves and enters.
    currents: Vec<[u32; 2]>,
    /// Rows each charge sits on.
    charges: Vec<[u32; 2]>,
    /// First of its charges among all nonlinear charges.
    first_charge: usize,
    /// First of its entries in [`Linearisation::charge_slopes`].
    first_slope: usize,
    /// First of its inputs among the inputs of all laws.
    first_input: usize,
    /// First of its currents among the currents of all laws.
    first_current: usize,
    /// Matrix slots of every (current, input): from-plus, from-minus, to-plus, to-minus.
    current_slots: Vec<[u32; 4]>,
    /// The same of every (charge, input).
    charge_slots: Vec<[u32; 4]>,
    /// Whether any input is a drive or time, so that it has a slope in time of its own.
    timed: bool,
}

/// The equations of one circuit.
#[derive(Clone, Debug)]
pub struct System {
    /// Unknowns; index 0 is ground.
    pub unknowns: Vec<UnknownEntry>,
    /// Parts, in the order laid.
    pub parts: Vec<PartEntry>,
    /// What sources and loads follow.
    pub drives: Vec<Drive>,
    /// States with hysteresis.
    pub trips: Vec<PlacedTrip>,
    /// Which of several rests is looked for first, if anything says so.
    pub wanted: Option<Wanted>,
    /// Heat paths, in the order laid.
    pub heat_paths: Vec<HeatPath>,
    /// For each unknown, whether it is determined only through a derivative (index 2).
    pub index_two: Vec<bool>,
    /// For each row, whether a charge or flux changes in it.
    pub dynamic_row: Vec<bool>,
    pattern: Pattern,
    statics: ConstantRows,
    /// Of these, what goes with levels of drives.
    driven: ConstantRows,
    charges: ConstantRows,
    static_values: Vec<f64>,
    charge_values: Vec<f64>,
    diagonal: Vec<u32>,
    laws: Vec<PlacedLaw>,
    law_charges: usize,
    law_slopes: usize,
    law_inputs: usize,
    law_currents: usize,
    terminals: Vec<Vec<observe::TerminalTerms>>,
    flows: Vec<ledger::Flow>,
    noise: Vec<noise::PlacedNoise>,
    initial_voltages: Vec<([usize; 2], f64, f64)>,
    initial_currents: Vec<(usize, f64)>,
    initial_charges: Vec<(usize, f64)>,
    stores: Vec<Store>,
}

/// The drives between two corners.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pieces {
    list: Vec<Piece>,
}

impl Pieces {
    /// The pieces themselves, in the order of [`System::drives`].
    pub fn list(&self) -> &[Piece] {
        &self.list
    }

    /// Holds one drive at a level.
    pub fn hold(&mut self, drive: usize, level: f64) {
        self.put(drive, Piece::Line { origin_s: 0.0, level, slope: 0.0 });
    }

    /// Has one drive follow a piece.
    pub fn put(&mut self, drive: usize, piece: Piece) {
        if let Some(place) = self.list.get_mut(drive) {
            *place = piece;
        }
    }

    /// The longest step that cannot miss a feature of any drive, in s.
    pub fn longest_step_s(&self) -> f64 {
        self.list.iter().map(Piece::longest_step_s).fold(f64::INFINITY, f64::min)
    }
}

impl System {
    /// Number of unknowns, ground not counted.
    pub fn n(&self) -> usize {
        self.unknowns.len() - 1
    }

    /// Length of the extended vector z.
    pub fn extent(&self) -> usize {
        self.unknowns.len() + self.drives.len() + 1
    }

    /// Number of nonlinear charges.
    pub fn law_charges(&self) -> usize {
        self.law_charges
    }

    /// Number of inputs of all laws together.
    pub fn law_inputs(&self) -> usize {
        self.law_inputs
    }

    /// Pattern of every matrix of this system (row and column = unknown − 1).
    pub fn pattern(&self) -> &Pattern {
        &self.pattern
    }

    /// Has every matrix eliminated from its start.
    #[cfg(test)]
    pub(crate) fn forget_what_varies(&mut self) {
        self.pattern = self.pattern.clone().without_varying();
    }

    /// Whether there is nothing nonlinear in it.
    pub fn is_linear(&self) -> bool {
        self.laws.is_empty()
    }

    /// The smooth pieces of all drives around `inside_s`, which must not be a corner.
    pub fn pieces(&self, inside_s: f64) -> Pieces {
        Pieces { list: self.drives.iter().map(|d| d.piece(inside_s)).collect() }
    }

    /// Writes drive levels and time into z.
    #[inline(always)]
    pub fn set_time(&self, pieces: &Pieces, t: f64, z: &mut [f64]) {
        let first = self.unknowns.len();
        for (level, piece) in z[first..].iter_mut().zip(&pieces.list) {
            *level = piece.value(t);
        }
        if let Some(last) = z.last_mut() {
            *last = t;
        }
    }

    /// Writes the slopes in time of drives and of time itself into a vector like z.
    #[inline(always)]
    pub fn set_slopes(&self, pieces: &Pieces, t: f64, slopes: &mut [f64]) {
        let first = self.unknowns.len();
        for (slope, piece) in slopes[first..].iter_mut().zip(&pieces.list) {
            *slope = piece.slope(t);
        }
        if let Some(last) = slopes.last_mut() {
            *last = 1.0;
        }
    }

    /// Writes M·x, the linear charges row by row, into `rows`.
    #[inline(always)]
    pub fn linear_charges(&self, z: &[f64], rows: &mut [f64]) {
        self.charges.times(z, rows, self.unknowns.len());
    }

    /// Capacitances that carry a voltage for a start from initial values: ends, F, V.
    pub fn initial_voltages(&self) -> &[([usize; 2], f64, f64)] {
        &self.initial_voltages
    }

    /// Inductor currents for a start from initial values: unknown, A.
    pub fn initial_currents(&self) -> &[(usize, f64)] {
        &self.initial_currents
    }

    /// Nonlinear charges for a start from initial values: which of them, C.
    pub fn initial_charges(&self) -> &[(usize, f64)] {
        &self.initial_charges
    }

    /// The part to name when the unknown `k` gives trouble: its own, else one with a nonlinear law
    /// on that node, else any on it.
    pub fn part_at(&self, k: usize) -> Option<&str> {
        let own = self.unknowns.get(k).and_then(|u| u.part);
        let nonlinear = || {
            let touches = |l: &&PlacedLaw| l.currents.iter().flatten().any(|&r| r as usize == k);
            self.laws.iter().find(touches).map(|l| l.part)
        };
        let any = || self.parts.iter().position(|p| p.pins.contains(&k));
        own.or_else(nonlinear).or_else(any).map(|p| self.parts[p].name.as_str())
    }

    /// The parts that have nonlinear laws, each as often as it has one.
    pub fn parts_with_laws(&self) -> impl Iterator<Item = usize> {
        self.laws.iter().map(|law| law.part)
    }

    /// Regions of all parts that have one, in the order of parts: (part, words).
    pub fn regions(&self, z: &[f64]) -> Vec<(String, &'static str)> {
        self.laws
            .iter()
            .filter_map(|l| Some((self.parts[l.part].name.clone(), assemble::region(l, z)?)))
            .collect()
    }
}
