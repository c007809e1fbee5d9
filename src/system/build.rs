//! Reads a net into the flat arrays of a [`System`].

use super::ledger::Flow;
use super::observe::{Term, TerminalTerms};
use super::{ConstantRows, PlacedLaw, System, noise, stores, structure};
use crate::device::{Control, Element, GROUND, Input, Net, Nonlinear, Pin, Role};
use crate::numeric::Pattern;
use std::collections::BTreeMap;

/// Entries gathered before they are compressed, keyed by (row, column) of z.
#[derive(Default)]
struct Gathered {
    statics: BTreeMap<(usize, usize), f64>,
    charges: BTreeMap<(usize, usize), f64>,
}

impl Gathered {
    fn add_static(&mut self, row: usize, column: usize, value: f64) {
        if row != GROUND && column != GROUND {
            *self.statics.entry((row, column)).or_insert(0.0) += value;
        }
    }

    fn add_charge(&mut self, row: usize, column: usize, value: f64) {
        if row != GROUND && column != GROUND {
            *self.charges.entry((row, column)).or_insert(0.0) += value;
        }
    }

    /// A two-ended stamp of a value between `rows` that follows the voltage between `columns`.
    fn pair(add: &mut dyn FnMut(usize, usize, f64), rows: [usize; 2], columns: [usize; 2], g: f64) {
        add(rows[0], columns[0], g);
        add(rows[0], columns[1], -g);
        add(rows[1], columns[0], -g);
        add(rows[1], columns[1], g);
    }
}

impl System {
    /// Numbers and assembles a net.
    pub fn build(net: &Net) -> System {
        let mut builder = Builder::new(net);
        for (part, element) in &net.elements {
            builder.lay(*part, element);
        }
        builder.compress()
    }
}

/// A net on its way into flat arrays.
struct Builder<'a> {
    net: &'a Net,
    /// Number of unknowns, ground counted; drives and time follow behind them in z.
    count: usize,
    gathered: Gathered,
    laws: Vec<RawLaw>,
    terminals: Vec<Vec<TerminalTerms>>,
    flows: Vec<Flow>,
    initial_voltages: Vec<([usize; 2], f64, f64)>,
    initial_currents: Vec<(usize, f64)>,
    initial_charges: Vec<(usize, f64)>,
}

impl<'a> Builder<'a> {
    fn new(net: &'a Net) -> Self {
        Self {
            net,
            count: net.unknowns.len(),
            gathered: Gathered::default(),
            laws: Vec::new(),
            terminals: empty_terminals(net),
            flows: Vec::new(),
            initial_voltages: Vec::new(),
            initial_currents: Vec::new(),
            initial_charges: Vec::new(),
        }
    }

    fn drive_at(&self, drive: usize) -> usize {
        self.count + drive
    }

    fn input_places(&self, input: &Input) -> [usize; 2] {
        match *input {
            Input::Between(plus, minus) => [plus, minus],
            Input::Drive(d) => [self.drive_at(d), GROUND],
            Input::Time => [self.count + self.net.drives.len(), GROUND],
        }
    }

    /// Counts a current from the first pin to the second into the terminals it enters the part by.
    fn note(&mut self, part: usize, pins: &[Pin; 2], term: &Term) {
        for (pin, sign) in pins.iter().zip([1.0, -1.0]) {
            if let Some(into) = pin.terminal.and_then(|k| self.terminals[part].get_mut(k)) {
                // Most terminals have one term and never get another.
                if into.is_empty() {
                    into.reserve_exact(1);
                }
                into.push((sign, term.clone()));
            }
        }
    }

    /// A current of an element that stores nothing.
    fn flow(&mut self, part: usize, pins: &[Pin; 2], term: Term) {
        self.note(part, pins, &term);
        // Heat has books of its own.
        let heat = |pin: &Pin| self.net.unknowns[pin.unknown].role == Role::Temperature;
        if pins.iter().any(heat) {
            return;
        }
        self.flows.push(Flow::Current(unknowns(pins), term));
    }

