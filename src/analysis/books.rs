//! The books of a transient: energy over the circuit and charge at every node, drawn up afterwards
//! from the record alone.
//!
//! Over every stretch of the record, what elements without storage took and gave is integrated on
//! the integrator's own curve (three-point Gauss–Legendre), and what is stored is taken from the
//! points at its ends: ½·C·v² and ½·L·i² where charge and flux are linear, and
//! ∫v dq = v₁·(q₁ − q₀) − ∫(q − q₀) dv along the curve where they are not, since the charges of
//! a transistor need no energy function. No rate of change enters: a point or a charge that is
//! wrong leaves a gap. Jumps take no time, and what a source does to a capacitor in one is not
//! seen; stretches without length are left out.

use super::record::Record;
use crate::system::{Ledger, System};

/// √(3/5): the outer nodes of the three-point rule on (−1, 1).
const OUTER: f64 = 0.774_596_669_241_483_4;
/// Shares of a stretch at which powers are read, with their weights.
const GAUSS: [(f64, f64); 3] =
    [(0.5 * (1.0 - OUTER), 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.5 * (1.0 + OUTER), 5.0 / 18.0)];

/// What passed and what is missing at one place.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Account {
    /// J or C that passed.
    pub passed: f64,
    /// J or C stored or let go, sizes summed stretch by stretch.
    pub stored: f64,
    /// J or C missing at the end of the record; negative: too much.
    pub missing: f64,
    /// Largest size of what was missing at any point of the record. A wrong capacitor that returns
    /// to where it was is in balance at the end, but not on the way.
    pub worst: f64,
}

impl Account {
    /// Missing at the worst point over all that passed; 0 where nothing passed.
    pub fn residual(&self) -> f64 {
        share(self.worst, self.passed)
    }

    /// Missing at the worst point over all stored and let go: a long rest, through which much
    /// passes while nothing changes, does not dilute it.
    pub fn residual_of_stored(&self) -> f64 {
        share(self.worst, self.stored)
    }

    fn book(&mut self, passed: f64, stored: f64, gap: f64) {
        self.passed += passed;
        self.stored += stored.abs();
        self.missing += gap;
        self.worst = self.worst.max(self.missing.abs());
    }
}

fn share(part: f64, whole: f64) -> f64 {
    if whole > 0.0 { part / whole } else { 0.0 }
}

/// The books of one record.
#[derive(Clone, Debug)]
pub struct Books {
    /// Energy in J over the whole circuit.
    pub energy: Account,
    /// Charge in C by unknown; empty accounts where the unknown is no node.
    pub charge: Vec<Account>,
}

impl Books {
    /// Draws up the books of a record of `system`.
    pub fn of(system: &System, record: &Record) -> Self {
        let mut clerk = Clerk::new(system);
        for k in 0..record.len().saturating_sub(1) {
            if record.times_s()[k + 1] > record.times_s()[k] {
                clerk.stretch(record, k);
            }
        }
        clerk.books
    }
}

/// What the ends of a stretch hold.
struct End {
    z: Vec<f64>,
    /// Linear charges by row, C.
    rows: Vec<f64>,
    linear_j: f64,
    law_charges_c: Vec<f64>,
}

struct Clerk<'a> {
    system: &'a System,
    ends: Vec<[usize; 2]>,
    ledger: Ledger,
    z: Vec<f64>,
    books: Books,
}

impl<'a> Clerk<'a> {
    fn new(system: &'a System) -> Self {
        let charge = vec![Account::default(); system.unknowns.len()];
        Self {
            system,
            ends: system.law_charge_ends().collect(),
            ledger: Ledger::new(system),
            z: vec![0.0; system.extent()],
            books: Books { energy: Account::default(), charge },
        }
    }

    /// Point `at` as an end of the stretch after point `k`.
    fn end(&self, record: &Record, k: usize, at: usize) -> End {
        let mut z = vec![0.0; self.system.extent()];
        let point = record.point(at);
        z[..point.x.len()].copy_from_slice(point.x);
        self.system.set_time(record.pieces_after(k), point.t, &mut z);
        let mut rows = vec![0.0; self.system.unknowns.len()];
        let mut law_charges_c = vec![0.0; self.system.law_charges()];
        self.system.evaluate(&z, &mut rows, &mut law_charges_c);
        let linear_j = self.system.linear_energy_j(&z, &mut rows);
        End { z, rows, linear_j, law_charges_c }
    }

