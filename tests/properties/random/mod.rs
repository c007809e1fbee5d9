//! Circuits drawn at random: topologies and values of every kind of part over its whole range, 5 to 60 parts
//! a circuit, such that a rest exists by physics.
//!
//! A rest exists where every node has a way to ground through linear resistance, every source of power gives
//! a bounded voltage or current, and every other part only takes power (a bounded continuous map of the
//! voltages onto themselves has a fixed point, Brouwer 1911; for transistors: Willson, Bell Syst. Tech. J. 49
//! (1970), from memory). What a restriction here is for stands beside it.

mod tree;
mod values;

use crate::networks::Random;
use railstep::device::{Key, Kind, Terminals, kinds};
use std::fmt::Write;
use tree::Tree;
use values::Values;

/// Kinds that are not drawn: a block only names others and a regulator is taken apart into others; heat
/// paths may have no rest at all (thermal runaway), and have tests of their own.
const LEFT_OUT: [&str; 3] = ["block", "regulator", "heat-path"];
/// Linear controlled sources of any gain, and states with hysteresis: inside a loop the one may make a
/// negative resistance without end, the other a comparator without rest. They follow nodes that
/// nothing leads back to from what they drive.
const FOLLOWERS: [&str; 5] = [
    "controlled-voltage-source",
    "controlled-current-source",
    "lock-out",
    "thermal-shutdown",
    "supervisor",
];

/// A drawn circuit.
pub(crate) struct Drawn {
    pub(crate) text: String,
    pub(crate) parts: usize,
}

/// The circuit of this seed.
pub(crate) fn circuit(seed: u64) -> Drawn {
    let mut random = Random(seed.wrapping_mul(0x2545_f491_4f6c_dd1d) ^ 0x9e37);
    let parts = 5 + random.below(56);
    let nodes = 2 + random.below((parts / 2).saturating_sub(1));
    let mut draft = Draft { tree: Tree::of(nodes, &mut random), random, lines: Vec::new() };
    draft.ways_to_ground();
    while draft.lines.len() + draft.tree.lonely() < parts {
        draft.any_part();
    }
    draft.no_node_hangs();
    let parts = draft.lines.len();
    let ambient = -55.0 + 230.0 * draft.random.unit();
    let text = format!(
        "title = \"random {seed}\"\n[rail]\nambient = \"{ambient:.1} °C\"\n[parts]\n{}",
        draft.lines.concat()
    );
    Drawn { text, parts }
}

struct Draft {
    random: Random,
    tree: Tree,
    lines: Vec<String>,
}

impl Draft {
    fn name(&self) -> String {
        format!("P{}", self.lines.len() + 1)
    }

    fn push(&mut self, kind: &str, nodes: &[(&str, usize)], keys: &str) {
        let mut line = format!("{} = {{ kind = \"{kind}\"", self.name());
        if nodes.iter().all(|(terminal, _)| terminal.is_empty()) {
            let ends: Vec<String> =
                nodes.iter().map(|(_, n)| format!("\"{}\"", Tree::name(*n))).collect();
            let _ = write!(line, ", nodes = [{}]", ends.join(", "));
        } else {
            for (terminal, node) in nodes {
                let _ = write!(line, ", {terminal} = \"{}\"", Tree::name(*node));
            }
        }
        line += keys;
        line += " }\n";
        // Once for every part, however many of its ends are there.
        for node in 0..self.tree.len() {
            self.tree.used[node] +=
                usize::from(line.contains(&format!("\"{}\"", Tree::name(node))));
        }
        self.lines.push(line);
    }

