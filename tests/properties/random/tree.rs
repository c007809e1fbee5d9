//! Nodes, each with its way to ground, in stages: a stage follows those before it and leads back to none.

use crate::networks::Random;

/// V that no part of a circuit here is to see: what currents raise across a way to ground stays below it.
const MOST_V: f64 = 1e3;

pub(crate) struct Tree {
    pub(crate) parent: Vec<usize>,
    pub(crate) stage: Vec<usize>,
    /// Ω of the way to ground.
    way_ohm: Vec<f64>,
    /// Nodes joined without resistance share a root.
    root: Vec<usize>,
    pub(crate) used: Vec<usize>,
    /// Ends that a junction without resistance in series lies between.
    pub(crate) junctions: Vec<[usize; 2]>,
    /// Sources whose current may be sensed, with their stage.
    pub(crate) voltage_sources: Vec<(String, usize)>,
}

impl Tree {
    /// Ground and `nodes` others.
    pub(crate) fn of(nodes: usize, random: &mut Random) -> Self {
        let stages = 1 + random.below(3.min(nodes));
        let mut tree = Self {
            parent: vec![0],
            stage: vec![usize::MAX],
            way_ohm: vec![0.0; nodes + 1],
            root: (0..=nodes).collect(),
            used: vec![0; nodes + 1],
            junctions: Vec::new(),
            voltage_sources: Vec::new(),
        };
        for node in 1..=nodes {
            let stage = if node <= stages { node - 1 } else { random.below(stages) };
            tree.stage.push(stage);
            tree.parent.push(0);
            // Half of the ways go straight to ground: chains as well as stars.
            let parent = tree.node_before(node, stage, random);
            tree.parent[node] = if random.unit() < 0.5 { 0 } else { parent };
        }
        tree
    }

    pub(crate) fn name(node: usize) -> String {
        if node == 0 { "gnd".to_owned() } else { format!("n{node}") }
    }

    /// Nodes with ground.
    pub(crate) fn len(&self) -> usize {
        self.parent.len()
    }

    /// Nodes that only one part touches yet.
    pub(crate) fn lonely(&self) -> usize {
        self.used.iter().skip(1).filter(|used| **used < 2).count()
    }

    fn node_before(&self, before: usize, stage: usize, random: &mut Random) -> usize {
        let those: Vec<usize> = (1..before).filter(|n| self.stage[*n] == stage).collect();
        if those.is_empty() { 0 } else { those[random.below(those.len())] }
    }

    pub(crate) fn any_stage(&self, random: &mut Random) -> usize {
        self.stage[1 + random.below(self.len() - 1)]
    }

    pub(crate) fn node(&self, stage: usize, random: &mut Random) -> usize {
        self.node_before(self.len(), stage, random)
    }

    pub(crate) fn node_or_ground(&self, stage: usize, random: &mut Random) -> usize {
        if random.unit() < 0.2 { 0 } else { self.node(stage, random) }
    }

    /// Another node of the stage of `node`, or ground.
    pub(crate) fn other(&self, node: usize, random: &mut Random) -> usize {
        let found = self.node_or_ground(self.stage[node], random);
        if found == node { 0 } else { found }
    }

    pub(crate) fn source_before(&self, stage: usize, random: &mut Random) -> Option<String> {
        let those: Vec<&String> =
            self.voltage_sources.iter().filter(|(_, s)| *s < stage).map(|(name, _)| name).collect();
        (!those.is_empty()).then(|| those[random.below(those.len())].clone())
    }

    /// States with how many Ω a node hangs on its parent.
    pub(crate) fn set_way(&mut self, node: usize, ohm: f64) {
        let parent = self.parent[node];
        self.way_ohm[node] = self.way_ohm[parent] + ohm;
        if ohm == 0.0 {
            self.join(node, parent);
        }
    }

    /// A that all ways to ground of these nodes can take within [`MOST_V`].
    pub(crate) fn most_ampere(&self, nodes: &[usize]) -> f64 {
        let ohm = nodes.iter().map(|n| self.way_ohm[*n]).fold(0.0, f64::max);
        MOST_V / ohm.max(10.0)
    }

    fn root_of(&self, mut node: usize) -> usize {
        while self.root[node] != node {
            node = self.root[node];
        }
        node
    }

    pub(crate) fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root_of(a), self.root_of(b));
        self.root[a.max(b)] = a.min(b);
    }

    /// Whether nothing but sources and windings without resistance lies between two nodes.
    pub(crate) fn is_stiff(&self, a: usize, b: usize) -> bool {
        self.root_of(a) == self.root_of(b)
    }

    /// Whether fixing the voltage between these nodes would fix that of a junction, or close a loop.
    pub(crate) fn would_be_stiff(&self, a: usize, b: usize) -> bool {
        let joined = [self.root_of(a), self.root_of(b)];
        let across = |[p, q]: &[usize; 2]| {
            let ends = [self.root_of(*p), self.root_of(*q)];
            ends == joined || ends == [joined[1], joined[0]]
        };
        joined[0] == joined[1] || self.junctions.iter().any(across)
    }

    /// The ends between which a part of this kind fixes the voltage, if it does; and whether it needs a
    /// resistance of its own where it is put.
    pub(crate) fn would_close(
        &self,
        kind: &str,
        nodes: &[(&'static str, usize)],
    ) -> (Option<[usize; 2]>, bool) {
        let end = |k: usize| nodes[k].1;
        let any_two_stiff = || {
            let pairs = nodes.iter().enumerate();
            pairs.clone().any(|(k, a)| nodes.iter().skip(k + 1).any(|b| self.is_stiff(a.1, b.1)))
        };
        match kind {
            "voltage-source" | "inductor" | "controlled-voltage-source" | "reference" => {
                (Some([end(0), end(1)]), self.would_be_stiff(end(0), end(1)))
            }
            // Every winding has some resistance.
            "coupled-inductors" => (None, true),
            "diode" | "zener" | "bipolar" | "mosfet" => (None, any_two_stiff()),
            _ => (None, false),
        }
    }
}
