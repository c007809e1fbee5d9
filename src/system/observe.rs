//! What can be read off a solved point: node voltages, terminal currents and powers of parts.

use super::System;

/// One contribution to the current into a terminal.
#[derive(Clone, Debug)]
pub(crate) enum Term {
    /// factor·(z\[first\] − z\[second\])
    Voltage([usize; 2], f64),
    /// factor·d/dt(z\[first\] − z\[second\])
    Rate([usize; 2], f64),
    /// factor·z\[index\]
    Unknown(usize, f64),
    /// A current of a law: which law, which current.
    LawCurrent(usize, usize),
    /// The rate of a charge of a law: which law, which charge.
    LawCharge(usize, usize),
}

/// Signed contributions to the current into one terminal.
pub(crate) type TerminalTerms = Vec<(f64, Term)>;

/// What to read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Voltage of an unknown against ground, or a branch current, as it stands in x.
    Unknown(usize),
    /// Current in A into terminal `.1` of part `.0`.
    Current(usize, usize),
    /// Power in W absorbed by a part.
    Power(usize),
    /// Level of a drive, in its own unit.
    Drive(usize),
}

/// Values of all laws at one point, from which quantities are read.
#[derive(Clone, Debug)]
pub struct Observation {
    z: Vec<f64>,
    rates: Vec<f64>,
    currents: Vec<f64>,
    charge_rates: Vec<f64>,
}

impl Observation {
    /// Of unknowns alone: voltages of nodes can be read from it, and nothing else.
    pub fn of_unknowns(x: &[f64]) -> Self {
        let nothing = Vec::new;
        Self { z: x.to_vec(), rates: nothing(), currents: nothing(), charge_rates: nothing() }
    }
}

impl System {
    /// Evaluates all laws at z; `rates` are the rates of z in 1/s.
    pub fn observe(&self, z: &[f64], rates: &[f64]) -> Observation {
        let mut seen = Observation {
            z: z.to_vec(),
            rates: rates.to_vec(),
            currents: vec![0.0; self.law_currents()],
            charge_rates: vec![0.0; self.law_charges()],
        };
        self.law_outputs(z, rates, &mut seen.currents, &mut seen.charge_rates);
        seen
    }

    /// Reads one quantity.
    pub fn read(&self, seen: &Observation, quantity: Quantity) -> f64 {
        match quantity {
            Quantity::Unknown(k) => seen.z[k],
            Quantity::Drive(d) => seen.z[self.unknowns.len() + d],
            Quantity::Current(part, terminal) => self.terminal_current(seen, part, terminal),
            Quantity::Power(part) => self.parts[part]
                .pins
                .iter()
                .enumerate()
                .map(|(terminal, &node)| seen.z[node] * self.terminal_current(seen, part, terminal))
                .sum(),
        }
    }

    fn terminal_current(&self, seen: &Observation, part: usize, terminal: usize) -> f64 {
        self.terminals[part][terminal].iter().map(|(sign, term)| sign * self.term(seen, term)).sum()
    }

    pub(super) fn term(&self, seen: &Observation, term: &Term) -> f64 {
        match *term {
            Term::Voltage([plus, minus], factor) => factor * (seen.z[plus] - seen.z[minus]),
            Term::Rate([plus, minus], factor) => factor * (seen.rates[plus] - seen.rates[minus]),
            Term::Unknown(k, factor) => factor * seen.z[k],
            Term::LawCurrent(law, m) => seen.currents[self.law_current_at(law, m)],
            Term::LawCharge(law, k) => seen.charge_rates[self.law_charge_at(law, k)],
        }
    }
}
