//! What no equation could decide: nodes without a DC path to ground, loops of voltage sources,
//! and jumps of current that only inductors could carry.

use super::{Circuit, Variant};
use crate::device::{Control, Drive, Element, GROUND, Input, Net, Nonlinear, Pin, Role, Shape};
use crate::diagnostic::{Diagnostic, Span};
use crate::numeric::Groups;
use crate::quantity::Dimension;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// How a test begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// From the operating point: capacitors carry no current, inductors have no voltage.
    OperatingPoint,
    /// From the initial values of capacitors and inductors.
    InitialValues,
}

/// The most loops told: in a large mesh each further branch closes another.
const MOST_LOOPS: usize = 20;

/// The most jumps without a way that are told: for each, all elements are looked at.
const MOST_JUMPS: usize = 20;

/// The most groups of nodes without a DC path that are told: for each, all elements are looked at.
const MOST_ISLANDS: usize = 20;

/// The most nodes named in one message.
const MOST_NAMED: usize = 4;

impl Circuit {
    /// Checks a variant as it stands, to be started from its operating point.
    pub fn check_topology(&self, variant: &Variant) -> Vec<Diagnostic> {
        self.check_topology_of_test(variant, &[], Start::OperatingPoint)
    }

    /// Checks a variant as a test drives it.
    pub fn check_topology_of_test(
        &self,
        variant: &Variant,
        drives: &[(String, Drive)],
        start: Start,
    ) -> Vec<Diagnostic> {
        let net = variant.net(drives);
        let check = Check { circuit: self, variant, net: &net, start };
        let mut told = check.floating();
        told.extend(check.loops());
        told.extend(check.jumps());
        told
    }
}

/// The two unknowns at the ends of an element.
fn ends(pins: &[Pin; 2]) -> [usize; 2] {
    pins.map(|pin| pin.unknown)
}

/// Ends of the currents that tie the voltages there together.
fn resistive_pins<'e>(law: &Nonlinear, currents: &'e [[Pin; 2]]) -> Vec<&'e [Pin; 2]> {
    currents.iter().zip(law.resistive()).filter(|(_, tie)| *tie).map(|(pins, _)| pins).collect()
}

struct Check<'a> {
    circuit: &'a Circuit,
    variant: &'a Variant,
    net: &'a Net,
    start: Start,
}

