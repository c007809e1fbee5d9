//! Reads a net into the flat arrays of a [`System`].

use super::observe::{Term, TerminalTerms};
use super::{ConstantRows, PlacedLaw, System, structure};
use crate::device::{Control, Element, GROUND, Input, Net, Nonlinear, Pin, Role};
use crate::numeric::Pattern;
use std::collections::BTreeMap;

/// Entries gathered before they are compressed, keyed by (row, column) of z.
#[derive(Default)]
struct Gathered {
    statics: BTreeMap<(usize, usize), f64>,
    charges: BTreeMap<(usize, usize), f64>,
    places: Vec<(usize, usize)>,
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
        let mut gathered = Gathered::default();
        let count = net.unknowns.len();
        let drive_at = |d: usize| count + d;
        let time_at = count + net.drives.len();
        let mut laws = Vec::new();
        let mut terminals = empty_terminals(net);
        let mut initial_voltages = Vec::new();
        let mut initial_currents = Vec::new();

        for (part, element) in &net.elements {
            match element {
                Element::Conductance { pins, siemens } => {
                    let ends = unknowns(pins);
                    let mut add = |r, c, v| gathered.add_static(r, c, v);
                    Gathered::pair(&mut add, ends, ends, *siemens);
                    note(&mut terminals[*part], pins, &Term::Voltage(ends, *siemens));
                }
                Element::Capacitance { pins, farad, initial_v } => {
                    let ends = unknowns(pins);
                    let mut add = |r, c, v| gathered.add_charge(r, c, v);
                    Gathered::pair(&mut add, ends, ends, *farad);
                    note(&mut terminals[*part], pins, &Term::Rate(ends, *farad));
                    initial_voltages.extend(initial_v.map(|v| (ends, *farad, v)));
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
                    lay_branch(&mut gathered, pins, *current);
                    gathered.add_static(*current, *current, -resistance_ohm);
                    if *inductance_h != 0.0 {
                        gathered.add_charge(*current, *current, -inductance_h);
                    }
                    if let Some(d) = drive {
                        gathered.add_static(*current, drive_at(*d), -1.0);
                    }
                    if let Some((control, gain)) = control {
                        lay_control(&mut gathered, [*current, GROUND], *control, -gain);
                    }
                    note(&mut terminals[*part], pins, &Term::Unknown(*current, 1.0));
                    initial_currents.extend(initial_a.map(|i| (*current, i)));
                }
                Element::Transfer { pins, control, gain } => {
                    lay_control(&mut gathered, unknowns(pins), *control, *gain);
                    note(&mut terminals[*part], pins, &Term::of_control(*control, *gain));
                }
                Element::Source { pins, drive } => {
                    let [from, to] = unknowns(pins);
                    gathered.add_static(from, drive_at(*drive), 1.0);
                    gathered.add_static(to, drive_at(*drive), -1.0);
                    note(&mut terminals[*part], pins, &Term::Unknown(drive_at(*drive), 1.0));
                }
                Element::Law { law, inputs, currents, charges } => {
                    let read = |i: &Input| input_places(i, &drive_at, time_at);
                    let inputs: Vec<[usize; 2]> = inputs.iter().map(read).collect();
                    let rows = |pairs: &[[Pin; 2]]| pairs.iter().map(unknowns).collect::<Vec<_>>();
                    laws.push(RawLaw {
                        law: law.clone(),
                        part: *part,
                        inputs,
                        currents: rows(currents),
                        charges: rows(charges),
                    });
                    for (m, pins) in currents.iter().enumerate() {
                        note(&mut terminals[*part], pins, &Term::LawCurrent(laws.len() - 1, m));
                    }
                    for (k, pins) in charges.iter().enumerate() {
                        note(&mut terminals[*part], pins, &Term::LawCharge(laws.len() - 1, k));
                    }
                }
                Element::LawVoltage { pins, current, law, inputs } => {
                    lay_branch(&mut gathered, pins, *current);
                    let read = |i: &Input| input_places(i, &drive_at, time_at);
                    laws.push(RawLaw {
                        law: law.clone(),
                        part: *part,
                        inputs: inputs.iter().map(read).collect(),
                        // Read as a voltage: it is subtracted in the branch's own row.
                        currents: vec![[GROUND, *current]],
                        charges: Vec::new(),
                    });
                    note(&mut terminals[*part], pins, &Term::Unknown(*current, 1.0));
                }
            }
        }
        for law in &laws {
            for rows in law.currents.iter().chain(&law.charges) {
                for (row, column) in
                    rows.iter().flat_map(|r| law.inputs.iter().flatten().map(move |c| (*r, *c)))
                {
                    if row != GROUND && column != GROUND && column < count {
                        gathered.places.push((row, column));
                    }
                }
            }
        }
        compress(net, gathered, laws, terminals, initial_voltages, initial_currents)
    }
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

