//! What a transient leaves behind: its points, and the curve between them.

// Measured: a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::step::{Point, Step};
use crate::numeric::Field;
use crate::system::Pieces;

/// A stretch between two corners, on which every drive is smooth.
#[derive(Clone, Debug)]
pub struct Segment {
    /// s
    pub from_s: f64,
    /// s
    pub to_s: f64,
    /// The drives there.
    pub pieces: Pieces,
}

/// Room for so many values at first: a load step of a rail then grows it once, and it is still taken from
/// the heap and not from the system.
const FIRST_VALUES: usize = 6_000;

/// Points in time and, between neighbours, the integrator's own curve
/// v(θ) = (1−θ)·v₀ + θ·(v₁ + (1−θ)·(b₀ + θ·b₁)).
#[derive(Clone, Debug, Default)]
pub struct Record {
    width: usize,
    times_s: Vec<f64>,
    segments_of: Vec<u32>,
    values: Vec<f64>,
    bends: Vec<[f64; 2]>,
    /// Stretches between corners, in order.
    pub segments: Vec<Segment>,
}

/// One point of a record, or one between two of them.
#[derive(Clone, Copy, Debug)]
pub struct Recorded<'a> {
    /// s
    pub t: f64,
    /// Unknowns by index, ground first.
    pub x: &'a [f64],
    /// The drives that hold there.
    pub pieces: &'a Pieces,
}

/// What lies between two neighbouring points, unknown by unknown.
#[derive(Clone, Copy, Debug)]
pub struct Stretch<'a> {
    start: &'a [f64],
    end: &'a [f64],
    bends: &'a [[f64; 2]],
}

impl Stretch<'_> {
    /// Unknown `u` at share θ of the way; at several where that stands for several.
    #[inline(always)]
    pub fn inside<F: Field>(&self, theta: F, u: usize) -> F {
        let ([b0, b1], v0, v1) = (self.bends[u], self.start[u], self.end[u]);
        let [b0, b1, v0, v1] = [b0, b1, v0, v1].map(F::splat);
        let left = F::splat(1.0) - theta;
        left * v0 + theta * (v1 + left * (b0 + theta * b1))
    }

    /// Change of unknown `u` per share of the way, at share θ of it.
    #[inline(always)]
    pub fn slope<F: Field>(&self, theta: F, u: usize) -> F {
        let [b0, b1] = self.bends[u].map(F::splat);
        let chord = F::splat(self.end[u] - self.start[u]);
        let (one, two) = (F::splat(1.0), F::splat(2.0));
        chord + (one - two * theta) * (b0 + theta * b1) + theta * (one - theta) * b1
    }
}

/// The room of a record that is done with, for the next one: thousands of runs need not ask the system
/// for fresh pages each.
#[derive(Debug, Default)]
pub struct Spare {
    values: Vec<f64>,
    bends: Vec<[f64; 2]>,
}

impl Record {
    /// An empty record of points with `width` unknowns, ground counted.
    pub(crate) fn new(width: usize, spare: Spare) -> Self {
        let Spare { mut values, mut bends } = spare;
        values.clear();
        bends.clear();
        values.reserve(FIRST_VALUES);
        bends.reserve(FIRST_VALUES);
        Self { width, values, bends, ..Self::default() }
    }

    /// Its room, with nothing of use in it.
    pub fn into_spare(self) -> Spare {
        Spare { values: self.values, bends: self.bends }
    }

    /// Number of points.
    pub fn len(&self) -> usize {
        self.times_s.len()
    }

    /// Whether there is no point.
    pub fn is_empty(&self) -> bool {
        self.times_s.is_empty()
    }

    /// Times of all points in s; two equal neighbours are the sides of a jump.
    pub fn times_s(&self) -> &[f64] {
        &self.times_s
    }

