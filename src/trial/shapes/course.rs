//! A course of levels over time, put together piece by piece: straight lines, sines and decays as they
//! are, without points in between.

use crate::device::{Drive, Piece, Shape};
use std::f64::consts::TAU;

/// Longer than the tenth of a record over which a profile's settled level is taken.
const REST_SHARE: f64 = 0.2;

/// What has been put together so far.
#[derive(Clone, Debug)]
pub(super) struct Course {
    time_s: f64,
    level: f64,
    pieces: Vec<(f64, Piece)>,
}

impl Course {
    /// At a level, at which it has been for ever.
    pub(super) fn at(level: f64) -> Self {
        let flat = Piece::Line { origin_s: 0.0, level, slope: 0.0 };
        Self { time_s: 0.0, level, pieces: vec![(0.0, flat)] }
    }

    /// Stays for some seconds.
    pub(super) fn hold(&mut self, for_s: f64) {
        self.go(self.level, for_s);
    }

    /// Goes straight to a level; in no time it jumps there.
    pub(super) fn go(&mut self, to: f64, in_s: f64) {
        let slope = if in_s > 0.0 { (to - self.level) / in_s } else { 0.0 };
        self.add(Piece::Line { origin_s: self.time_s, level: self.level, slope }, in_s);
        self.level = to;
    }

    /// Swings about the level it is at, upwards first.
    pub(super) fn swing(&mut self, amplitude: f64, hertz: f64, for_s: f64) {
        let (level, origin_s) = (self.level, self.time_s);
        let omega = TAU * hertz;
        self.add(Piece::Sine { level, amplitude, omega, origin_s, phase_rad: 0.0 }, for_s);
    }

    /// Dies away towards a level.
    pub(super) fn die_away(&mut self, to: f64, tau_s: f64, for_s: f64) {
        let (amplitude, origin_s) = (self.level - to, self.time_s);
        self.add(Piece::Decay { level: to, amplitude, tau_s, origin_s }, for_s);
    }

    /// Stays where it is, or goes on dying away, so that it can be seen where the rail settles; for a
    /// share of all so far where `for_s` is not a number.
    pub(super) fn rest(&mut self, for_s: f64) {
        let for_s = if for_s.is_nan() { REST_SHARE * self.time_s } else { for_s };
        match self.pieces.last().map(|p| p.1) {
            Some(Piece::Decay { level, tau_s, .. }) => self.die_away(level, tau_s, for_s),
            _ => self.hold(for_s),
        }
    }

    fn add(&mut self, piece: Piece, for_s: f64) {
        if for_s > 0.0 {
            self.pieces.push((self.time_s, piece));
            self.time_s += for_s;
            self.level = piece.value(self.time_s);
        }
    }

    /// The course as a drive, and how long it takes in s. Afterwards it stays, or goes on dying away.
    pub(super) fn end(mut self) -> (Drive, f64) {
        if !matches!(self.pieces.last(), Some((_, Piece::Decay { .. }))) {
            let flat = Piece::Line { origin_s: self.time_s, level: self.level, slope: 0.0 };
            self.pieces.push((self.time_s, flat));
        }
        (Drive { constant: 0.0, shape: Some(Shape::Pieces(self.pieces)) }, self.time_s)
    }
}