impl Check<'_> {
    fn span(&self, part: usize) -> Option<Span> {
        self.circuit.part_span(&self.net.parts.get(part)?.name)
    }

    fn part_name(&self, part: usize) -> &str {
        self.net.parts.get(part).map_or("", |p| p.name.as_str())
    }

    fn error(&self, part: Option<usize>, message: String) -> Diagnostic {
        match part.and_then(|part| self.span(part)) {
            Some(span) => Diagnostic::error(span, message),
            None => Diagnostic::without_place(message),
        }
    }

    fn node_name(&self, unknown: usize) -> String {
        self.net.unknowns.get(unknown).map_or_else(String::new, |u| format!("`{}`", u.name))
    }

    /// Groups of nodes that no direct current can leave or enter at will.
    fn floating(&self) -> Vec<Diagnostic> {
        let mut groups = Groups::new(self.net.unknowns.len());
        for (_, element) in &self.net.elements {
            match element {
                Element::Conductance { pins, .. }
                | Element::Branch { pins, .. }
                | Element::LawVoltage { pins, .. } => {
                    groups.join(ends(pins));
                }
                Element::Transfer { pins, control: Control::Voltage(c, d), .. }
                    if pins.map(|p| p.unknown) == [*c, *d] =>
                {
                    groups.join(ends(pins));
                }
                Element::Capacitance { pins, initial_v: Some(_), .. }
                    if self.start == Start::InitialValues =>
                {
                    groups.join(ends(pins));
                }
                Element::Law { law, currents, charges, initial_c, .. } => {
                    for pins in resistive_pins(law, currents) {
                        groups.join(ends(pins));
                    }
                    if initial_c.is_some() && self.start == Start::InitialValues {
                        charges.iter().for_each(|pins| {
                            groups.join(ends(pins));
                        });
                    }
                }
                _ => {}
            }
        }
        let mut islands: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (unknown, entry) in self.net.unknowns.iter().enumerate() {
            let is_node = matches!(entry.role, Role::Ground | Role::Node | Role::InnerNode);
            if is_node && groups.root(unknown) != GROUND {
                islands.entry(groups.root(unknown)).or_default().push(unknown);
            }
        }
        islands.values().take(MOST_ISLANDS).map(|nodes| self.floating_told(nodes)).collect()
    }

    fn floating_told(&self, nodes: &[usize]) -> Diagnostic {
        // In order, as they were gathered.
        let inside = |pin: &Pin| nodes.binary_search(&pin.unknown).is_ok();
        let crosses = |pins: &[Pin; 2]| inside(&pins[0]) != inside(&pins[1]);
        let forced = self.net.elements.iter().any(|(_, element)| match element {
            Element::Source { pins, .. } | Element::Transfer { pins, .. } => crosses(pins),
            Element::Law { currents, .. } => currents.iter().any(crosses),
            _ => false,
        });
        let through_capacitors = self.net.elements.iter().any(|(_, element)| match element {
            Element::Capacitance { pins, .. } => crosses(pins),
            Element::Law { charges, .. } => charges.iter().any(crosses),
            _ => false,
        });
        let named: Vec<String> =
            nodes.iter().take(MOST_NAMED).map(|n| self.node_name(*n)).collect();
        let more = if nodes.len() > MOST_NAMED { " and others" } else { "" };
        let (noun, has, them) =
            if nodes.len() == 1 { ("node", "has", "it") } else { ("nodes", "have", "them") };
        let named = named.join(", ");
        let why = match (forced, through_capacitors) {
            (true, true) => format!(": only current sources and capacitors reach {them}"),
            (true, false) => format!(": only current sources reach {them}"),
            (false, true) => format!(": only capacitors reach {them}"),
            (false, false) => String::new(),
        };
        let message = format!("{noun} {named}{more} {has} no DC path to `gnd`{why}");
        let touching = self
            .net
            .parts
            .iter()
            .position(|p| p.pins.iter().any(|pin| nodes.binary_search(pin).is_ok()));
        let first = nodes.first().map_or_else(String::new, |n| self.node_name(*n));
        self.error(touching, message).label("its voltage cannot be found").hint(format!(
            "connect a resistor from {first} to a node with a DC path, or start from initial values"
        ))
    }

    /// Branches that fix the voltage between two nodes with no resistance to share it.
    fn rigid(&self) -> Vec<(usize, [usize; 2])> {
        let in_dc = self.start == Start::OperatingPoint;
        let rigid = |(part, element): &(usize, Element)| match element {
            Element::Branch { pins, resistance_ohm, inductance_h, .. } => {
                let fixed = *resistance_ohm == 0.0 && (*inductance_h == 0.0 || in_dc);
                fixed.then(|| (*part, pins.map(|p| p.unknown)))
            }
            Element::LawVoltage { pins, .. } => Some((*part, pins.map(|p| p.unknown))),
            _ => None,
        };
        self.net.elements.iter().filter_map(rigid).collect()
    }

    fn loops(&self) -> Vec<Diagnostic> {
        let mut groups = Groups::new(self.net.unknowns.len());
        let mut laid: Vec<(usize, [usize; 2])> = Vec::new();
        let mut told = Vec::new();
        for (part, ends) in self.rigid() {
            if !groups.join(ends) && told.len() < MOST_LOOPS {
                told.push(self.loop_told(part, ends, &laid));
            }
            laid.push((part, ends));
        }
        told
    }

    fn loop_told(&self, part: usize, ends: [usize; 2], laid: &[(usize, [usize; 2])]) -> Diagnostic {
        let mut others = way(ends, laid);
        others.sort_unstable();
        others.dedup();
        let name = |part: &usize| format!("`{}`", self.part_name(*part));
        let message = if others.is_empty() {
            format!(
                "{} short-circuits itself: both its ends are at {}",
                name(&part),
                self.node_name(ends[0])
            )
        } else {
            let all: Vec<String> = others.iter().chain([&part]).map(name).collect();
            format!("{} form a loop without resistance", all.join(", "))
        };
        let mut mistake = self.error(Some(part), message).label("its current cannot be found");
        for (other, span) in others.iter().filter_map(|o| Some((o, self.span(*o)?))) {
            mistake = mistake.also(span, format!("with {}", name(other)));
        }
        mistake.hint("give one of them a resistance (inductors count as wires in DC)")
    }

    /// Current drives that jump where only inductors could carry the jump.
    fn jumps(&self) -> Vec<Diagnostic> {
        let jumping: BTreeSet<usize> = (0..self.net.drives.len())
            .filter(|&d| {
                let corners =
                    self.net.drives[d].corners(f64::NEG_INFINITY, first_round(&self.net.drives[d]));
                corners.iter().any(|corner| corner.jump)
            })
            .collect();
        let mut all = jumping.first().map(|_| self.carriers(None));
        let mut told = Vec::new();
        for (index, (part, element)) in self.net.elements.iter().enumerate() {
            let forced: Vec<[Pin; 2]> = match element {
                Element::Source { pins, drive } if jumping.contains(drive) => vec![*pins],
                Element::Law { inputs, currents, .. } if self.drives_current(*part) => {
                    let jumps = |i: &Input| matches!(i, Input::Drive(d) if jumping.contains(d));
                    if inputs.iter().any(jumps) { currents.clone() } else { Vec::new() }
                }
                _ => Vec::new(),
            };
            for pins in forced {
                if told.len() >= MOST_JUMPS {
                    return told;
                }
                let ends = pins.map(|pin| pin.unknown);
                // A source carries nothing itself, so that all others are the same for each.
                let source = matches!(element, Element::Source { .. });
                if source && all.as_mut().is_some_and(|all| all.same(ends[0], ends[1])) {
                    continue;
                }
                told.extend(self.jump_told(index, *part, pins));
            }
        }
        told
    }

    /// Whether what a part's drive sets is a current or power: a resistance may jump anywhere.
    fn drives_current(&self, part: usize) -> bool {
        let driven = self.variant.part(self.part_name(part)).and_then(|p| p.driven);
        driven.is_none_or(|(_, unit)| unit != Dimension::OHM)
    }

    /// Nodes between which a jump of current can flow, one element left out.
    fn carriers(&self, without: Option<usize>) -> Groups {
        let mut groups = Groups::new(self.net.unknowns.len());
        for (other, (_, element)) in self.net.elements.iter().enumerate() {
            match element {
                _ if Some(other) == without => {}
                Element::Conductance { pins, .. }
                | Element::Capacitance { pins, .. }
                | Element::LawVoltage { pins, .. } => {
                    groups.join(ends(pins));
                }
                Element::Branch { pins, inductance_h, .. } if *inductance_h == 0.0 => {
                    groups.join(ends(pins));
                }
                Element::Law { law, currents, charges, .. } => {
                    for pins in resistive_pins(law, currents).into_iter().chain(charges) {
                        groups.join(ends(pins));
                    }
                }
                _ => {}
            }
        }
        groups
    }

    fn jump_told(&self, index: usize, part: usize, pins: [Pin; 2]) -> Option<Diagnostic> {
        let mut groups = self.carriers(Some(index));
        if groups.root(pins[0].unknown) == groups.root(pins[1].unknown) {
            return None;
        }
        let lonely = pins.iter().find(|p| groups.root(p.unknown) != groups.root(GROUND));
        let node = self.node_name(lonely.unwrap_or(&pins[0]).unknown);
        let message = format!(
            "the current of `{}` jumps at node {node}, where only inductors could carry the jump",
            self.part_name(part)
        );
        Some(self.error(Some(part), message).label("no path for a jump").hint(format!(
            "give the edge a duration, or connect a capacitor or resistor to {node}"
        )))
    }
}

