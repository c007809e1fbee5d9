//! Drives of several variants in lockstep, one variant a lane: straight lines all at once, what else there
//! is lane by lane.

// Measured: in lockstep a call of its own would not be compiled for wide registers.
#![allow(clippy::inline_always)]

use super::Pieces;
use crate::device::Piece;
use crate::numeric::{Field, LANES, Lanes};

/// The drives of all lanes.
#[derive(Clone, Debug)]
pub(crate) struct LaneDrives {
    pieces: [Pieces; LANES],
    /// Of each drive.
    lines: Vec<Lines>,
    /// Drives and lanes whose pieces are no lines.
    others: Vec<(usize, usize, Piece)>,
}

/// A line in each lane: `level` at `origin_s`, and its slope.
#[derive(Clone, Copy, Debug)]
struct Lines {
    origin_s: Lanes,
    level: Lanes,
    slope: Lanes,
}

impl LaneDrives {
    /// Of so many drives, all at nothing.
    pub(crate) fn new(count: usize) -> Self {
        let zero = Lanes::splat(0.0);
        let lines = vec![Lines { origin_s: zero, level: zero, slope: zero }; count];
        Self { pieces: Default::default(), lines, others: Vec::new() }
    }

    /// Puts the drives of a variant into a lane.
    pub(crate) fn put(&mut self, lane: usize, pieces: &Pieces) {
        let lane = lane % LANES;
        if self.pieces[lane] == *pieces {
            return;
        }
        self.pieces[lane].clone_from(pieces);
        self.others.retain(|&(_, of, _)| of != lane);
        for (drive, (lines, piece)) in self.lines.iter_mut().zip(&pieces.list).enumerate() {
            match *piece {
                Piece::Line { origin_s, level, slope } => {
                    lines.origin_s.0[lane] = origin_s;
                    lines.level.0[lane] = level;
                    lines.slope.0[lane] = slope;
                }
                other => self.others.push((drive, lane, other)),
            }
        }
    }

    /// Levels at `t` in s.
    #[inline(always)]
    pub(super) fn levels(&self, t: Lanes, levels: &mut [Lanes]) {
        for (value, lines) in levels.iter_mut().zip(&self.lines) {
            *value = lines.level + lines.slope * (t - lines.origin_s);
        }
        for &(drive, lane, piece) in &self.others {
            levels[drive].0[lane] = piece.value(t.0[lane]);
        }
    }

    /// Levels per second at `t`.
    #[inline(always)]
    pub(super) fn slopes(&self, t: Lanes, slopes: &mut [Lanes]) {
        for (value, lines) in slopes.iter_mut().zip(&self.lines) {
            *value = lines.slope;
        }
        for &(drive, lane, piece) in &self.others {
            slopes[drive].0[lane] = piece.slope(t.0[lane]);
        }
    }
}
