//! Matrices with constant entries: the linear elements of a system, evaluated all at once.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use crate::numeric::{Field, LANES, Lanes, ROOM};
use std::collections::BTreeMap;

/// A matrix with constant entries, rows without entries left out; rows and columns counted as in z.
#[derive(Clone, Debug, Default)]
pub(crate) struct ConstantRows<F = f64> {
    rows: Vec<ConstantRow>,
    columns: Vec<u32>,
    values: Vec<F>,
    /// The same for vectors that a byte can index; empty where one does not reach. The first pairs of all
    /// rows stand first:
    pairs: Vec<Pair<F>>,
    /// so many of them.
    firsts: usize,
    /// Rows without entries, rising, as far as a vector can have them.
    empty: Vec<u8>,
}

/// One row of [`ConstantRows`]: which it is, and where its entries end.
#[derive(Clone, Copy, Debug, PartialEq)]
struct ConstantRow {
    row: u32,
    end: u32,
}

/// Two entries of a row; an odd one is joined by nothing times ground.
#[derive(Clone, Copy, Debug)]
struct Pair<F> {
    values: [F; 2],
    columns: [u8; 2],
    row: u8,
}

impl<F: Field> Pair<F> {
    #[inline(always)]
    fn sum(&self, z: &[F; ROOM]) -> F {
        let [first, second] = self.columns.map(|column| z[column as usize]);
        self.values[0] * first + self.values[1] * second
    }
}

impl ConstantRows {
    /// Adds scale·Σ |entries|·z by row.
    pub(super) fn add_sizes(&self, z: &[f64], scale: f64, out: &mut [f64]) {
        let mut start = 0;
        for &ConstantRow { row, end } in &self.rows {
            let here = start as usize..end as usize;
            let terms = self.columns[here.clone()].iter().zip(&self.values[here]);
            let sum: f64 = terms.map(|(&column, value)| value.abs() * z[column as usize]).sum();
            out[row as usize] += scale * sum;
            start = end;
        }
    }

    /// Of entries by (row, column), for vectors of `extent`.
    pub(super) fn new(
        entries: &BTreeMap<(usize, usize), f64>,
        extent: usize,
        keep: impl Fn(usize) -> bool,
    ) -> Self {
        let mut rows = Self::default();
        for (&(row, column), &value) in entries.iter().filter(|((_, column), _)| keep(*column)) {
            rows.columns.push(column as u32);
            rows.values.push(value);
            let (row, end) = (row as u32, rows.values.len() as u32);
            match rows.rows.last_mut() {
                Some(last) if last.row == row => last.end = end,
                _ => rows.rows.push(ConstantRow { row, end }),
            }
        }
        if extent <= ROOM {
            rows.pair_up();
            let has_entries = |row: &u8| rows.rows.iter().any(|r| r.row == u32::from(*row));
            let all = 0..=extent.saturating_sub(1) as u8;
            rows.empty = all.filter(|row| !has_entries(row)).collect();
        }
        rows
    }

    fn pair_up(&mut self) {
        let mut start = 0;
        for &ConstantRow { row, end } in &self.rows {
            let range = start as usize..end as usize;
            let (columns, values) = (&self.columns[range.clone()], &self.values[range]);
            for (columns, values) in columns.chunks(2).zip(values.chunks(2)) {
                let second = columns.get(1).zip(values.get(1)).map_or((0, 0.0), |(c, v)| (*c, *v));
                self.pairs.push(Pair {
                    values: [values[0], second.1],
                    columns: [columns[0] as u8, second.0 as u8],
                    row: row as u8,
                });
            }
            start = end;
        }
        // The first pairs of all rows, then the second ones: neighbours need not wait for each other.
        let mut before = (u8::MAX, 0);
        let rounds = self.pairs.iter().map(|pair| {
            before = if pair.row == before.0 { (pair.row, before.1 + 1) } else { (pair.row, 0) };
            before.1
        });
        let mut by_round: Vec<(usize, Pair<f64>)> =
            rounds.zip(self.pairs.iter().copied()).collect();
        by_round.sort_by_key(|(round, _)| *round);
        self.firsts = by_round.partition_point(|(round, _)| *round == 0);
        self.pairs = by_round.into_iter().map(|(_, pair)| pair).collect();
    }
}

