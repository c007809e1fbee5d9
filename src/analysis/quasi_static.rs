//! Quasi-static sweeps: rest after rest while a drive is moved, each found from the one before, so
//! that a circuit with several rests stays on its branch until the branch ends.

use super::newton::{Damping, Held, Newton};
use super::{Failure, operating_point};
use crate::system::{Pieces, System};

/// Iterations from a neighbouring rest.
const ITERATIONS: usize = 40;
/// A move that does not converge is halved this often before the rest is sought from nothing.
const HALVINGS: usize = 12;
/// Where the curve bends, intervals are halved at most this often.
const FINEST: usize = 6;
/// A curve may leave the straight line over an interval by this share of its whole span before the
/// interval is halved.
const BEND_SHARE: f64 = 1e-3;

/// One rest of a sweep.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepPoint {
    /// Level of the drive that is moved.
    pub level: f64,
    /// The extended vector there.
    pub z: Vec<f64>,
    /// Whether the rest was found from nothing because its branch had ended: a jump.
    pub jumped: bool,
}

/// A circuit at rest whose drives are moved by hand.
#[derive(Clone, Debug)]
pub struct QuasiStatic<'a> {
    system: &'a System,
    pieces: Pieces,
    newton: Newton,
    z: Vec<f64>,
}

impl<'a> QuasiStatic<'a> {
    /// At rest with drives as in `pieces`.
    ///
    /// # Errors
    /// When there is no operating point.
    pub fn new(system: &'a System, pieces: Pieces) -> Result<Self, Failure> {
        let rest = operating_point(system, &pieces, 0.0, None)?;
        Ok(Self { system, pieces, newton: Newton::new(system), z: rest.z })
    }

    /// The extended vector at the present rest.
    pub fn z(&self) -> &[f64] {
        &self.z
    }

    /// The system.
    pub fn system(&self) -> &'a System {
        self.system
    }

    /// The level at which a drive is held, at t = 0.
    pub fn level(&self, drive: usize) -> f64 {
        self.pieces.list().get(drive).map_or(f64::NAN, |piece| piece.value(0.0))
    }

    /// Newton iterations and matrices factored so far.
    pub fn work(&self) -> (usize, usize) {
        (self.newton.iterations, self.newton.solver.factorisations)
    }

    /// Moves a drive and finds the rest there; gives whether it had to be sought from nothing.
    ///
    /// # Errors
    /// When there is no rest at the new level; the present one is kept.
    pub fn go(&mut self, drive: usize, level: f64) -> Result<bool, Failure> {
        let from = self.level(drive);
        let before = (self.pieces.clone(), self.z.clone());
        if self.follow(drive, from, level) {
            return Ok(false);
        }
        (self.pieces, self.z) = before.clone();
        self.pieces.hold(drive, level);
        match operating_point(self.system, &self.pieces, 0.0, Some(&self.z)) {
            Ok(rest) => {
                self.z = rest.z;
                Ok(true)
            }
            Err(failure) => {
                (self.pieces, self.z) = before;
                Err(failure)
            }
        }
    }

    /// In one move if that converges, else in halves.
    fn follow(&mut self, drive: usize, from: f64, to: f64) -> bool {
        let (mut at, mut step) = (from, to - from);
        let shortest = step.abs() * 0.5_f64.powi(HALVINGS as i32);
        loop {
            let next = if (to - at).abs() <= step.abs() { to } else { at + step };
            let mut trial = self.z.clone();
            self.pieces.hold(drive, next);
            let held = Held { source_scale: 1.0, ..Held::default() };
            let pieces = (&self.pieces, 0.0);
            let solved = self
                .newton
                .solve(self.system, pieces, &held, Damping::Junctions, ITERATIONS, &mut trial)
                .is_ok();
            if solved {
                self.z = trial;
                at = next;
                if at == to {
                    return true;
                }
                step *= 2.0;
            } else {
                step *= 0.5;
                if step.abs() < shortest || step == 0.0 {
                    return false;
                }
            }
        }
    }

    /// Rests at `count` evenly spaced levels from `from` to `to`, and more where `watched` (of the
    /// extended vector) bends. Ends at the first level without a rest, with its failure.
    pub fn sweep(
        &mut self,
        drive: usize,
        (from, to): (f64, f64),
        count: usize,
        watched: &dyn Fn(&[f64]) -> f64,
    ) -> (Vec<SweepPoint>, Option<Failure>) {
        let mut points: Vec<SweepPoint> = Vec::with_capacity(2 * count);
        let last = count.max(2) - 1;
        for k in 0..=last {
            let share = k as f64 / last as f64;
            let level = if k == last { to } else { from + share * (to - from) };
            match self.go(drive, level) {
                Ok(jumped) => points.push(SweepPoint { level, z: self.z.clone(), jumped }),
                Err(failure) => return (points, Some(failure)),
            }
        }
        self.refine(drive, points, watched)
    }

    /// Halves intervals whose middle lies off the straight line between its neighbours.
    fn refine(
        &mut self,
        drive: usize,
        mut points: Vec<SweepPoint>,
        watched: &dyn Fn(&[f64]) -> f64,
    ) -> (Vec<SweepPoint>, Option<Failure>) {
        for _ in 0..FINEST {
            let seen: Vec<f64> = points.iter().map(|p| watched(&p.z)).collect();
            let (low, high) = seen
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
            let wanted = bent(&points, &seen, BEND_SHARE * (high - low));
            if wanted.is_empty() {
                break;
            }
            let mut finer = Vec::with_capacity(points.len() + wanted.len());
            for (k, point) in points.iter().enumerate() {
                if wanted.contains(&k) {
                    let level = 0.5 * (points[k - 1].level + point.level);
                    self.z.clone_from(&points[k - 1].z);
                    self.pieces.hold(drive, points[k - 1].level);
                    if let Ok(jumped) = self.go(drive, level) {
                        finer.push(SweepPoint { level, z: self.z.clone(), jumped });
                    }
                }
                finer.push(point.clone());
            }
            if finer.len() == points.len() {
                break;
            }
            points = finer;
        }
        if let Some(last) = points.last() {
            self.z.clone_from(&last.z);
            self.pieces.hold(drive, last.level);
        }
        (points, None)
    }
}

/// Indices of points whose interval, back to the point before, touches a bend.
fn bent(points: &[SweepPoint], seen: &[f64], allowed: f64) -> Vec<usize> {
    let mut found = Vec::new();
    for k in 1..points.len().saturating_sub(1) {
        let [a, b, c] = [k - 1, k, k + 1].map(|k| points[k].level);
        let share = (b - a) / (c - a);
        let straight = seen[k - 1] + share * (seen[k + 1] - seen[k - 1]);
        if (seen[k] - straight).abs() > allowed {
            found.extend([k, k + 1]);
        }
    }
    found.dedup();
    found
}