    fn lay(&mut self, part: usize, element: &Element) {
        match element {
            Element::Conductance { pins, siemens } => {
                let ends = unknowns(pins);
                let mut add = |r, c, v| self.gathered.add_static(r, c, v);
                Gathered::pair(&mut add, ends, ends, *siemens);
                self.flow(part, pins, Term::Voltage(ends, *siemens));
            }
            Element::Capacitance { pins, farad, initial_v } => {
                let ends = unknowns(pins);
                let mut add = |r, c, v| self.gathered.add_charge(r, c, v);
                Gathered::pair(&mut add, ends, ends, *farad);
                self.note(part, pins, &Term::Rate(ends, *farad));
                self.initial_voltages.extend(initial_v.map(|v| (ends, *farad, v)));
            }
            Element::Branch {
                pins,
                current,
                resistance_ohm,
                inductance_h,
                initial_a,
                drive,
                control,
            } => {
                lay_branch(&mut self.gathered, pins, *current);
                self.gathered.add_static(*current, *current, -resistance_ohm);
                if *inductance_h != 0.0 {
                    self.gathered.add_charge(*current, *current, -inductance_h);
                }
                if let Some(d) = drive {
                    let column = self.drive_at(*d);
                    self.gathered.add_static(*current, column, -1.0);
                }
                if let Some((control, gain)) = control {
                    lay_control(&mut self.gathered, [*current, GROUND], *control, -gain);
                }
                self.flows.push(Flow::Branch(unknowns(pins), *current));
                self.note(part, pins, &Term::Unknown(*current, 1.0));
                self.initial_currents.extend(initial_a.map(|i| (*current, i)));
            }
            Element::Mutual { currents: [a, b], henry } => {
                self.gathered.add_charge(*a, *b, -henry);
                self.gathered.add_charge(*b, *a, -henry);
            }
            Element::Transfer { pins, control, gain } => {
                lay_control(&mut self.gathered, unknowns(pins), *control, *gain);
                self.flow(part, pins, Term::of_control(*control, *gain));
            }
            Element::Source { pins, drive } => {
                let ([from, to], column) = (unknowns(pins), self.drive_at(*drive));
                self.gathered.add_static(from, column, 1.0);
                self.gathered.add_static(to, column, -1.0);
                self.flow(part, pins, Term::Unknown(column, 1.0));
            }
            Element::Law { law, inputs, currents, charges, initial_c } => {
                let before = || self.laws.iter().map(|law| law.charges.len()).sum();
                self.initial_charges.extend(initial_c.map(|coulomb| (before(), coulomb)));
                for (m, pins) in currents.iter().enumerate() {
                    self.flow(part, pins, Term::LawCurrent(self.laws.len(), m));
                }
                for (k, pins) in charges.iter().enumerate() {
                    self.note(part, pins, &Term::LawCharge(self.laws.len(), k));
                }
                let rows = |pairs: &[[Pin; 2]]| pairs.iter().map(unknowns).collect::<Vec<_>>();
                let inputs = inputs.iter().map(|i| self.input_places(i)).collect();
                let (currents, charges) = (rows(currents), rows(charges));
                self.laws.push(RawLaw { law: (**law).clone(), part, inputs, currents, charges });
            }
            Element::LawVoltage { pins, current, law, inputs } => {
                lay_branch(&mut self.gathered, pins, *current);
                let inputs = inputs.iter().map(|i| self.input_places(i)).collect();
                // The law's current is read as a voltage: it is subtracted in the branch's own row.
                let currents = vec![[GROUND, *current]];
                self.laws.push(RawLaw {
                    law: (**law).clone(),
                    part,
                    inputs,
                    currents,
                    charges: Vec::new(),
                });
                self.flows.push(Flow::Branch(unknowns(pins), *current));
                self.note(part, pins, &Term::Unknown(*current, 1.0));
            }
        }
    }

    /// Everywhere an entry may ever stand, rows and columns counted without ground. The diagonal
    /// is always there: continuation conductances stand on it.
    fn pattern(&self) -> Pattern {
        let inner = |(row, column): (usize, usize)| {
            (row != GROUND && column != GROUND && column < self.count)
                .then(|| (row - 1, column - 1))
        };
        let constant = self.gathered.statics.keys().chain(self.gathered.charges.keys()).copied();
        let of_laws = self.laws.iter().flat_map(|law| {
            let rows = law.currents.iter().chain(&law.charges).flatten();
            rows.flat_map(|r| law.inputs.iter().flatten().map(move |c| (*r, *c)))
        });
        let n = self.count - 1;
        let places = constant.chain(of_laws).filter_map(inner);
        Pattern::from_entries(n, places.chain((0..n).map(|k| (k, k))))
    }

    fn dynamic_rows(&self) -> Vec<bool> {
        let mut dynamic = vec![false; self.count];
        for &(row, _) in self.gathered.charges.keys() {
            dynamic[row] = true;
        }
        for &row in self.laws.iter().flat_map(|l| l.charges.iter().flatten()) {
            dynamic[row] = row != GROUND;
        }
        dynamic
    }

    fn compress(self) -> System {
        let pattern = self.pattern();
        let slots = Slots { pattern: &pattern, count: self.count };
        let laws = place_laws(&self.laws, &slots);
        let extent = self.count + self.net.drives.len() + 1;
        let sum = |size: fn(&PlacedLaw) -> usize| laws.iter().map(size).sum::<usize>();
        System {
            index_two: structure::index_two(self.net),
            unknowns: self.net.unknowns.clone(),
            parts: self.net.parts.clone(),
            drives: self.net.drives.clone(),
            trips: self.net.trips.clone(),
            wanted: self.net.wanted,
            heat_paths: self.net.heat_paths.clone(),
            dynamic_row: self.dynamic_rows(),
            statics: ConstantRows::new(&self.gathered.statics, extent, |_| true),
            driven: ConstantRows::new(&self.gathered.statics, extent, |k| k >= self.count),
            charges: ConstantRows::new(&self.gathered.charges, extent, |_| true),
            static_values: slots.values(&self.gathered.statics),
            charge_values: slots.values(&self.gathered.charges),
            diagonal: (0..self.count).map(|k| slots.of(k, k)).collect(),
            law_charges: sum(|l| l.charges.len()),
            law_slopes: sum(|l| l.charges.len() * l.inputs.len()),
            law_inputs: sum(|l| l.inputs.len()),
            law_currents: sum(|l| l.currents.len()),
            pattern: pattern.with_varying(varying_slots(&laws)),
            laws,
            terminals: self.terminals,
            flows: self.flows,
            noise: noise::placed(self.net),
            initial_voltages: self.initial_voltages,
            initial_currents: self.initial_currents,
            initial_charges: self.initial_charges,
            stores: stores::constant(self.net),
        }
    }
}

