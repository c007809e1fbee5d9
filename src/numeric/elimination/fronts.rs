//! Factoring by blocks.

// Measured: a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::super::Field;
use super::blocks::{Block, Blocks, Source};
use super::multiples::subtract_multiples;
use pulp::{Arch, Simd, WithSimd};

/// What blocks have left for the lines beyond them, until their parents take it over.
struct Open<F> {
    values: Vec<F>,
    blocks: Vec<u32>,
}

/// A block at work.
struct Front<F> {
    pivots: usize,
    lines: usize,
    /// Pivots by pivots.
    square: Vec<F>,
    /// For each pivot, its column's values in the lines beyond,
    below: Vec<F>,
    /// and its row's.
    beside: Vec<F>,
    /// Lines by lines: what it leaves for its parent.
    rest: Vec<F>,
}

/// The first phase, by the widest instructions of this machine; nothing is fused, so that all give the
/// same bits.
struct Constant<'a, F> {
    blocks: &'a Blocks,
    values: &'a [F],
    made: &'a mut [F],
    inverse_pivots: &'a mut [F],
    begun: &'a mut [F],
}

impl<F: Field> WithSimd for Constant<'_, F> {
    type Output = Result<(), usize>;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> Self::Output {
        let Self { blocks, values, made, inverse_pivots, begun } = self;
        let mut open = Open { values: Vec::new(), blocks: Vec::new() };
        let mut front = Front::new();
        let Some((last, list)) = blocks.list.split_last() else { return Ok(()) };
        for ((at, block), sources) in list.iter().enumerate().zip(blocks.sources()) {
            front.begin(*block);
            front.assemble(sources, values);
            open.hand_to(blocks, *block, &mut front);
            let inverses = &mut inverse_pivots[block.own()];
            front.eliminate(inverses).map_err(|k| k + block.first as usize)?;
            front.complete(inverses);
            front.give_lower(&mut made[block.lower()]);
            front.give_upper(&mut made[block.upper()]);
            open.blocks.push(at as u32);
            open.values.extend_from_slice(&front.rest);
        }
        front.begin(*last);
        open.hand_to(blocks, *last, &mut front);
        begun.copy_from_slice(&front.square);
        Ok(())
    }
}

impl Blocks {
    /// The first phase of factoring; `begun` gets what it leaves of the block that waits. Fails with the
    /// place of a pivot that is none.
    pub(super) fn factor_constant<F: Field>(
        &self,
        values: &[F],
        made: &mut [F],
        inverse_pivots: &mut [F],
        begun: &mut [F],
    ) -> Result<(), usize> {
        Arch::new().dispatch(Constant { blocks: self, values, made, inverse_pivots, begun })
    }

    /// The second phase: the block that waits.
    pub(super) fn factor_varying<F: Field>(
        &self,
        values: &[F],
        made: &mut [F],
        inverse_pivots: &mut [F],
        begun: &[F],
    ) -> Result<(), usize> {
        let Some((&last, sources)) = self.list.last().zip(self.sources().last()) else {
            return Ok(());
        };
        let mut front = Front::new();
        front.begin(last);
        front.square.copy_from_slice(begun);
        front.assemble(sources, values);
        let eliminated = front.eliminate(&mut inverse_pivots[last.own()]);
        front.give_lower(&mut made[last.lower()]);
        front.give_upper(&mut made[last.upper()]);
        eliminated.map_err(|k| k + last.first as usize)
    }
}

impl<F: Field> Open<F> {
    /// Adds what its children have left to a block.
    #[inline(always)]
    fn hand_to(&mut self, blocks: &Blocks, block: Block, front: &mut Front<F>) {
        let first = self.blocks.len() - block.children as usize;
        for child in self.blocks.drain(first..).rev() {
            let child = blocks.list[child as usize];
            let lines = &blocks.in_parent[child.beyond()];
            let start = self.values.len() - lines.len().pow(2);
            front.take_over(lines, &self.values[start..]);
            self.values.truncate(start);
        }
    }
}

impl<F: Field> Front<F> {
    fn new() -> Self {
        let [square, below, beside, rest] = [const { Vec::new() }; 4];
        Self { pivots: 0, lines: 0, square, below, beside, rest }
    }

    /// Nothing yet, at the size of a block.
    #[inline(always)]
    fn begin(&mut self, block: Block) {
        let (m, r) = block.size();
        (self.pivots, self.lines) = (m, r);
        let parts = [&mut self.square, &mut self.below, &mut self.beside, &mut self.rest];
        for (part, length) in parts.into_iter().zip([m * m, m * r, m * r, r * r]) {
            part.clear();
            part.resize(length, F::splat(0.0));
        }
    }

