//! Quasi-static sweeps: rest after rest while a drive is moved, each found from the one before, so
//! that a circuit with several rests stays on its branch until the branch ends.

use super::newton::{Damping, Held, Newton};
use super::{Failure, operating_point};
use crate::device::Role;
use crate::system::{Pieces, System};

/// Iterations from a neighbouring rest.
const ITERATIONS: usize = 40;
/// A move that does not converge is halved this often before the rest is sought from nothing.
const HALVINGS: usize = 12;
/// And this often once another branch is known to lie ahead, to find the end of the present one.
const HALVINGS_AT_A_JUMP: usize = 27;
/// Where the curve bends, intervals are halved at most this often.
const FINEST: usize = 6;
/// A curve may leave the straight line over an interval by this share of its whole span before the
/// interval is halved.
const BEND_SHARE: f64 = 1e-3;
/// Curves that span less than this (V where voltages are watched) are straight but for what
/// Newton's iteration leaves.
const STRAIGHT: f64 = 1e-7;
/// An interval over which the curve moves by this share of its span is halved beyond [`FINEST`],
/// until it moves by less or proves to be a jump.
const JUMP_SHARE: f64 = 0.01;
/// A jump is located to this share of the range of the sweep.
const JUMP_RESOLUTION: f64 = 1e-9;
/// Rounds of halving that take any interval below [`JUMP_RESOLUTION`].
const ROUNDS: usize = 36;
/// Two rests are the same when no node differs by more, in V: ten thousand times what Newton's
/// iteration leaves, and far less than lies between the branches of a latch.
const SAME_REST_V: f64 = 1e-6;
/// Steps of a search for a level.
const SEARCH_STEPS: usize = 80;

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

/// What a search for a level came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sought {
    /// The level; the circuit rests there.
    Found(f64),
    /// The quantity jumps over the target at this level; the circuit rests just ahead of the jump.
    Jumps(f64),
    /// The quantity does not come to the target between the two levels.
    Never,
}

