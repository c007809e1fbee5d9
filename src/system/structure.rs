//! Which unknowns are determined only through a derivative (index 2), from the structure alone.
//!
//! A voltage-type branch's current is index 2 if its ends stay connected through capacitors and
//! the other voltage-type branches; a node's voltage is index 2 if, with inductors and
//! current-type branches removed, it is cut off from ground and an inductor crosses the cut
//! (Tischendorf 1999 in the form used for circuits; conditions on the graph only).

use crate::device::{Element, GROUND, Net, Pin};
use crate::numeric::Groups;

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
                Element::Capacitance { pins, .. } => join(&mut groups, pins),
                Element::Law { charges, .. } => {
                    charges.iter().for_each(|pins| join(&mut groups, pins));
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
                join(&mut groups, pins);
            }
            Element::Branch { pins, inductance_h, .. } => {
                let ends = pins.map(|p| p.unknown);
                if *inductance_h == 0.0 {
                    join(&mut groups, pins);
                } else {
                    inductors.push(ends);
                }
            }
            Element::LawVoltage { pins, .. } => join(&mut groups, pins),
            Element::Law { law, currents, charges, .. } => {
                charges.iter().for_each(|pins| join(&mut groups, pins));
                for (pins, _) in currents.iter().zip(law.resistive()).filter(|(_, tie)| *tie) {
                    join(&mut groups, pins);
                }
            }
            Element::Transfer { .. } | Element::Source { .. } | Element::Mutual { .. } => {}
        }
    }
    for ends in inductors {
        if groups.same(ends[0], ends[1]) {
            continue;
        }
        for (k, entry) in net.unknowns.iter().enumerate().skip(1) {
            let cut_off = !groups.same(k, GROUND);
            let crossed = groups.same(k, ends[0]) || groups.same(k, ends[1]);
            marked[k] |= entry.role.is_voltage() && cut_off && crossed;
        }
    }
}

fn join(groups: &mut Groups, pins: &[Pin; 2]) {
    groups.join(pins.map(|p| p.unknown));
}
