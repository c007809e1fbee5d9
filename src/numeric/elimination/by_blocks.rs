//! Solving by blocks: each block's lines are gathered once, and its products run along contiguous values.

// Measured: a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::super::Field;
use super::blocks::{Block, Blocks};
use super::multiples::{products, subtract_multiple, subtract_multiples};
use pulp::{Arch, Simd, WithSimd};
use std::ops::Range;

/// A solution in pivot order, by the widest instructions of this machine; nothing is fused, so that all give
/// the same bits.
struct Solve<'a, F> {
    blocks: &'a Blocks,
    made: &'a [F],
    inverse_pivots: &'a [F],
    x: &'a mut [F],
    /// Room for the lines of a block.
    room: &'a mut [F],
    transposed: bool,
}

impl<F: Field> WithSimd for Solve<'_, F> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(mut self, _: S) {
        for block in &self.blocks.list {
            if self.transposed {
                self.forward_transposed(*block);
            } else {
                self.forward(*block);
            }
        }
        for block in self.blocks.list.iter().rev() {
            if self.transposed {
                self.backward_transposed(*block);
            } else {
                self.backward(*block);
            }
        }
    }
}

impl Blocks {
    /// Solves in place, all in pivot order; `room` is scratch as long as x.
    pub(super) fn solve<F: Field>(
        &self,
        (made, inverse_pivots): (&[F], &[F]),
        x: &mut [F],
        room: &mut [F],
        transposed: bool,
    ) {
        let blocks = self;
        Arch::new().dispatch(Solve { blocks, made, inverse_pivots, x, room, transposed });
    }
}

impl<F: Field> Solve<'_, F> {
    #[inline(always)]
    fn forward(&mut self, block: Block) {
        let (m, r) = block.size();
        let mut columns = &self.made[block.lower()];
        let own = &mut self.x[block.own()];
        for k in 1..m {
            let (before, later) = own.split_at_mut(k);
            let (column, rest) = columns.split_at(m - k);
            columns = rest;
            subtract_multiple(later, column, before[k - 1]);
        }
        if r == 0 {
            return;
        }
        self.gather(block);
        let (own, lines) = (&self.x[block.own()], &mut self.room[..r]);
        subtract_multiples(lines, columns, |k| own[k]);
        self.scatter(block);
    }

    #[inline(always)]
    fn backward(&mut self, block: Block) {
        let (m, r) = block.size();
        if m == 0 {
            return;
        }
        let (beside, mut columns) = self.made[block.upper()].split_at(m * r);
        let Range { start, end } = block.own();
        let (before, later) = self.x.split_at_mut(end);
        let own = &mut before[start..];
        let lines = &self.blocks.beyond[block.beyond()];
        subtract_multiples(own, beside, |line| later[lines[line] as usize - end]);
        let inverses = &self.inverse_pivots[start..end];
        for k in (1..m).rev() {
            let (earlier, here) = own.split_at_mut(k);
            here[0] = here[0] * inverses[k];
            let (column, rest) = columns.split_at(k);
            columns = rest;
            subtract_multiple(earlier, column, here[0]);
        }
        own[0] = own[0] * inverses[0];
    }

    #[inline(always)]
    fn forward_transposed(&mut self, block: Block) {
        let (m, r) = block.size();
        let (beside, mut columns) = self.made[block.upper()].split_at(m * r);
        // The columns in the pivots lie from the last to the first.
        let own = &mut self.x[block.own()];
        for (k, &inverse) in self.inverse_pivots[block.own()].iter().enumerate() {
            let (rest, column) = columns.split_at(columns.len() - k);
            columns = rest;
            own[k] = (own[k] - products(column, &own[..k])) * inverse;
        }
        self.gather(block);
        let (own, lines) = (&self.x[block.own()], &mut self.room[..r]);
        for (line, column) in lines.iter_mut().zip(beside.chunks_exact(m.max(1))) {
            *line = *line - products(column, own);
        }
        self.scatter(block);
    }

    #[inline(always)]
    fn backward_transposed(&mut self, block: Block) {
        let (m, r) = block.size();
        let lower = &self.made[block.lower()];
        let (mut columns, below) = lower.split_at(lower.len() - m * r);
        self.gather(block);
        let (own, lines) = (&mut self.x[block.own()], &self.room[..r]);
        for k in (0..m).rev() {
            let (rest, column) = columns.split_at(columns.len() - (m - 1 - k));
            columns = rest;
            let beyond = products(&below[k * r..][..r], lines);
            own[k] = own[k] - products(column, &own[k + 1..]) - beyond;
        }
    }

    /// Brings a block's lines together in the room.
    #[inline(always)]
    fn gather(&mut self, block: Block) {
        let lines = &self.blocks.beyond[block.beyond()];
        for (to, &line) in self.room.iter_mut().zip(lines) {
            *to = self.x[line as usize];
        }
    }

    /// Puts them back.
    #[inline(always)]
    fn scatter(&mut self, block: Block) {
        let lines = &self.blocks.beyond[block.beyond()];
        for (&value, &line) in self.room.iter().zip(lines) {
            self.x[line as usize] = value;
        }
    }
}