/// A circuit at rest whose drives are moved by hand.
#[derive(Clone, Debug)]
pub struct QuasiStatic<'a> {
    system: &'a System,
    pieces: Pieces,
    newton: Newton,
    z: Vec<f64>,
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
        match operating_point(self.system, &self.pieces, 0.0, Some(&self.z)) {
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
        nodes
            .filter(|(u, _)| matches!(u.role, Role::Node | Role::InnerNode))
            .all(|(_, (a, b))| (a - b).abs() <= SAME_REST_V)
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

    /// Halves intervals in which the watched quantity bends, and those that may hide a jump.
    fn refine(
        &mut self,
        drive: usize,
        mut points: Vec<SweepPoint>,
        watched: Watched<'_>,
    ) -> Vec<SweepPoint> {
        let Some((first, last)) = points.first().zip(points.last()) else { return points };
        let (range, last) = ((last.level - first.level).abs(), last.clone());
        let coarse = range / (points.len().max(2) - 1) as f64;
        let limits = Limits {
            finest: coarse * 0.5_f64.powi(FINEST as i32),
            shortest: JUMP_RESOLUTION * range,
        };
        let mut seen: Vec<f64> = points.iter().map(|p| watched(&p.z)).collect();
        for _ in 0..ROUNDS {
            let wanted = bent(&points, &seen, &limits);
            if wanted.is_empty() {
                break;
            }
            let mut finer = Vec::with_capacity(points.len() + wanted.len());
            let mut finer_seen = Vec::with_capacity(points.len() + wanted.len());
            let mut wanted = wanted.into_iter().peekable();
            for (k, mut point) in std::mem::take(&mut points).into_iter().enumerate() {
                if wanted.next_if_eq(&k).is_some()
                    && let Some(mut middle) = self.middle(drive, finer.last(), &point)
                {
                    // A jump lies on one side of the middle only.
                    middle.jumped |= point.jumped && self.is_nearer(&middle, finer.last(), &point);
                    point.jumped &= !middle.jumped;
                    finer_seen.push(watched(&middle.z));
                    finer.push(middle);
                }
                finer_seen.push(seen[k]);
                finer.push(point);
            }
            if finer.len() == seen.len() {
                points = finer;
                break;
            }
            (points, seen) = (finer, finer_seen);
        }
        mark_jumps(&mut points, &seen);
        self.put(drive, &last);
        points
    }

    /// The rest half-way from a point to the next.
    fn middle(
        &mut self,
        drive: usize,
        from: Option<&SweepPoint>,
        to: &SweepPoint,
    ) -> Option<SweepPoint> {
        let from = from?;
        self.put(drive, from);
        let jumped = self.go(drive, 0.5 * (from.level + to.level)).ok()?;
        Some(SweepPoint { jumped, ..self.here(drive) })
    }

    /// Whether `middle` looks more like `after` than like `before`.
    fn is_nearer(
        &self,
        middle: &SweepPoint,
        before: Option<&SweepPoint>,
        after: &SweepPoint,
    ) -> bool {
        let distance = |other: &[f64]| {
            let nodes = self.system.unknowns.iter().zip(middle.z.iter().zip(other));
            nodes
                .filter(|(u, _)| matches!(u.role, Role::Node | Role::InnerNode))
                .map(|(_, (a, b))| (a - b).powi(2))
                .sum::<f64>()
        };
        before.is_some_and(|before| distance(&after.z) < distance(&before.z))
    }

    /// Moves a drive from where it is towards `to` until `of` (of the extended vector) is `target`
    /// within `tolerance`; levels are told apart down to `resolution`. The circuit stays on the
    /// branch it is on as long as that goes on.
    ///
    /// # Errors
    /// When there is no rest at `to`, or none at a level between.
    pub fn seek(
        &mut self,
        drive: usize,
        to: f64,
        (of, target): (Watched<'_>, f64),
        (tolerance, resolution): (f64, f64),
    ) -> Result<Sought, Failure> {
        let mut near = (self.here(drive), of(&self.z) - target);
        if near.1.abs() <= tolerance {
            return Ok(Sought::Found(near.0.level));
        }
        self.go(drive, to)?;
        let mut far = (to, of(&self.z) - target);
        if far.1.abs() <= tolerance {
            return Ok(Sought::Found(to));
        }
        if near.1.signum() == far.1.signum() {
            self.put(drive, &near.0);
            return Ok(Sought::Never);
        }
        // Regula falsi; the end that stays is given half its weight (the Illinois rule), and every
        // third step halves, so that a jump is closed in too.
        let (mut weights, mut last_was_near) = ((1.0, 1.0), None);
        for k in 0..SEARCH_STEPS {
            let (a, b) = (near.1 * weights.0, far.1 * weights.1);
            let share = if k % 3 == 2 { 0.5 } else { a / (a - b) };
            let level = near.0.level + share * (far.0 - near.0.level);
            let width = (far.0 - near.0.level).abs();
            if width <= resolution || level == near.0.level || level == far.0 {
                break;
            }
            self.put(drive, &near.0);
            self.go(drive, level)?;
            let off = of(&self.z) - target;
            if off.abs() <= tolerance {
                return Ok(Sought::Found(level));
            }
            let is_near = off.signum() == near.1.signum();
            let again = last_was_near == Some(is_near);
            if is_near {
                near = (self.here(drive), off);
                weights = (1.0, if again { 0.5 * weights.1 } else { weights.1 });
            } else {
                far = (level, off);
                weights = (if again { 0.5 * weights.0 } else { weights.0 }, 1.0);
            }
            last_was_near = Some(is_near);
        }
        self.put(drive, &near.0);
        Ok(Sought::Jumps(near.0.level))
    }

    /// Moves a drive until `of` (of the extended vector), which follows it smoothly, is `target`
    /// within `tolerance`: a secant that starts with a slope of 1. Gives the level, or `None` (and
    /// stays where it was) if the quantity does not follow the drive so far.
    pub fn reach(
        &mut self,
        drive: usize,
        (of, target): (Watched<'_>, f64),
        tolerance: f64,
    ) -> Option<f64> {
        let before = self.here(drive);
        let (mut level, mut off) = (before.level, of(&before.z) - target);
        let mut slope = 1.0;
        for _ in 0..SEARCH_STEPS {
            if off.abs() <= tolerance {
                return Some(level);
            }
            let next = level - off / slope;
            if !next.is_finite() || self.go(drive, next).is_err() {
                break;
            }
            let now = of(&self.z) - target;
            let found = (now - off) / (next - level);
            if next == level || !found.is_finite() || found == 0.0 {
                break;
            }
            (level, off, slope) = (next, now, found);
        }
        self.put(drive, &before);
        None
    }
}

/// How finely intervals are halved.
struct Limits {
    /// Where the curve bends.
    finest: f64,
    /// Where it may jump.
    shortest: f64,
}

fn span(seen: &[f64]) -> f64 {
    let fold = |(l, h): (f64, f64), v: &f64| (l.min(*v), h.max(*v));
    let (low, high) = seen.iter().fold((f64::INFINITY, f64::NEG_INFINITY), fold);
    high - low
}

/// Indices, rising, of points whose interval, back to the point before, touches a bend and is not
/// yet as short as it may become.
fn bent(points: &[SweepPoint], seen: &[f64], limits: &Limits) -> Vec<usize> {
    let span = span(seen);
    let mut found = Vec::new();
    if span < STRAIGHT {
        return found;
    }
    for k in 1..points.len().saturating_sub(1) {
        let [a, b, c] = [k - 1, k, k + 1].map(|k| points[k].level);
        let share = if a == c { 0.5 } else { (b - a) / (c - a) };
        let straight = seen[k - 1] + share * (seen[k + 1] - seen[k - 1]);
        if (seen[k] - straight).abs() > BEND_SHARE * span {
            found.extend([k, k + 1]);
        }
    }
    found.dedup();
    found.retain(|&k| {
        let width = (points[k].level - points[k - 1].level).abs();
        let leaps = (seen[k] - seen[k - 1]).abs() > JUMP_SHARE * span;
        width > if leaps { limits.shortest } else { limits.finest }
    });
    found
}

/// What still leaps over an interval that cannot be halved further is a jump.
fn mark_jumps(points: &mut [SweepPoint], seen: &[f64]) {
    let (span, range) = match points {
        [first, .., last] if span(seen) >= STRAIGHT => {
            (span(seen), (last.level - first.level).abs())
        }
        _ => return,
    };
    for k in 1..points.len() {
        let width = (points[k].level - points[k - 1].level).abs();
        let leaps = (seen[k] - seen[k - 1]).abs() > JUMP_SHARE * span;
        points[k].jumped |= leaps && width <= JUMP_RESOLUTION * range;
    }
}