    /// Each node's own way to an earlier one: a resistance, a source, a winding.
    fn ways_to_ground(&mut self) {
        for node in 1..self.tree.len() {
            let to = self.tree.parent[node];
            let way = self.random.unit();
            let (kind, ends) = if way < 0.7 {
                ("resistor", ["", ""])
            } else if way < 0.9 {
                ("voltage-source", ["plus", "minus"])
            } else {
                ("inductor", ["", ""])
            };
            let kind = railstep::device::kind(kind).expect("a kind");
            let values = self.values(kind, &[node, to], false);
            self.tree.set_way(node, values.series_ohm(kind.name));
            if kind.name == "voltage-source" {
                self.tree.voltage_sources.push((self.name(), self.tree.stage[node]));
            }
            let (a, b) = if self.random.unit() < 0.5 { (node, to) } else { (to, node) };
            self.push(kind.name, &[(ends[0], a), (ends[1], b)], &values.text);
        }
    }

    /// A node that one part alone touches gets a resistor: a file with a loose end is not read.
    fn no_node_hangs(&mut self) {
        for node in 1..self.tree.len() {
            if self.tree.used[node] < 2 {
                let kind = railstep::device::kind("resistor").expect("a kind");
                let to = self.tree.other(node, &mut self.random);
                let values = self.values(kind, &[node, to], false);
                self.push("resistor", &[("", node), ("", to)], &values.text);
            }
        }
    }

    fn values(&mut self, kind: &'static Kind, nodes: &[usize], resistive: bool) -> Values {
        let most_a = self.tree.most_ampere(nodes);
        Values::draw(kind, &mut self.random, most_a, resistive)
    }

    fn any_part(&mut self) {
        let all = kinds();
        let kind = all[self.random.below(all.len())];
        let stage = self.tree.any_stage(&mut self.random);
        if LEFT_OUT.contains(&kind.name) || (FOLLOWERS.contains(&kind.name) && stage == 0) {
            return;
        }
        if kind.name == "law" {
            return self.law(stage);
        }
        let nodes: Vec<(&'static str, usize)> = match kind.terminals {
            Terminals::Pair => {
                let a = self.tree.node(stage, &mut self.random);
                vec![("", a), ("", self.tree.other(a, &mut self.random))]
            }
            Terminals::Named(terminals) => {
                let (tree, random) = (&self.tree, &mut self.random);
                let mut given = Vec::new();
                for terminal in terminals {
                    if terminal.default.is_none() || random.unit() < 0.5 {
                        given.push((terminal.name, tree.node_or_ground(stage, random)));
                    }
                }
                given
            }
            Terminals::Ports => return,
        };
        self.place(kind, stage, nodes);
    }

