//! Quasi-static sweeps: rest after rest while a drive is moved, each found from the one before, so
//! that a circuit with several rests stays on its branch until the branch ends.

mod refine;
mod search;

pub use search::Sought;

use super::newton::{Damping, Held, Newton};
use super::thermal::too_hot;
use super::{Failure, OperatingPoint, as_held, operating_point, operating_point_near, states};
use crate::system::{Pieces, System};

/// Iterations from a neighbouring rest.
const ITERATIONS: usize = 40;
/// A move that does not converge is halved this often before the rest is sought from nothing.
const HALVINGS: usize = 12;
/// And this often once another branch is known to lie ahead, to find the end of the present one.
const HALVINGS_AT_A_JUMP: usize = 27;
/// Two rests are the same when no node differs by more, in V: ten thousand times what Newton's
/// iteration leaves, and far less than lies between the branches of a latch.
const SAME_REST_V: f64 = 1e-6;

/// A quantity of a rest, read off the extended vector.
pub type Watched<'w> = &'w dyn Fn(&[f64]) -> f64;

/// One rest of a sweep.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepPoint {
    /// Level of the drive that is moved.
    pub level: f64,
    /// The extended vector there.
    pub z: Vec<f64>,
    /// Whether the circuit left its branch between the point before and this one: a jump. Both
    /// stand at the same level, or no farther apart than a sweep can tell.
    pub jumped: bool,
}

/// A circuit at rest whose drives are moved by hand.
#[derive(Clone, Debug)]
pub struct QuasiStatic<'a> {
    system: &'a System,
    pieces: Pieces,
    newton: Newton,
    z: Vec<f64>,
    /// Which states are high; moves keep them.
    states: Vec<bool>,
}

/// How a move to another level went.
enum Move {
    /// Along the branch.
    Followed,
    /// The branch ends before it: its last rest, and the rest on the new branch at the same level if
    /// that branch reaches back so far.
    Jumped { end: SweepPoint, landed: Option<SweepPoint> },
    /// The branch ends and there is no other: its last rest.
    Nowhere { end: SweepPoint, failure: Failure },
}

impl<'a> QuasiStatic<'a> {
    /// At rest with drives as in `pieces`.
    ///
    /// # Errors
    /// When there is no operating point.
    pub fn new(system: &'a System, pieces: Pieces) -> Result<Self, Failure> {
        let rest = operating_point(system, &pieces, 0.0, None)?;
        Ok(Self::at(system, pieces, rest))
    }

    /// The same, looked for from the unknowns of a neighbour's rest.
    ///
    /// # Errors
    /// When there is no operating point.
    pub fn near(system: &'a System, pieces: Pieces, x: &[f64]) -> Result<Self, Failure> {
        let rest = operating_point_near(system, &pieces, 0.0, x, None)?;
        Ok(Self::at(system, pieces, rest))
    }

    fn at(system: &'a System, mut pieces: Pieces, rest: OperatingPoint) -> Self {
        states::hold(system, &rest.states, &mut pieces);
        Self { system, pieces, newton: Newton::new(system), z: rest.z, states: rest.states }
    }

    /// At rest with drives, those of states too, as in `pieces`.
    ///
    /// # Errors
    /// When there is no operating point.
    pub fn as_held(system: &'a System, pieces: Pieces) -> Result<Self, Failure> {
        let rest = as_held(system, &pieces, 0.0, None)?;
        Ok(Self { system, pieces, newton: Newton::new(system), z: rest.z, states: Vec::new() })
    }