    /// Point `k`; the caller keeps k below [`Record::len`].
    pub fn point(&self, k: usize) -> Recorded<'_> {
        Recorded {
            t: self.times_s[k],
            x: self.x(k),
            pieces: &self.segments[self.segments_of[k] as usize].pieces,
        }
    }

    /// The drives on the way from point `k` to the next.
    pub fn pieces_after(&self, k: usize) -> &Pieces {
        let next = (k + 1).min(self.len() - 1);
        &self.segments[self.segments_of[next] as usize].pieces
    }

    fn x(&self, k: usize) -> &[f64] {
        &self.values[k * self.width..][..self.width]
    }

    /// Value of unknown `u` at point `k`.
    pub fn value(&self, k: usize, u: usize) -> f64 {
        self.values[k * self.width + u]
    }

    /// The same, to be tampered with.
    #[cfg(test)]
    pub(super) fn value_mut(&mut self, k: usize, u: usize) -> &mut f64 {
        &mut self.values[k * self.width + u]
    }

    /// The two bends of unknown `u` between point `k` and the next.
    pub fn bends(&self, k: usize, u: usize) -> [f64; 2] {
        self.bends[k * self.width + u]
    }

    /// All points in turn, each with its unknowns by index.
    pub fn all_values(&self) -> impl Iterator<Item = &[f64]> {
        self.values.chunks_exact(self.width.max(1))
    }

    /// All stretches in turn, each with the two bends of every unknown.
    pub fn all_bends(&self) -> impl Iterator<Item = &[[f64; 2]]> {
        self.bends.chunks_exact(self.width.max(1))
    }

    /// From point `k` to the next; the caller keeps k + 1 below [`Record::len`].
    pub fn stretch(&self, k: usize) -> Stretch<'_> {
        let bends = &self.bends[k * self.width..][..self.width];
        Stretch { start: self.x(k), end: self.x(k + 1), bends }
    }

    /// Unknown `u` at share θ of the way from point `k` to the next.
    pub fn inside(&self, k: usize, theta: f64, u: usize) -> f64 {
        self.stretch(k).inside(theta, u)
    }

    /// All unknowns at share θ of the way from point `k` to the next, into `x`.
    pub fn between(&self, k: usize, theta: f64, x: &mut [f64]) {
        let stretch = self.stretch(k);
        for (u, x) in x.iter_mut().enumerate().take(self.width) {
            *x = stretch.inside(theta, u);
        }
    }

    /// Value of unknown `u` at time `t`, the end values outside the record; NaN in an empty one.
    pub fn value_at(&self, t: f64, u: usize) -> f64 {
        let after = self.times_s.partition_point(|&time| time <= t);
        let Some(k) = after.checked_sub(1) else {
            return if self.is_empty() { f64::NAN } else { self.value(0, u) };
        };
        if after == self.len() {
            return self.value(k, u);
        }
        let theta = (t - self.times_s[k]) / (self.times_s[after] - self.times_s[k]);
        self.inside(k, theta, u)
    }

    /// The point before which time `t` lies strictly inside a stretch, if there is one.
    pub fn stretch_around(&self, t: f64) -> Option<usize> {
        let after = self.times_s.partition_point(|&time| time <= t);
        let k = after.checked_sub(1)?;
        (after < self.len() && self.times_s[k] < t).then_some(k)
    }

    /// Forgets all points; the segments stay.
    pub(crate) fn clear_points(&mut self) {
        self.times_s.clear();
        self.segments_of.clear();
        self.values.clear();
        self.bends.clear();
    }

    pub(crate) fn push_first(&mut self, point: &Point, segment: usize) {
        self.times_s.push(point.t);
        self.segments_of.push(segment as u32);
        self.values.extend_from_slice(&point.x);
    }

    /// Adds a step's end; `segment` holds the drives on the way there.
    pub(crate) fn push(&mut self, step: &Step, segment: usize) {
        self.bends.extend(step.bend0.iter().zip(&step.bend1).map(|(a, b)| [*a, *b]));
        self.push_first(&step.end, segment);
    }

    /// Splits the stretch after point `k` at the end of `first`, with `second` reaching the old
    /// next point, whose values stay.
    pub(crate) fn split(&mut self, k: usize, first: &Step, second: &Step) {
        let segment = self.segments_of[k + 1];
        self.times_s.insert(k + 1, first.end.t);
        self.segments_of.insert(k + 1, segment);
        let at = (k + 1) * self.width;
        self.values.splice(at..at, first.end.x.iter().copied());
        let pairs = |step: &Step| -> Vec<[f64; 2]> {
            step.bend0.iter().zip(&step.bend1).map(|(a, b)| [*a, *b]).collect()
        };
        let start = k * self.width;
        self.bends[start..start + self.width].copy_from_slice(&pairs(first));
        self.bends.splice(start + self.width..start + self.width, pairs(second));
    }
}
