//! What an accountant asks of a point: currents and powers of all elements that store nothing,
//! and what the others store. No rates are needed, so a wrong waveform shows.

use super::System;
use super::observe::Term;
use crate::device::{GROUND, Role};

/// An element that stores nothing, or the part of one that does not.
#[derive(Clone, Debug)]
pub(crate) enum Flow {
    /// A current from the first unknown to the second.
    Current([usize; 2], Term),
    /// A branch from the first unknown to the second with its current; its flux is left out.
    Branch([usize; 2], usize),
}

/// Currents and powers at one point.
#[derive(Clone, Debug)]
pub struct Ledger {
    /// W given out by all elements that give.
    pub given_w: f64,
    /// W taken in by all elements that take.
    pub taken_w: f64,
    /// Current out of each node through elements that store nothing, in A, by unknown.
    pub leaving_a: Vec<f64>,
    /// Sum of the sizes of those currents in A, by unknown.
    pub sizes_a: Vec<f64>,
    /// Nonlinear charges in C, in the order of [`System::law_charge_ends`].
    pub law_charges_c: Vec<f64>,
    f: Vec<f64>,
    still: Vec<f64>,
}

impl Ledger {
    /// Room for a system's values.
    pub fn new(system: &System) -> Self {
        let rows = system.unknowns.len();
        Self {
            given_w: 0.0,
            taken_w: 0.0,
            leaving_a: vec![0.0; rows],
            sizes_a: vec![0.0; rows],
            law_charges_c: vec![0.0; system.law_charges()],
            f: vec![0.0; rows],
            still: vec![0.0; system.extent()],
        }
    }
}

impl System {
    /// Fills the ledger at z.
    pub fn enter(&self, z: &[f64], ledger: &mut Ledger) {
        self.evaluate(z, &mut ledger.f, &mut ledger.law_charges_c);
        let seen = self.observe(z, &ledger.still);
        (ledger.given_w, ledger.taken_w) = (0.0, 0.0);
        ledger.leaving_a.fill(0.0);
        ledger.sizes_a.fill(0.0);
        for flow in &self.flows {
            let (from, to, ampere, volt) = match flow {
                Flow::Current([from, to], term) => {
                    (*from, *to, self.term(&seen, term), z[*from] - z[*to])
                }
                // The row of a branch is its voltage less what the branch itself makes of it.
                Flow::Branch([from, to], current) => {
                    (*from, *to, z[*current], z[*from] - z[*to] - ledger.f[*current])
                }
            };
            let watt = volt * ampere;
            ledger.taken_w += watt.max(0.0);
            ledger.given_w += (-watt).max(0.0);
            ledger.leaving_a[from] += ampere;
            ledger.leaving_a[to] -= ampere;
            ledger.sizes_a[from] += ampere.abs();
            ledger.sizes_a[to] += ampere.abs();
        }
    }

    /// Energy in J of linear capacitances and inductances: Σ ½·C·v² + Σ ½·L·i². `rows` gets the
    /// linear charges (C) and, with the opposite sign, fluxes (V·s) by row.
    pub fn linear_energy_j(&self, z: &[f64], rows: &mut [f64]) -> f64 {
        self.linear_charges(z, rows);
        let products = self.unknowns.iter().zip(z.iter().zip(rows.iter())).skip(1);
        let signed = products.map(|(u, (x, q))| match u.role {
            Role::Temperature => 0.0,
            role if role.is_voltage() => x * q,
            _ => -x * q,
        });
        0.5 * signed.sum::<f64>()
    }

    /// The nodes between which each nonlinear charge sits: it on the first, its opposite on the
    /// second.
    pub fn law_charge_ends(&self) -> impl Iterator<Item = [usize; 2]> + '_ {
        self.laws.iter().flat_map(|law| &law.charges).map(|ends| ends.map(|k| k as usize))
    }

    /// Whether unknown `k` is the voltage of a node other than ground.
    pub fn is_node(&self, k: usize) -> bool {
        k != GROUND && self.unknowns.get(k).is_some_and(|u| u.role.is_voltage())
    }
}