/// Where entries stand in the arrays of matrix values; what falls on ground or on a drive goes to
/// one more slot behind the pattern's.
struct Slots<'a> {
    pattern: &'a Pattern,
    count: usize,
}

impl Slots<'_> {
    fn of(&self, row: usize, column: usize) -> u32 {
        let inside = row != GROUND && column != GROUND && column < self.count;
        let slot = inside.then(|| self.pattern.slot(row - 1, column - 1)).flatten();
        slot.unwrap_or(self.pattern.slots()) as u32
    }

    fn values(&self, entries: &BTreeMap<(usize, usize), f64>) -> Vec<f64> {
        let mut values = vec![0.0; self.pattern.slots() + 1];
        for (&(row, column), value) in entries {
            values[self.of(row, column) as usize] += value;
        }
        values[self.pattern.slots()] = 0.0;
        values
    }

    /// The four slots of every pair of row ends and input ends.
    fn quadruples(&self, rows: &[[usize; 2]], inputs: &[[usize; 2]]) -> Vec<[u32; 4]> {
        let pairs = rows.iter().flat_map(|r| inputs.iter().map(move |c| (r, c)));
        pairs
            .map(|(r, c)| {
                [self.of(r[0], c[0]), self.of(r[0], c[1]), self.of(r[1], c[0]), self.of(r[1], c[1])]
            })
            .collect()
    }
}

fn place_laws(raw_laws: &[RawLaw], slots: &Slots<'_>) -> Vec<PlacedLaw> {
    let narrow = |pairs: &[[usize; 2]]| pairs.iter().map(|p| p.map(|k| k as u32)).collect();
    let (mut first_charge, mut first_slope, mut first_input, mut first_current) = (0, 0, 0, 0);
    let mut laws = Vec::with_capacity(raw_laws.len());
    for raw in raw_laws {
        laws.push(PlacedLaw {
            law: raw.law.clone(),
            part: raw.part,
            inputs: narrow(&raw.inputs),
            currents: narrow(&raw.currents),
            charges: narrow(&raw.charges),
            first_charge,
            first_slope,
            first_input,
            first_current,
            current_slots: slots.quadruples(&raw.currents, &raw.inputs),
            charge_slots: slots.quadruples(&raw.charges, &raw.inputs),
            timed: raw.inputs.iter().any(|i| i[0] >= slots.count),
        });
        first_charge += raw.charges.len();
        first_slope += raw.charges.len() * raw.inputs.len();
        first_input += raw.inputs.len();
        first_current += raw.currents.len();
    }
    laws
}

/// Slots that laws put values into: they vary from one point to the next.
fn varying_slots(laws: &[PlacedLaw]) -> Vec<usize> {
    let all = laws.iter().flat_map(|law| law.current_slots.iter().chain(&law.charge_slots));
    all.flatten().map(|&slot| slot as usize).collect()
}

struct RawLaw {
    law: Nonlinear,
    part: usize,
    inputs: Vec<[usize; 2]>,
    currents: Vec<[usize; 2]>,
    charges: Vec<[usize; 2]>,
}

fn unknowns(pins: &[Pin; 2]) -> [usize; 2] {
    [pins[0].unknown, pins[1].unknown]
}

/// The current of a branch leaves and enters its ends; its own row reads the voltage across them.
fn lay_branch(gathered: &mut Gathered, pins: &[Pin; 2], current: usize) {
    let [from, to] = unknowns(pins);
    gathered.add_static(from, current, 1.0);
    gathered.add_static(to, current, -1.0);
    gathered.add_static(current, from, 1.0);
    gathered.add_static(current, to, -1.0);
}

fn lay_control(gathered: &mut Gathered, rows: [usize; 2], control: Control, gain: f64) {
    match control {
        Control::Voltage(plus, minus) => {
            let mut add = |r, c, v| gathered.add_static(r, c, v);
            Gathered::pair(&mut add, rows, [plus, minus], gain);
        }
        Control::Current(unknown) => {
            gathered.add_static(rows[0], unknown, gain);
            gathered.add_static(rows[1], unknown, -gain);
        }
    }
}

fn empty_terminals(net: &Net) -> Vec<Vec<TerminalTerms>> {
    net.parts.iter().map(|p| vec![TerminalTerms::default(); p.terminals.len()]).collect()
}

impl Term {
    fn of_control(control: Control, gain: f64) -> Term {
        match control {
            Control::Voltage(plus, minus) => Term::Voltage([plus, minus], gain),
            Control::Current(unknown) => Term::Unknown(unknown, gain),
        }
    }
}
