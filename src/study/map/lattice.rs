//! The places of a map of two values: a grid, and twice as fine where the boundary passes.
//!
//! A cell is split into four when the boundary crosses one of its sides. Where a neighbour's split
//! shows that it crosses a side twice, the cell is split too, so that both agree on every side.

use super::bracket::{Bracket, Until, close};
use super::field::{Kind, Place, Probe, Sample};
use super::outline::{Corners, region};
use crate::study::Halt;
use std::collections::{BTreeMap, BTreeSet};

/// Crossings of a cell's sides are good to this share of the side,
const NEAR: f64 = 0.01;
/// or were closed in on by so many runs.
const MOST_ROUNDS: usize = 3;

/// Column and row in the finer grid.
pub(super) type Node = (usize, usize);
/// A side from its lower end to its upper one.
pub(super) type Side = (Node, Node);

/// All samples, and which cells are split.
#[derive(Clone, Debug)]
pub(super) struct Lattice {
    columns: usize,
    rows: usize,
    /// Steps of the finer grid in one cell: 2 where cells may be split.
    stride: usize,
    samples: BTreeMap<Node, Sample>,
    split: BTreeSet<Node>,
}

/// A cell that is not split.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Square {
    corner: Node,
    size: usize,
}

impl Square {
    /// Counter-clockwise from the lower left.
    pub(super) fn nodes(&self) -> [Node; 4] {
        let ((i, j), s) = (self.corner, self.size);
        [(i, j), (i + s, j), (i + s, j + s), (i, j + s)]
    }

    /// Lower, right, upper, left.
    pub(super) fn sides(&self) -> [Side; 4] {
        let [a, b, c, d] = self.nodes();
        [(a, b), (b, c), (d, c), (a, d)]
    }
}

impl Lattice {
    /// So many places along each axis; `finer` where cells may be split.
    pub(super) fn new(columns: usize, rows: usize, finer: bool) -> Self {
        let stride = if finer { 2 } else { 1 };
        let fine = |count: usize| stride * (count - 1).max(1) + 1;
        let (samples, split) = (BTreeMap::new(), BTreeSet::new());
        Self { columns: fine(columns), rows: fine(rows), stride, samples, split }
    }

    pub(super) fn place(&self, (i, j): Node) -> Place {
        [i as f64 / (self.columns - 1) as f64, j as f64 / (self.rows - 1) as f64]
    }

    /// The places asked for, row by row.
    pub(super) fn grid(&self) -> Vec<Node> {
        let rows = (0..self.rows).step_by(self.stride);
        rows.flat_map(|j| (0..self.columns).step_by(self.stride).map(move |i| (i, j))).collect()
    }

    pub(super) fn put(&mut self, node: Node, sample: Sample) {
        self.samples.insert(node, sample);
    }

    pub(super) fn sample(&self, node: Node) -> Option<Sample> {
        self.samples.get(&node).copied()
    }

    fn holds(&self, node: Node) -> bool {
        self.samples.get(&node).is_some_and(|s| s.holds)
    }

    /// Lower left corners of the cells, split or not.
    fn cells(&self) -> Vec<Node> {
        let cells = self.grid().into_iter();
        cells
            .filter(|&(i, j)| i + self.stride < self.columns && j + self.stride < self.rows)
            .collect()
    }

    /// The cells as they are drawn: those that are split in four.
    pub(super) fn squares(&self) -> Vec<Square> {
        let mut found = Vec::new();
        for corner @ (i, j) in self.cells() {
            if self.split.contains(&corner) {
                let quarters = [(i, j), (i + 1, j), (i, j + 1), (i + 1, j + 1)];
                found.extend(quarters.map(|corner| Square { corner, size: 1 }));
            } else {
                found.push(Square { corner, size: self.stride });
            }
        }
        found
    }

    /// Whether the boundary crosses a side of a cell, as far as is known.
    fn is_crossed(&self, corner: Node) -> bool {
        let square = Square { corner, size: self.stride };
        let first = self.holds(corner);
        let middle = |((i, j), (k, l)): Side| (usize::midpoint(i, k), usize::midpoint(j, l));
        let middles = square.sides().map(middle).into_iter();
        let known = middles.filter(|node| self.samples.contains_key(node));
        square.nodes().into_iter().chain(known).any(|node| self.holds(node) != first)
    }

