//! Which unknowns are determined only through a derivative (index 2), from the structure alone.
//!
//! A voltage-type branch's current is index 2 if its ends stay connected through capacitors and
//! the other voltage-type branches; a node's voltage is index 2 if, with inductors and
//! current-type branches removed, it is cut off from ground and an inductor crosses the cut
//! (Tischendorf 1999 in the form used for circuits; conditions on the graph only).

use crate::device::{Element, GROUND, Law, Net, Visitor};

/// For each unknown of the net, whether it is index 2.
pub(super) fn index_two(net: &Net) -> Vec<bool> {
    let mut marked = vec![false; net.unknowns.len()];
    mark_currents(net, &mut marked);
    mark_nodes(net, &mut marked);
    marked
}

/// Ends and current unknown of a branch that fixes a voltage without resistance or inductance.
fn voltage_branch(element: &Element) -> Option<([usize; 2], usize)> {
    match element {
        Element::Branch { pins, current, resistance_ohm, inductance_h, .. }
            if *resistance_ohm == 0.0 && *inductance_h == 0.0 =>
        {
            Some((pins.map(|p| p.unknown), *current))
        }
        Element::LawVoltage { pins, current, .. } => Some((pins.map(|p| p.unknown), *current)),
        _ => None,
    }
}

fn mark_currents(net: &Net, marked: &mut [bool]) {
    let branches: Vec<_> = net.elements.iter().filter_map(|(_, e)| voltage_branch(e)).collect();
    for (skipped, &(ends, current)) in branches.iter().enumerate() {
        let mut groups = Groups::new(net.unknowns.len());
        for (_, element) in &net.elements {
            match element {
                Element::Capacitance { pins, .. } => groups.join(pins.map(|p| p.unknown)),
                Element::Law { charges, .. } => {
                    charges.iter().for_each(|c| groups.join(c.map(|p| p.unknown)));
                }
                _ => {}
            }
        }
        for (k, &(other, _)) in branches.iter().enumerate() {
            if k != skipped {
                groups.join(other);
            }
        }
        marked[current] = groups.same(ends[0], ends[1]);
    }
}

fn mark_nodes(net: &Net, marked: &mut [bool]) {
    let mut groups = Groups::new(net.unknowns.len());
    let mut inductors = Vec::new();
    for (_, element) in &net.elements {
        match element {
            Element::Conductance { pins, .. } | Element::Capacitance { pins, .. } => {
                groups.join(pins.map(|p| p.unknown));
            }
            Element::Branch { pins, inductance_h, .. } => {
                let ends = pins.map(|p| p.unknown);
                if *inductance_h == 0.0 { groups.join(ends) } else { inductors.push(ends) }
            }
            Element::LawVoltage { pins, .. } => groups.join(pins.map(|p| p.unknown)),
            Element::Law { law, currents, charges, .. } => {
                charges.iter().for_each(|c| groups.join(c.map(|p| p.unknown)));
                let ties = law.visit(Ties);
                for (pins, _) in currents.iter().zip(ties).filter(|(_, tie)| *tie) {
                    groups.join(pins.map(|p| p.unknown));
                }
            }
            Element::Transfer { .. } | Element::Source { .. } => {}
        }
    }
    for ends in inductors {
        if groups.same(ends[0], ends[1]) {
            continue;
        }
        for (k, entry) in net.unknowns.iter().enumerate().skip(1) {
            let cut_off = !groups.same(k, GROUND);
            let crossed = groups.same(k, ends[0]) || groups.same(k, ends[1]);
            marked[k] |= super::build::is_voltage(entry.role) && cut_off && crossed;
        }
    }
}

struct Ties;

impl Visitor for Ties {
    type Output = Vec<bool>;

    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Vec<bool> {
        law.resistive().to_vec()
    }
}

/// Disjoint sets of unknowns.
struct Groups {
    parent: Vec<usize>,
}

impl Groups {
    fn new(count: usize) -> Self {
        Self { parent: (0..count).collect() }
    }

    fn root(&mut self, mut k: usize) -> usize {
        while self.parent[k] != k {
            self.parent[k] = self.parent[self.parent[k]];
            k = self.parent[k];
        }
        k
    }

    fn join(&mut self, ends: [usize; 2]) {
        let (a, b) = (self.root(ends[0]), self.root(ends[1]));
        self.parent[a] = b;
    }

    fn same(&mut self, a: usize, b: usize) -> bool {
        self.root(a) == self.root(b)
    }
}
