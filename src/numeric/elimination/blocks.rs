//! Large matrices by dense blocks: pivots that change the same lines are eliminated and solved for together,
//! so that products run along contiguous values and one index serves many of them.
//!
//! Each block assembles what it and its children leave for the lines beyond it, takes its own pivots out, and
//! hands the rest to its parent (multifrontal; Duff, Reid, ACM Trans. Math. Softw. 9 (1983), from memory).
//! The lines that wait for the second phase are one block more, at the root.

use super::super::Pattern;
use super::super::ordering::Ordering;
use super::tree::{self, inverse};
use std::ops::Range;

/// What solving by rows reads, in lengths of a value: each value with its index,
const BY_VALUE: f64 = 1.5;
/// and each row with its bounds and its places. Where blocks would hold more values than that, as where rows and
/// columns fill in quite differently, rows are worked after all.
const BY_ROW: f64 = 3.0;
/// The block of what waits may hold as many zeros as values, and these besides.
const FEW: usize = 1024;

/// Where a block has its pivots, its lines beyond and its values.
///
/// Solving reads the values in the order they lie in: those of lower factors block by block, then those of
/// upper ones from the last block to the first. Both are walked by contiguous columns.
#[derive(Clone, Copy, Debug)]
pub(super) struct Block {
    /// Place of its first pivot.
    pub(super) first: u32,
    pub(super) pivots: u32,
    pub(super) lines: u32,
    beyond: u32,
    lower: u32,
    upper: u32,
    /// The block that what is left for the lines beyond goes to; the last one where there is none else.
    pub(super) parent: u32,
    /// How many blocks have this one for a parent.
    pub(super) children: u32,
    /// Where its sources end.
    sources: u32,
}

impl Block {
    /// Number of pivots, and of lines beyond.
    pub(super) fn size(self) -> (usize, usize) {
        (self.pivots as usize, self.lines as usize)
    }

    /// Places of its pivots.
    pub(super) fn own(self) -> Range<usize> {
        self.first as usize..(self.first + self.pivots) as usize
    }

    /// Where its lines beyond are listed.
    pub(super) fn beyond(self) -> Range<usize> {
        self.beyond as usize..(self.beyond + self.lines) as usize
    }

    /// Its multipliers among the values: for each pivot its column, in later pivots and in the lines beyond.
    pub(super) fn lower(self) -> Range<usize> {
        self.lower as usize..self.lower as usize + self.half()
    }

    /// What is right of its pivots: for each line beyond its column in the pivots; then for each pivot, the
    /// last first, its column in earlier ones.
    pub(super) fn upper(self) -> Range<usize> {
        self.upper as usize..self.upper as usize + self.half()
    }

    /// Values on one side of its diagonal.
    fn half(self) -> usize {
        let (m, r) = self.size();
        m * m.saturating_sub(1) / 2 + m * r
    }
}

/// A plan by blocks.
#[derive(Clone, Debug)]
pub(super) struct Blocks {
    /// Children before parents; last, even where it is empty, what waits.
    pub(super) list: Vec<Block>,
    /// Places that each block changes beyond its pivots, ascending.
    pub(super) beyond: Vec<u32>,
    /// Of each of these, which line of the parent it is: own pivots counted first.
    pub(super) in_parent: Vec<u32>,
    /// Block by block, the slots of the matrix that it starts from, and which part of a front each goes to.
    sources: Vec<Source>,
    /// Number of values, pivots not counted.
    pub(super) values: usize,
}

/// A slot, and its place in a front.
#[derive(Clone, Copy, Debug)]
pub(super) struct Source {
    pub(super) slot: u32,
    pub(super) row: u32,
    pub(super) column: u32,
}