    /// Adds values of the matrix.
    #[inline(always)]
    fn assemble(&mut self, sources: &[Source], values: &[F]) {
        let (m, r) = (self.pivots, self.lines);
        for source in sources {
            let (i, j) = (source.row as usize, source.column as usize);
            let to = match (i < m, j < m) {
                (true, true) => &mut self.square[i * m + j],
                (true, false) => &mut self.beside[i * r + j - m],
                _ => &mut self.below[j * r + i - m],
            };
            *to = *to + values[source.slot as usize];
        }
    }

    /// Adds a child's values, whose lines are these of the block.
    #[inline(always)]
    fn take_over(&mut self, lines: &[u32], values: &[F]) {
        let (m, r) = (self.pivots, self.lines);
        let inner = lines.partition_point(|&line| (line as usize) < m);
        let (own, later) = lines.split_at(inner);
        for (&i, row) in lines.iter().zip(values.chunks_exact(lines.len().max(1))) {
            let (i, (first, second)) = (i as usize, row.split_at(inner));
            if i < m {
                add_at(&mut self.square[i * m..][..m], own, 0, first);
                add_at(&mut self.beside[i * r..][..r], later, m, second);
            } else {
                for (&j, &value) in own.iter().zip(first) {
                    let to = &mut self.below[j as usize * r + i - m];
                    *to = *to + value;
                }
                add_at(&mut self.rest[(i - m) * r..][..r], later, m, second);
            }
        }
    }

    /// Factors the square. Fails with the pivot that is none.
    #[inline(always)]
    fn eliminate(&mut self, inverses: &mut [F]) -> Result<(), usize> {
        let m = self.pivots;
        for i in 0..m {
            let (above, rows) = self.square.split_at_mut(i * m);
            let row = &mut rows[..m];
            for k in 0..i {
                let (multipliers, later) = row.split_at_mut(k + 1);
                let multiplier = multipliers[k] * inverses[k];
                multipliers[k] = multiplier;
                for (to, &value) in later.iter_mut().zip(&above[k * m + k + 1..][..m - k - 1]) {
                    *to = *to - multiplier * value;
                }
            }
            inverses[i] = row[i].inverse().ok_or(i)?;
        }
        Ok(())
    }

    /// Completes rows and columns in the lines beyond, and what is left of these.
    #[inline(always)]
    fn complete(&mut self, inverses: &[F]) {
        let (m, r) = (self.pivots, self.lines);
        if r == 0 {
            return;
        }
        for (k, &inverse) in inverses.iter().enumerate() {
            let (above, rows) = self.beside.split_at_mut(k * r);
            let multipliers = &self.square[k * m..];
            subtract_multiples(&mut rows[..r], above, |p| multipliers[p]);
            let (before, columns) = self.below.split_at_mut(k * r);
            let column = &mut columns[..r];
            subtract_multiples(column, before, |p| self.square[p * m + k]);
            for value in column {
                *value = *value * inverse;
            }
        }
        for (i, row) in self.rest.chunks_exact_mut(r).enumerate() {
            subtract_multiples(row, &self.beside, |k| self.below[k * r + i]);
        }
    }

    /// The multipliers, in the order of [`Block::lower`].
    #[inline(always)]
    fn give_lower(&self, to: &mut [F]) {
        let (m, r) = (self.pivots, self.lines);
        let (triangle, below) = to.split_at_mut(to.len() - m * r);
        let mut places = triangle.iter_mut();
        for k in 0..m {
            // Rows first: what is zipped second loses nothing when they end.
            for (row, to) in self.square.chunks_exact(m).skip(k + 1).zip(&mut places) {
                *to = row[k];
            }
        }
        below.copy_from_slice(&self.below);
    }

    /// What is right of the pivots, in the order of [`Block::upper`].
    #[inline(always)]
    fn give_upper(&self, to: &mut [F]) {
        let (m, r) = (self.pivots, self.lines);
        let (beside, triangle) = to.split_at_mut(m * r);
        for (j, column) in beside.chunks_exact_mut(m.max(1)).enumerate() {
            for (k, value) in column.iter_mut().enumerate() {
                *value = self.beside[k * r + j];
            }
        }
        let mut places = triangle.iter_mut();
        for k in (0..m).rev() {
            for (row, to) in self.square.chunks_exact(m).take(k).zip(&mut places) {
                *to = row[k];
            }
        }
    }
}

/// Adds values at places counted from `first` on.
#[inline(always)]
fn add_at<F: Field>(to: &mut [F], places: &[u32], first: usize, values: &[F]) {
    for (&place, &value) in places.iter().zip(values) {
        let to = &mut to[place as usize - first];
        *to = *to + value;
    }
}