fn input_places(input: &Input, drive_at: &dyn Fn(usize) -> usize, time_at: usize) -> [usize; 2] {
    match *input {
        Input::Between(plus, minus) => [plus, minus],
        Input::Drive(d) => [drive_at(d), GROUND],
        Input::Time => [time_at, GROUND],
    }
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

/// Counts a current from the first pin to the second into the terminals it enters the part by.
fn note(terminals: &mut [TerminalTerms], pins: &[Pin; 2], term: &Term) {
    for (pin, sign) in pins.iter().zip([1.0, -1.0]) {
        if let Some(into) = pin.terminal.and_then(|k| terminals.get_mut(k)) {
            into.push((sign, term.clone()));
        }
    }
}

fn compress(
    net: &Net,
    gathered: Gathered,
    raw_laws: Vec<RawLaw>,
    terminals: Vec<Vec<TerminalTerms>>,
    initial_voltages: Vec<([usize; 2], f64, f64)>,
    initial_currents: Vec<(usize, f64)>,
) -> System {
    let count = net.unknowns.len();
    let n = count - 1;
    let inner = |(&(row, column), _): (&(usize, usize), &f64)| {
        (column < count).then(|| (row - 1, column - 1))
    };
    let places = gathered.statics.iter().filter_map(inner);
    let places = places.chain(gathered.charges.iter().filter_map(inner));
    let places = places.chain(gathered.places.iter().map(|&(r, c)| (r - 1, c - 1)));
    // The diagonal is always there: continuation conductances stand on it.
    let pattern = Pattern::from_entries(n, places.chain((0..n).map(|k| (k, k))));
    let trash = pattern.slots() as u32;
    let slot = |row: usize, column: usize| {
        let place =
            (row > 0 && column > 0 && column < count).then(|| pattern.slot(row - 1, column - 1));
        place.flatten().map_or(trash, |s| s as u32)
    };
    let values = |entries: &BTreeMap<(usize, usize), f64>| {
        let mut values = vec![0.0; pattern.slots() + 1];
        for (&(row, column), value) in entries {
            values[slot(row, column) as usize] += value;
        }
        values[pattern.slots()] = 0.0;
        values
    };
    let static_values = values(&gathered.statics);
    let charge_values = values(&gathered.charges);
    let diagonal = (0..count).map(|k| slot(k, k)).collect();

    let mut laws = Vec::with_capacity(raw_laws.len());
    let (mut law_charges, mut law_slopes, mut law_inputs, mut law_currents) = (0, 0, 0, 0);
    for raw in raw_laws {
        let slots = |rows: &[[usize; 2]]| -> Vec<[u32; 4]> {
            let each = |r: &[usize; 2]| {
                let r = *r;
                raw.inputs.iter().map(move |c| (r, *c)).collect::<Vec<_>>()
            };
            let place = |(r, c): ([usize; 2], [usize; 2])| {
                [slot(r[0], c[0]), slot(r[0], c[1]), slot(r[1], c[0]), slot(r[1], c[1])]
            };
            rows.iter().flat_map(each).map(place).collect()
        };
        let narrow = |pairs: &[[usize; 2]]| pairs.iter().map(|p| p.map(|k| k as u32)).collect();
        let placed = PlacedLaw {
            part: raw.part,
            inputs: narrow(&raw.inputs),
            currents: narrow(&raw.currents),
            charges: narrow(&raw.charges),
            first_charge: law_charges,
            first_slope: law_slopes,
            first_input: law_inputs,
            first_current: law_currents,
            current_slots: slots(&raw.currents),
            charge_slots: slots(&raw.charges),
            timed: raw.inputs.iter().any(|i| i[0] >= count),
            law: raw.law,
        };
        law_charges += placed.charges.len();
        law_slopes += placed.charges.len() * placed.inputs.len();
        law_inputs += placed.inputs.len();
        law_currents += placed.currents.len();
        laws.push(placed);
    }
    let mut dynamic_row = vec![false; count];
    for &(row, _) in gathered.charges.keys() {
        dynamic_row[row] = true;
    }
    for row in laws.iter().flat_map(|l| l.charges.iter().flatten()) {
        dynamic_row[*row as usize] = *row as usize != GROUND;
    }
    System {
        index_two: structure::index_two(net),
        unknowns: net.unknowns.clone(),
        parts: net.parts.clone(),
        drives: net.drives.clone(),
        dynamic_row,
        statics: rows_of(&gathered.statics, count),
        charges: rows_of(&gathered.charges, count),
        pattern,
        static_values,
        charge_values,
        diagonal,
        laws,
        law_charges,
        law_slopes,
        law_inputs,
        law_currents,
        terminals,
        initial_voltages,
        initial_currents,
    }
}

fn rows_of(entries: &BTreeMap<(usize, usize), f64>, count: usize) -> ConstantRows {
    let mut rows =
        ConstantRows { starts: vec![0; count + 1], entries: Vec::with_capacity(entries.len()) };
    for (&(row, column), &value) in entries {
        rows.entries.push((column as u32, value));
        rows.starts[row + 1] = rows.entries.len();
    }
    for k in 1..=count {
        rows.starts[k] = rows.starts[k].max(rows.starts[k - 1]);
    }
    rows
}

impl Term {
    fn of_control(control: Control, gain: f64) -> Term {
        match control {
            Control::Voltage(plus, minus) => Term::Voltage([plus, minus], gain),
            Control::Current(unknown) => Term::Unknown(unknown, gain),
        }
    }
}

/// Whether an unknown is a node's voltage.
pub(super) fn is_voltage(role: Role) -> bool {
    matches!(role, Role::Node | Role::InnerNode)
}
