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

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: Piece = Piece::Line { origin_s: 0.5, level: 3.0, slope: -7.0 };
    const SINE: Piece =
        Piece::Sine { level: 1.0, amplitude: 0.3, omega: 11.0, origin_s: 0.1, phase_rad: 0.4 };
    const DECAY: Piece = Piece::Decay { level: 2.0, amplitude: 0.9, tau_s: 0.7, origin_s: 0.2 };

    fn all_as_alone(drives: &LaneDrives, alone: &[[Piece; 2]; LANES]) {
        let t = Lanes(std::array::from_fn(|lane| 0.3 + 0.21 * lane as f64));
        let (mut levels, mut slopes) = ([Lanes::splat(9.0); 2], [Lanes::splat(9.0); 2]);
        drives.levels(t, &mut levels);
        drives.slopes(t, &mut slopes);
        for (lane, pieces) in alone.iter().enumerate() {
            for (drive, piece) in pieces.iter().enumerate() {
                assert_eq!(levels[drive].0[lane].to_bits(), piece.value(t.0[lane]).to_bits());
                assert_eq!(slopes[drive].0[lane].to_bits(), piece.slope(t.0[lane]).to_bits());
            }
        }
    }

    #[test]
    fn drives_of_every_shape_have_the_bits_in_company_that_they_have_alone() {
        let mut alone = [[LINE, SINE]; LANES];
        alone[1] = [DECAY, LINE];
        let mut drives = LaneDrives::new(2);
        for (lane, pieces) in alone.iter().enumerate() {
            drives.put(lane, &Pieces { list: pieces.to_vec() });
        }
        all_as_alone(&drives, &alone);
        // A lane that goes on to its next stretch leaves nothing of the last one behind.
        alone[0] = [SINE, LINE];
        alone[1] = [LINE, LINE];
        for lane in [0, 1] {
            drives.put(lane, &Pieces { list: alone[lane].to_vec() });
        }
        all_as_alone(&drives, &alone);
    }
}