    /// Finds the states anew where the present rest contradicts one of them: what a circuit is that
    /// has come to rest at these levels, as opposed to one that is swept through them.
    ///
    /// # Errors
    /// When there is no rest that agrees with its states; the present one is kept.
    pub fn settle(&mut self) -> Result<(), Failure> {
        if states::contradicted(self.system, &self.states, &self.z).is_empty() {
            return Ok(());
        }
        let rest = operating_point(self.system, &self.pieces, 0.0, Some(&self.z))?;
        states::hold(self.system, &rest.states, &mut self.pieces);
        (self.z, self.states) = (rest.z, rest.states);
        Ok(())
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

    /// Puts the circuit back to a rest that was found with this drive moved and all others as they
    /// are now.
    pub fn put(&mut self, drive: usize, point: &SweepPoint) {
        self.pieces.hold(drive, point.level);
        self.z.clone_from(&point.z);
    }

    /// The present rest as a point of a sweep of this drive.
    pub fn here(&self, drive: usize) -> SweepPoint {
        SweepPoint { level: self.level(drive), z: self.z.clone(), jumped: false }
    }

    /// Moves a drive and finds the rest there; gives whether its branch ended on the way.
    ///
    /// # Errors
    /// When there is no rest at the new level; the present one is kept.
    pub fn go(&mut self, drive: usize, level: f64) -> Result<bool, Failure> {
        let before = self.here(drive);
        match self.try_to_go(drive, level) {
            Move::Followed => Ok(false),
            Move::Jumped { .. } => Ok(true),
            Move::Nowhere { failure, .. } => {
                self.put(drive, &before);
                Err(failure)
            }
        }
    }

    /// Ends at the new level, or where the branch ends if there is no rest at the new level.
    fn try_to_go(&mut self, drive: usize, level: f64) -> Move {
        if self.follow(drive, level, HALVINGS) {
            return Move::Followed;
        }
        let mut end = self.here(drive);
        self.pieces.hold(drive, level);
        match as_held(self.system, &self.pieces, 0.0, Some(&self.z)) {
            Err(failure) => {
                self.put(drive, &end);
                Move::Nowhere { end, failure }
            }
            Ok(rest) => {
                self.z = rest.z;
                let there = self.here(drive);
                let landed = self.follow(drive, end.level, HALVINGS).then(|| self.here(drive));
                if landed.as_ref().is_some_and(|back| self.same(&back.z, &end.z)) {
                    // Newton stumbled, at a sharp bend say, but the branch goes on.
                    self.put(drive, &there);
                    return Move::Followed;
                }
                self.put(drive, &end);
                if self.follow(drive, level, HALVINGS_AT_A_JUMP) {
                    return Move::Followed;
                }
                end = self.here(drive);
                self.put(drive, &there);
                let landed = self.follow(drive, end.level, HALVINGS).then(|| self.here(drive));
                self.put(drive, &there);
                Move::Jumped { end, landed }
            }
        }
    }

    fn same(&self, a: &[f64], b: &[f64]) -> bool {
        let nodes = self.system.unknowns.iter().zip(a.iter().zip(b));
        nodes.filter(|(u, _)| u.role.is_voltage()).all(|(_, (a, b))| (a - b).abs() <= SAME_REST_V)
    }

    /// Along the branch, in one move if that converges, else in halves; gives whether the level was
    /// reached, and rests at the last one that was.
    fn follow(&mut self, drive: usize, to: f64, halvings: usize) -> bool {
        let mut at = self.level(drive);
        let mut step = to - at;
        let shortest = step.abs() * 0.5_f64.powi(halvings as i32);
        loop {
            let next = if (to - at).abs() <= step.abs() { to } else { at + step };
            let mut trial = self.z.clone();
            self.pieces.hold(drive, next);
            let held = Held { source_scale: 1.0, ..Held::default() };
            let pieces = (&self.pieces, 0.0);
            let solved = self
                .newton
                .solve(self.system, pieces, &held, Damping::Junctions, ITERATIONS, &mut trial)
                .is_ok()
                && too_hot(self.system, &trial).is_none();
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
                    self.pieces.hold(drive, at);
                    return false;
                }
            }
        }
    }

    /// Rests at `count` evenly spaced levels from `from` to `to`, and more where `watched` (of the
    /// extended vector) bends or jumps. Ends where there is no rest any more, with the failure.
    pub fn sweep(
        &mut self,
        drive: usize,
        (from, to): (f64, f64),
        count: usize,
        watched: Watched<'_>,
    ) -> (Vec<SweepPoint>, Option<Failure>) {
        let last = count.max(2) - 1;
        let level = |k: usize| from + k as f64 / last as f64 * (to - from);
        let levels: Vec<f64> = (0..=last).map(|k| if k == last { to } else { level(k) }).collect();
        self.sweep_over(drive, &levels, watched)
    }

    /// As [`QuasiStatic::sweep`], over levels that all rise or all fall. Every level that has a rest
    /// is among the points.
    pub fn sweep_over(
        &mut self,
        drive: usize,
        levels: &[f64],
        watched: Watched<'_>,
    ) -> (Vec<SweepPoint>, Option<Failure>) {
        let mut points: Vec<SweepPoint> = Vec::with_capacity(2 * levels.len());
        let mut ended = None;
        for (k, &level) in levels.iter().enumerate() {
            if k == 0 {
                // Where it begins is no part of the sweep, nor is the way there.
                match self.go(drive, level) {
                    Ok(_) => points.push(self.here(drive)),
                    Err(failure) => return (points, Some(failure)),
                }
                continue;
            }
            match self.try_to_go(drive, level) {
                Move::Followed => points.push(self.here(drive)),
                Move::Jumped { end, landed } => {
                    points.push(end);
                    let has_landed = landed.is_some();
                    points.extend(landed.map(|point| SweepPoint { jumped: true, ..point }));
                    points.push(SweepPoint { jumped: !has_landed, ..self.here(drive) });
                }
                Move::Nowhere { end, failure } => {
                    points.push(end);
                    ended = Some(failure);
                    break;
                }
            }
        }
        points.dedup_by(|b, a| a.level == b.level && !b.jumped);
        (self.refine(drive, points, watched), ended)
    }
}