/// A time by which a drive has shown all it does.
fn first_round(drive: &Drive) -> f64 {
    match &drive.shape {
        Some(Shape::Points { points, repeat_every_s }) => match (points.first(), points.last()) {
            (Some(first), Some(last)) => repeat_every_s.map_or(last.0, |every| first.0 + every),
            _ => 0.0,
        },
        Some(Shape::Sine { delay_s, .. }) => *delay_s,
        Some(Shape::Pieces(pieces)) => pieces.last().map_or(0.0, |p| p.0),
        None => 0.0,
    }
}

/// The parts on a way from one end to the other along laid branches.
fn way(ends: [usize; 2], laid: &[(usize, [usize; 2])]) -> Vec<usize> {
    let mut came_by: BTreeMap<usize, Option<(usize, usize)>> = BTreeMap::from([(ends[0], None)]);
    let mut queue = VecDeque::from([ends[0]]);
    while let Some(at) = queue.pop_front() {
        for &(part, [a, b]) in laid {
            let next = if a == at {
                b
            } else if b == at {
                a
            } else {
                continue;
            };
            if let std::collections::btree_map::Entry::Vacant(entry) = came_by.entry(next) {
                entry.insert(Some((at, part)));
                queue.push_back(next);
            }
        }
    }
    let mut parts = Vec::new();
    let mut at = ends[1];
    while let Some(Some((from, part))) = came_by.get(&at) {
        parts.push(*part);
        at = *from;
    }
    parts
}