    fn stretch(&mut self, record: &Record, k: usize) {
        let (t0, t1) = (record.times_s()[k], record.times_s()[k + 1]);
        let h = t1 - t0;
        let (from, to) = (self.end(record, k, k), self.end(record, k, k + 1));
        let mut stored_j = to.linear_j - from.linear_j;
        let mut kept: Vec<f64> = to.rows.iter().zip(&from.rows).map(|(b, a)| b - a).collect();
        let changes = to.law_charges_c.iter().zip(&from.law_charges_c).map(|(b, a)| b - a);
        for (&[plus, minus], change) in self.ends.iter().zip(changes) {
            stored_j += (to.z[plus] - to.z[minus]) * change;
            kept[plus] += change;
            kept[minus] -= change;
        }
        let (mut given_j, mut taken_j) = (0.0, 0.0);
        let mut left_c = vec![0.0; kept.len()];
        let mut moved_c = vec![0.0; kept.len()];
        for (theta, weight) in GAUSS {
            record.between(k, theta, &mut self.z);
            let t = t0 + theta * h;
            self.system.set_time(record.pieces_after(k), t, &mut self.z);
            self.system.enter(&self.z, &mut self.ledger);
            given_j += weight * h * self.ledger.given_w;
            taken_j += weight * h * self.ledger.taken_w;
            let currents = self.ledger.leaving_a.iter().zip(&self.ledger.sizes_a);
            for ((left, moved), (leaving, size)) in
                left_c.iter_mut().zip(&mut moved_c).zip(currents)
            {
                *left += weight * h * leaving;
                *moved += weight * h * size;
            }
            let charges = self.ledger.law_charges_c.iter().zip(&from.law_charges_c);
            for (&[plus, minus], (now, before)) in self.ends.iter().zip(charges) {
                let way =
                    record.stretch(k).slope(theta, plus) - record.stretch(k).slope(theta, minus);
                stored_j -= weight * (now - before) * way;
            }
        }
        let gap = taken_j - given_j + stored_j;
        self.books.energy.book(given_j.max(taken_j), stored_j, gap);
        for (node, account) in self.books.charge.iter_mut().enumerate() {
            if self.system.is_node(node) {
                // What enters a node leaves it: half of all that moved is what passed.
                let passed = 0.5 * (moved_c[node] + kept[node].abs());
                account.book(passed, kept[node], left_c[node] + kept[node]);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::super::{
        DEFAULT_WORK_LIMIT, Method, Start, Transient, TransientOptions, operating_point,
    };
    use super::*;
    use crate::device::Net;

    const OHM: f64 = 1e3;
    const FARAD: f64 = 1e-6;

    /// 1 µF at 1 V let go through 1 kΩ for five time constants.
    fn discharge() -> (System, Record) {
        let mut net = Net::new();
        let pins = net.begin_part("C1", &["a", "b"], &["top", "gnd"]);
        net.capacitance([pins[0], pins[1]], FARAD, Some(1.0));
        let pins = net.begin_part("R1", &["a", "b"], &["top", "gnd"]);
        net.conductance([pins[0], pins[1]], 1.0 / OHM);
        let system = System::build(&net);
        let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).unwrap();
        let options = TransientOptions {
            method: Method::Rodas4p,
            node_tolerance_v: 1e-6,
            start: Start::InitialValues,
            work_limit: DEFAULT_WORK_LIMIT,
        };
        let mut transient = Transient::new(&system, options);
        transient.run(&rest, 5.0 * OHM * FARAD).unwrap();
        let record = transient.record.clone();
        (system, record)
    }

    /// The resistor takes ½·C·V²·(1 − e^(−10)), and C·V·(1 − e^(−5)) passes through it.
    #[test]
    fn exact_a_discharge_passes_what_the_capacitor_held() {
        let (system, record) = discharge();
        let books = Books::of(&system, &record);
        let energy = 0.5 * FARAD * (1.0 - (-10.0_f64).exp());
        let charge = FARAD * (1.0 - (-5.0_f64).exp());
        // A tolerance of 1 µV of 1 V.
        assert!((books.energy.passed / energy - 1.0).abs() < 1e-6, "{:?}", books.energy);
        assert!((books.energy.stored / energy - 1.0).abs() < 1e-6, "{:?}", books.energy);
        assert!((books.charge[1].passed / charge - 1.0).abs() < 1e-6, "{:?}", books.charge[1]);
        assert!(books.energy.residual() < 1e-6, "{:?}", books.energy);
        assert!(books.charge[1].residual() < 1e-6, "{:?}", books.charge[1]);
    }

    #[test]
    fn a_point_off_by_a_millivolt_leaves_a_gap() {
        let (system, record) = discharge();
        for k in 1..record.len() - 1 {
            let mut wrong = record.clone();
            *wrong.value_mut(k, 1) += 1e-3;
            let books = Books::of(&system, &wrong);
            // 1 mV on a capacitor of 1 µF is 1 nC, which no current brought.
            let gap = books.charge[1].worst;
            assert!(gap > 0.5e-9, "point {k}: {gap:e} C");
            let joule = FARAD * 1e-3 * record.value(k, 1);
            assert!(books.energy.worst > 0.5 * joule, "point {k}: {:?}", books.energy);
        }
    }
}