    /// Splits cells that the boundary crosses until all agree on their common sides.
    pub(super) fn refine(&mut self, probe: &mut dyn Probe) -> Result<(), Halt> {
        while self.stride == 2 {
            let cells = self.cells().into_iter().filter(|c| !self.split.contains(c));
            let crossed: Vec<Node> = cells.filter(|c| self.is_crossed(*c)).collect();
            if crossed.is_empty() {
                break;
            }
            let mut nodes = BTreeSet::new();
            for &(i, j) in &crossed {
                nodes.extend([
                    (i + 1, j),
                    (i, j + 1),
                    (i + 1, j + 1),
                    (i + 2, j + 1),
                    (i + 1, j + 2),
                ]);
                self.split.insert((i, j));
            }
            nodes.retain(|node| !self.samples.contains_key(node));
            self.run(probe, nodes.into_iter().collect())?;
        }
        Ok(())
    }

    fn run(&mut self, probe: &mut dyn Probe, nodes: Vec<Node>) -> Result<(), Halt> {
        let places: Vec<Place> = nodes.iter().map(|node| self.place(*node)).collect();
        let samples = probe.samples(&places, Kind::Refined)?;
        self.samples.extend(nodes.into_iter().zip(samples));
        Ok(())
    }
}

/// Where the boundary crosses the sides of cells, and which way it goes through each.
#[derive(Clone, Debug, Default)]
pub(super) struct Boundary {
    /// The crossing of each side that is crossed.
    pub(super) crossings: BTreeMap<Side, Place>,
    /// Whether the middle of a cell holds, for those with four crossings.
    pub(super) centres: BTreeMap<Node, bool>,
}

impl Boundary {
    /// Solves for every crossing, and asks the middle of each cell that could be passed in two ways.
    pub(super) fn find(
        lattice: &Lattice,
        squares: &[Square],
        probe: &mut dyn Probe,
    ) -> Result<Self, Halt> {
        let mut sides = BTreeMap::new();
        for side @ (a, b) in squares.iter().flat_map(Square::sides) {
            let end = |node| Some((lattice.place(node), lattice.sample(node)?));
            let bracket = || Bracket::new(end(a)?, end(b)?, NEAR);
            if let Some(bracket) = bracket() {
                sides.insert(side, bracket);
            }
        }
        let (sides, mut brackets): (Vec<Side>, Vec<Bracket>) = sides.into_iter().unzip();
        close(probe, &mut brackets, Until::Still, MOST_ROUNDS)?;
        let places = brackets.iter().map(|b| b.place(b.crossing()));
        let crossings: BTreeMap<Side, Place> = sides.into_iter().zip(places).collect();
        let open = |s: &&Square| s.sides().iter().all(|side| crossings.contains_key(side));
        let saddles: Vec<&Square> = squares.iter().filter(open).collect();
        let middles: Vec<Place> = saddles.iter().map(|s| middle(lattice, s)).collect();
        let samples = probe.samples(&middles, Kind::Refined)?;
        let centres = saddles.iter().zip(samples).map(|(s, sample)| (s.corner, sample.holds));
        Ok(Self { centres: centres.collect(), crossings })
    }

    /// The sides between which the boundary passes through a cell.
    pub(super) fn segments(&self, lattice: &Lattice, square: &Square) -> Vec<(Side, Side)> {
        let sides = square.sides();
        let crossed: Vec<Side> =
            sides.into_iter().filter(|side| self.crossings.contains_key(side)).collect();
        match *crossed.as_slice() {
            [a, b] => vec![(a, b)],
            [lower, right, upper, left] => {
                let joined = self.centres.get(&square.corner).copied().unwrap_or_default();
                // The first corner and the one across are one region with the middle: the other two
                // are cut off.
                if joined == lattice.holds(square.corner) {
                    vec![(lower, right), (upper, left)]
                } else {
                    vec![(left, lower), (right, upper)]
                }
            }
            _ => Vec::new(),
        }
    }

    /// The part of a cell whose corners fulfil `inside`. Where two neighbours differ it ends at the
    /// crossing, if there is one, else half way.
    pub(super) fn region(
        &self,
        lattice: &Lattice,
        square: &Square,
        inside: impl Fn(&Sample) -> bool,
        centre: bool,
    ) -> Vec<Vec<Place>> {
        let nodes = square.nodes();
        let flags = nodes.map(|node| lattice.sample(node).is_some_and(|s| inside(&s)));
        let between = square.sides().map(|side @ (a, b)| {
            let half = || {
                let (a, b) = (lattice.place(a), lattice.place(b));
                [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])]
            };
            self.crossings.get(&side).copied().unwrap_or_else(half)
        });
        let places = nodes.map(|node| lattice.place(node));
        region(&Corners { places, inside: flags, between }, centre)
    }

    pub(super) fn centre_holds(&self, square: &Square) -> bool {
        self.centres.get(&square.corner).copied().unwrap_or_default()
    }
}

fn middle(lattice: &Lattice, square: &Square) -> Place {
    let [a, _, c, _] = square.nodes().map(|node| lattice.place(node));
    [f64::midpoint(a[0], c[0]), f64::midpoint(a[1], c[1])]
}