impl Blocks {
    /// Those of an order, which becomes one in which pivots of a block follow one another; `None` where
    /// blocks would hold many more values than rows by themselves.
    pub(super) fn of(pattern: &Pattern, ordering: &mut Ordering, split: usize) -> Option<Self> {
        let n = pattern.n();
        let (behind, first) = (n - split, split as u32);
        let in_rows = |rows: &[Vec<u32>]| rows.iter().map(Vec::len).sum::<usize>();
        let filled = in_rows(&ordering.lower) + in_rows(&ordering.upper) + n;
        let waiting = 2 * in_rows(&ordering.upper[split..]);
        if behind * behind > 2 * waiting + FEW {
            return None;
        }
        let (nodes, place) = tree::nodes(pattern, ordering, split);
        let values =
            nodes.iter().map(|node| 2 * node.triangle() - node.pivots.len()).sum::<usize>();
        if values as f64 > BY_VALUE * filled as f64 + BY_ROW * n as f64 {
            return None;
        }
        for order in [&mut ordering.rows, &mut ordering.columns] {
            let before = order.clone();
            for (&line, &place) in before.iter().zip(&place) {
                order[place as usize] = line;
            }
        }
        let mut blocks = Self {
            list: Vec::with_capacity(nodes.len() + 1),
            beyond: Vec::new(),
            in_parent: Vec::new(),
            sources: Vec::new(),
            values: 0,
        };
        for node in &nodes {
            let first = node.pivots.first().copied().unwrap_or(0);
            blocks.push(first, node.pivots.len(), &node.beyond);
        }
        blocks.push(first, behind, &[]);
        let halves = blocks.values;
        for block in &mut blocks.list {
            block.upper = (2 * halves) as u32 - block.upper;
        }
        blocks.values *= 2;
        blocks.find_parents(n);
        blocks.find_sources(pattern, ordering);
        Some(blocks)
    }

    fn push(&mut self, first: u32, pivots: usize, beyond: &[u32]) {
        let mut block = Block {
            first,
            pivots: pivots as u32,
            lines: beyond.len() as u32,
            beyond: self.beyond.len() as u32,
            lower: self.values as u32,
            upper: 0,
            parent: 0,
            children: 0,
            sources: 0,
        };
        self.values = block.lower().end;
        // Counted from the end for now.
        block.upper = self.values as u32;
        self.beyond.extend_from_slice(beyond);
        self.list.push(block);
    }

    fn find_parents(&mut self, n: usize) {
        let last = self.list.len() - 1;
        let mut block_of = vec![last as u32; n];
        for (at, block) in self.list.iter().enumerate() {
            block_of[block.own()].fill(at as u32);
        }
        for at in 0..last {
            let lines = &self.beyond[self.list[at].beyond()];
            let parent = lines.first().map_or(last as u32, |&line| block_of[line as usize]);
            self.list[at].parent = parent;
            let into = self.list[parent as usize];
            let in_parent = lines.iter().map(|&line| self.line_in(into, line));
            self.in_parent.extend(in_parent.collect::<Vec<u32>>());
            self.list[parent as usize].children += 1;
        }
    }

    /// Which line of a block a place is: pivots counted first.
    fn line_in(&self, block: Block, place: u32) -> u32 {
        if place < block.first + block.pivots {
            return place - block.first;
        }
        let lines = &self.beyond[block.beyond()];
        block.pivots + lines.partition_point(|&line| line < place) as u32
    }

    /// Sorts the slots by the block that the earlier one of its lines belongs to.
    fn find_sources(&mut self, pattern: &Pattern, ordering: &Ordering) {
        let (of_row, of_column) = (inverse(&ordering.rows), inverse(&ordering.columns));
        let mut block_of = vec![0; pattern.n()];
        for (at, block) in self.list.iter().enumerate() {
            block_of[block.own()].fill(at);
        }
        let rows = pattern.columns_by_row().zip(of_row);
        let places = rows.flat_map(|(columns, a)| columns.iter().map(move |&column| (a, column)));
        let mut by_block = vec![Vec::new(); self.list.len()];
        for (slot, (a, column)) in places.enumerate() {
            let b = of_column[column as usize];
            let at = block_of[a.min(b) as usize];
            let block = self.list[at];
            let (row, column) = (self.line_in(block, a), self.line_in(block, b));
            by_block[at].push(Source { slot: slot as u32, row, column });
        }
        for (block, sources) in self.list.iter_mut().zip(by_block) {
            self.sources.extend(sources);
            block.sources = self.sources.len() as u32;
        }
    }

    /// Of each block in turn, what it starts from.
    pub(super) fn sources(&self) -> impl Iterator<Item = &[Source]> {
        let mut start = 0;
        self.list.iter().map(move |block| {
            let end = block.sources as usize;
            &self.sources[std::mem::replace(&mut start, end)..end]
        })
    }
}