impl ConstantRows<Lanes> {
    /// The same matrix in every lane.
    pub(super) fn of(one: &ConstantRows) -> Self {
        let ConstantRows { rows, columns, values, pairs, firsts, empty } = one;
        let pair = |pair: &Pair<f64>| Pair {
            values: pair.values.map(Lanes::splat),
            columns: pair.columns,
            row: pair.row,
        };
        Self {
            rows: rows.clone(),
            columns: columns.clone(),
            values: values.iter().copied().map(Lanes::splat).collect(),
            pairs: pairs.iter().map(pair).collect(),
            firsts: *firsts,
            empty: empty.clone(),
        }
    }

    /// Puts a matrix with entries in the same places into a lane; `false` if they are elsewhere.
    pub(super) fn seat(&mut self, lane: usize, one: &ConstantRows) -> bool {
        let lane = lane % LANES;
        if self.rows != one.rows || self.columns != one.columns {
            return false;
        }
        for (value, &of) in self.values.iter_mut().zip(&one.values) {
            value.0[lane] = of;
        }
        for (pair, of) in self.pairs.iter_mut().zip(&one.pairs) {
            for (value, &of) in pair.values.iter_mut().zip(&of.values) {
                value.0[lane] = of;
            }
        }
        true
    }
}

impl<F: Field> ConstantRows<F> {
    /// out\[row\] = Σ entries·z; 0 in rows without entries. Fastest where both have [`ROOM`], of which
    /// the first `count` of `out` are written.
    #[inline(always)]
    pub(super) fn times(&self, z: &[F], out: &mut [F], count: usize) {
        match (z.first_chunk(), out.first_chunk_mut()) {
            (Some(z), Some(out)) if !self.pairs.is_empty() => self.times_paired(z, out, count),
            _ => self.times_by_row(z, out, count),
        }
    }

    #[inline(always)]
    fn times_paired(&self, z: &[F; ROOM], out: &mut [F; ROOM], count: usize) {
        let (firsts, others) = self.pairs.split_at(self.firsts);
        for pair in firsts {
            out[pair.row as usize] = pair.sum(z);
        }
        for pair in others {
            out[pair.row as usize] = out[pair.row as usize] + pair.sum(z);
        }
        for &row in self.empty.iter().take_while(|row| usize::from(**row) < count) {
            out[row as usize] = F::splat(0.0);
        }
    }

    fn times_by_row(&self, z: &[F], out: &mut [F], count: usize) {
        let zero = F::splat(0.0);
        out[..count].fill(zero);
        let (mut columns, mut values) = (self.columns.as_slice(), self.values.as_slice());
        let mut start = 0;
        for &ConstantRow { row, end } in &self.rows {
            let (here_columns, later_columns) = columns.split_at((end - start) as usize);
            let (here_values, later_values) = values.split_at((end - start) as usize);
            let products = here_columns.iter().zip(here_values);
            out[row as usize] =
                products.fold(zero, |sum, (&column, &value)| sum + value * z[column as usize]);
            (columns, values, start) = (later_columns, later_values, end);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_both_ways_to_multiply_agree_and_drives_can_be_taken_alone() {
        let places = [((1, 1), 2.0), ((1, 2), -1.0), ((1, 4), 0.5), ((3, 3), 4.0)];
        let entries = BTreeMap::from(places);
        let all = ConstantRows::new(&entries, 5, |_| true);
        let z: Vec<f64> = (0..ROOM).map(|k| k as f64).collect();
        let (mut short, mut long) = (vec![9.0; 4], vec![9.0; ROOM]);
        all.times(&z[..5], &mut short, 4);
        all.times(&z, &mut long, 4);
        assert_eq!(short, [0.0, 2.0, 0.0, 12.0]);
        assert_eq!(long[..5], [0.0, 2.0, 0.0, 12.0, 9.0]);
        ConstantRows::new(&entries, 5, |column| column >= 4).times(&z, &mut long, 4);
        assert_eq!(long[..4], [0.0, 2.0, 0.0, 0.0]);
    }
}