    fn place(&mut self, kind: &'static Kind, stage: usize, mut nodes: Vec<(&'static str, usize)>) {
        let earlier = stage.checked_sub(1).map(|last| self.random.below(last + 1));
        let mut keys = String::new();
        if let Some(earlier) = earlier {
            // What watches without drawing a current may watch what comes before.
            for (terminal, node) in &mut nodes {
                let watches = match kind.name {
                    "lock-out" | "supervisor" => *terminal == "input",
                    "reference" => *terminal == "supply",
                    _ => false,
                };
                if watches {
                    *node = self.tree.node(earlier, &mut self.random);
                }
                // Grounds of states are the ground itself: a contact on them would be a way back.
                if matches!(kind.name, "lock-out" | "supervisor") && *terminal == "ground" {
                    *node = 0;
                }
            }
            let watched = self.tree.node(earlier, &mut self.random);
            let pair = format!(", input = [\"{}\", \"gnd\"]", Tree::name(watched));
            match kind.name {
                "controlled-voltage-source" | "controlled-current-source" => {
                    match self.tree.source_before(stage, &mut self.random) {
                        Some(source) if self.random.unit() < 0.5 => {
                            let _ = write!(keys, ", sensed = \"{source}\"");
                        }
                        _ => {
                            keys += &pair;
                        }
                    }
                }
                "thermal-shutdown" => {
                    keys += &pair;
                }
                "switch" if self.random.unit() < 0.5 => {
                    keys += &pair;
                }
                _ => {}
            }
        }
        let ends: Vec<usize> = nodes.iter().map(|(_, n)| *n).collect();
        // A file with a part that joins nothing is not read.
        if ends.iter().all(|end| *end == ends[0]) {
            return;
        }
        // A file in which a rigid part has both ends at one node is not read.
        let first_two = [ends[0], ends[1]];
        if matches!(kind.name, "voltage-source" | "controlled-voltage-source" | "reference")
            && first_two[0] == first_two[1]
        {
            return;
        }
        // Without resistance in series there is no loop of sources, and no junction straight across one:
        // its current would be e^(v/U_T), beyond all numbers.
        let (stiff, needs_resistance) = self.tree.would_close(kind.name, &nodes);
        if needs_resistance && !values::can_have_resistance(kind) {
            return;
        }
        let chosen: Vec<&str> =
            ["input", "sensed"].into_iter().filter(|k| keys.contains(k)).collect();
        let most_a = self.tree.most_ampere(&ends);
        let supply = nodes.iter().find(|(terminal, _)| *terminal == "supply").map(|(_, n)| *n);
        let follows = earlier.is_some() && supply.is_some_and(|supply| supply != ends[1]);
        let stated = values::Stated { chosen: &chosen, follows };
        let values = Values::draw_with(kind, &mut self.random, most_a, needs_resistance, &stated);
        let has_resistance = values.series_ohm(kind.name) > 0.0;
        if let Some([a, b]) = stiff.filter(|_| !has_resistance) {
            self.tree.join(a, b);
        }
        if matches!(kind.name, "diode" | "zener" | "bipolar" | "mosfet") && !needs_resistance {
            for (k, a) in ends.iter().enumerate() {
                let pairs = ends.iter().skip(k + 1).filter(|b| *b != a).map(|b| [*a, *b]);
                self.tree.junctions.extend(pairs);
            }
        }
        keys += &values.text;
        self.push(kind.name, &nodes, &keys);
    }

    /// A law of one's own: what a diode, a thyristor's gate, a limiter or a varactor is written as.
    fn law(&mut self, stage: usize) {
        let random = &mut self.random;
        let (a, tree) = (self.tree.node(stage, random), &self.tree);
        let (b, c) = (tree.other(a, random), tree.node(stage, random));
        let d = tree.other(c, random);
        let own = format!("inputs = {{ x = [\"{}\", \"{}\"] }}", Tree::name(a), Tree::name(b));
        let far = format!("inputs = {{ x = [\"{}\", \"{}\"] }}", Tree::name(c), Tree::name(d));
        let (g, v) = (random.decades(6.0), 0.02 + random.unit());
        let i = random.decades(9.0).min(self.tree.most_ampere(&[a, b]));
        let keys = match random.below(5) {
            0 => format!("{far}, current = \"{i:e} A * tanh(x / {v:e} V)\""),
            1 => format!("{own}, current = \"{g:e} S * x * (1 + (x / 1 V)^2)\""),
            2 if !self.tree.is_stiff(a, b) => {
                self.tree.junctions.push([a, b]);
                format!("{own}, current = \"{:e} A * (exp(x / {v:e} V) - 1)\"", 1e-9 * i.min(1.0))
            }
            3 => format!("{far}, charge = \"{:e} C * tanh(x / {v:e} V)\"", 1e-9 * g),
            _ if !self.tree.would_be_stiff(a, b) => {
                self.tree.join(a, b);
                format!("{far}, voltage = \"{v:e} V * tanh(x / 1 V)\"")
            }
            _ => return,
        };
        self.push("law", &[("", a), ("", b)], &format!(", {keys}"));
    }
}

/// Whether a key is one that random circuits do not state: motions, noise, what only judges, and figures of a
/// capacitor's curves, none of which a rest knows.
pub(crate) fn is_beside_the_rest(key: &Key) -> bool {
    key.name.starts_with("noise_") || key.name.starts_with("rated_") || key.name == "tolerance"
}
