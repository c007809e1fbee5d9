//! The way from one corner to the next: which step is tried, and what becomes of it.
//!
//! A step is proposed, then tried by whoever has the room for it (the transient itself, or several in
//! lockstep), then settled.

use super::control::{
    LONGEST_MICRO_STEP_S, MICRO_STEP_SHARE, RESTART_GROWTH, SMALLEST_SHARE, growth,
};
use super::step::{Point, Step, Unfinished};
use super::thermal::{runaway_in_time, too_hot};
use super::trips::{Landed, Watch};
use super::trouble::Trouble;
use super::{Failure, OperatingPoint, Transient};
use crate::device::Piece;
use crate::system::Pieces;

/// Sizes of the rescue's step, in shares of the longest micro-step.
const RESCUE_SHARES: [f64; 4] = [1e-2, 1e-1, 1.0, 10.0];
/// At node tolerances looser than this, in V, a step may not outrun a junction's own limit.
const LOOSE_TOLERANCE_V: f64 = 1e-4;
/// A drive may differ from its own cubic through the ends of a step by this many tolerances.
const DRIVE_TOLERANCES: f64 = 3.0;
/// Nor is a step shortened below this, in s: the rounding of charges is all that it would resolve.
const SHORTEST_STEP_S: f64 = 1e-15;

/// The way to the next corner, as far as it has got.
pub(super) struct Crossing {
    /// The segment of the record that it crosses; none before the first.
    k: Option<usize>,
    end_s: f64,
    longest_s: f64,
    pub(super) pieces: Pieces,
    /// The next free step in s.
    h: f64,
    /// The step that is being tried, its size in s, and whether it lands on the corner.
    pub(super) step: Step,
    size: f64,
    remaining_s: f64,
    landing: bool,
    trouble: Trouble,
}

/// The way over all corners that are known ahead.
pub(super) struct Course {
    corners: Vec<(f64, bool)>,
    pub(super) point: Point,
    pub(super) crossing: Crossing,
}

impl Transient<'_> {
    /// Runs from t = 0 to `end_s`, starting at `rest`, the operating point at t = 0.
    ///
    /// # Errors
    /// When a step cannot be made small enough or the work limit is reached; the record then
    /// reaches as far as the run did.
    pub fn run(&mut self, rest: &OperatingPoint, end_s: f64) -> Result<(), Failure> {
        let corners = self.corners(end_s)?;
        if !self.system.trips.is_empty() {
            return self.run_with_states(rest, &corners);
        }
        let mut course = self.begin(rest, corners);
        while let Some(size) = self.propose(&mut course)? {
            let Course { point, crossing, .. } = &mut course;
            let judged = self.attempt(point, &crossing.pieces, size, &mut crossing.step);
            self.settle(point, crossing, judged)?;
        }
        Ok(())
    }

    /// Sets out from rest over corners that are known ahead, with whether something jumps there.
    pub(super) fn begin(&mut self, rest: &OperatingPoint, corners: Vec<(f64, bool)>) -> Course {
        let point = self.first_point(rest);
        self.record.segments = self.segments(&corners);
        self.record.push_first(&point, 0);
        Course { corners, point, crossing: self.set_out(None, f64::INFINITY, 0.0) }
    }

    /// The step to try next, where there is one more; takes corners on the way.
    pub(super) fn propose(&mut self, course: &mut Course) -> Result<Option<f64>, Failure> {
        loop {
            if let Some(size) = self.next_size(course.point.t, &mut course.crossing)? {
                return Ok(Some(size));
            }
            let k = course.crossing.k.map_or(0, |k| k + 1);
            let [Some(from), Some(to)] = [k, k + 1].map(|k| course.corners.get(k).copied()) else {
                return Ok(None);
            };
            let before = k.checked_sub(1).map_or(f64::INFINITY, |b| from.0 - course.corners[b].0);
            let micro = LONGEST_MICRO_STEP_S.min(MICRO_STEP_SHARE * (to.0 - from.0).min(before));
            self.enter(&mut course.point, k, from.1, micro)?;
            let h = course.crossing.h.min(RESTART_GROWTH * micro);
            course.crossing = self.set_out(Some(k), h, to.0);
        }
    }

    /// Sets out through segment `k` to `end_s`, starting with step `h`.
    fn set_out(&self, k: Option<usize>, h: f64, end_s: f64) -> Crossing {
        let segment = k.and_then(|k| self.record.segments.get(k));
        let pieces = segment.map(|s| s.pieces.clone()).unwrap_or_default();
        Crossing {
            k,
            end_s,
            longest_s: pieces.longest_step_s(),
            pieces,
            h,
            step: Step::new(self.system),
            size: 0.0,
            remaining_s: 0.0,
            landing: false,
            trouble: Trouble::none(),
        }
    }

    /// The size of the step to try next, unless the corner is reached.
    fn next_size(&self, t: f64, crossing: &mut Crossing) -> Result<Option<f64>, Failure> {
        if !(t < crossing.end_s) {
            return Ok(None);
        }
        if self.work.attempts() >= self.options.work_limit {
            return Err(self.work_limit_reached(t, crossing.trouble.unknown));
        }
        crossing.h = self.tolerances.rung(crossing.h.min(crossing.longest_s));
        crossing.remaining_s = crossing.end_s - t;
        crossing.landing = crossing.remaining_s <= crossing.h * (1.0 + 1e-6);
        crossing.size = if crossing.landing { crossing.remaining_s } else { crossing.h };
        Ok(Some(crossing.size))
    }

    /// Keeps the step that was tried, or thinks of another size; whether it was kept.
    pub(super) fn settle(
        &mut self,
        point: &mut Point,
        crossing: &mut Crossing,
        judged: Result<(f64, usize), Unfinished>,
    ) -> Result<bool, Failure> {
        let Crossing { size, remaining_s, landing, .. } = *crossing;
        let k = crossing.k.unwrap_or(0);
        match judged {
            Ok((norm, _)) if norm <= 1.0 => {
                let lands_on = landing.then_some(crossing.end_s);
                self.accept(point, &mut crossing.step, k, lands_on);
                if let Some(path) = too_hot(self.system, &point.x) {
                    return Err(runaway_in_time(self.system, path, point.t));
                }
                let next = size * growth(norm, self.options.method, crossing.trouble.rejected);
                crossing.h = if landing { crossing.h.max(next) } else { next };
                crossing.trouble = Trouble::none();
                Ok(true)
            }
            failed => {
                let (norm, unknown) = self.count_rejection(failed);
                crossing.trouble.note(norm, unknown, size);
                crossing.h = size * growth(norm, self.options.method, true).min(0.9);
                let shortest = SHORTEST_STEP_S.max(SMALLEST_SHARE * point.t);
                if crossing.trouble.calls_for_rescue(crossing.h) || crossing.h <= shortest {
                    let Crossing { pieces, step, trouble, .. } = crossing;
                    let h = self.rescue(point, pieces, remaining_s, k, step, trouble)?;
                    (crossing.h, crossing.trouble) = (h, Trouble::none());
                }
                Ok(false)
            }
        }
    }

    /// Steps through segment `k` from `point` to `end_s`, starting with step `h`; gives the last
    /// free step, so that the next segment knows. It ends early at what one of the states that watch
    /// must know of.
    pub(super) fn cross_watched(
        &mut self,
        point: &mut Point,
        (k, h): (usize, f64),
        end_s: f64,
        watch: &mut Watch<'_>,
    ) -> Result<f64, Failure> {
        let mut crossing = self.set_out(Some(k), h, end_s);
        while let Some(size) = self.next_size(point.t, &mut crossing)? {
            let Crossing { pieces, step, .. } = &mut crossing;
            let mut judged = self.attempt(point, pieces, size, step);
            if matches!(judged, Ok((norm, _)) if norm <= 1.0) {
                match self.land(watch, point, pieces, size, step) {
                    Ok(Landed::Nowhere) => {}
                    Ok(Landed::Here(state)) => {
                        watch.cross(state, point.t);
                        return Ok(crossing.h);
                    }
                    Ok(Landed::Anew) => {
                        self.accept(point, step, k, None);
                        watch.note(point.t, &point.x);
                        return Ok(crossing.h);
                    }
                    Err(unfinished) => judged = Err(unfinished),
                }
            }
            if self.settle(point, &mut crossing, judged)? && watch.note(point.t, &point.x) {
                break;
            }
        }
        Ok(crossing.h)
    }

    /// Tries a step and gives its error norm with the unknown that has it.
    pub(super) fn attempt(
        &mut self,
        point: &Point,
        pieces: &Pieces,
        h: f64,
        step: &mut Step,
    ) -> Result<(f64, usize), Unfinished> {
        self.stepper.attempt(self.system, pieces, &self.tolerances, point, h, step)?;
        Ok(self.judge(point, pieces, h, step))
    }

    /// The error norm of a step that was taken, with the unknown that has it.
    pub(super) fn judge(
        &self,
        point: &Point,
        pieces: &Pieces,
        h: f64,
        step: &Step,
    ) -> (f64, usize) {
        let mut norm = step.norm;
        if self.tolerances.node_v > LOOSE_TOLERANCE_V && self.outruns(point, step) {
            norm = norm.max(2.0);
        }
        if norm <= 1.0 && self.misses_a_drive(pieces, point.t, h) {
            norm = 16.0;
        }
        // Who has it matters to a step that is not taken alone.
        let is_taken = norm <= 1.0;
        (norm, if is_taken { 0 } else { self.tolerances.norm(&step.end.x, &step.error).1 })
    }

    fn outruns(&self, point: &Point, step: &Step) -> bool {
        let widen = |x: &[f64]| {
            let mut z = vec![0.0; self.system.extent()];
            z[..x.len()].copy_from_slice(x);
            z
        };
        self.system.outruns_a_junction(&widen(&point.x), &widen(&step.end.x))
    }

    /// Whether a drive leaves its own cubic through both ends of the step.
    fn misses_a_drive(&self, pieces: &Pieces, t: f64, h: f64) -> bool {
        let allowed = DRIVE_TOLERANCES * self.tolerances.node_v;
        pieces.list().iter().any(|piece| {
            if matches!(piece, Piece::Line { .. }) {
                return false;
            }
            let (v0, v1) = (piece.value(t), piece.value(t + h));
            let (s0, s1) = (h * piece.slope(t), h * piece.slope(t + h));
            [0.25, 0.5, 0.75].iter().any(|&theta: &f64| {
                let straight = (1.0 - theta) * v0 + theta * v1;
                let bent = theta
                    * (1.0 - theta)
                    * ((1.0 - theta) * (s0 - (v1 - v0)) - theta * (s1 - (v1 - v0)));
                let off = (piece.value(t + theta * h) - straight - bent).abs();
                off > allowed * (1.0 + v0.abs())
            })
        })
    }

    fn accept(&mut self, point: &mut Point, step: &mut Step, k: usize, lands_on: Option<f64>) {
        if let Some(t) = lands_on {
            step.end.t = t;
        }
        self.keep(point, step, k);
    }

    fn count_rejection(&mut self, failed: Result<(f64, usize), Unfinished>) -> (f64, usize) {
        match failed {
            Ok((norm, unknown)) if norm.is_finite() => {
                self.work.rejected_error += 1;
                (norm, unknown)
            }
            Ok((_, unknown)) | Err(Unfinished { unknown }) => {
                self.work.rejected_newton += 1;
                (f64::INFINITY, unknown)
            }
        }
    }

    /// One backward-Euler step over a layer that no step resolves, as after a corner: the shortest
    /// of a few sizes that converges, longest last. Gives the size.
    fn rescue(
        &mut self,
        point: &mut Point,
        pieces: &Pieces,
        remaining: f64,
        k: usize,
        step: &mut Step,
        trouble: &Trouble,
    ) -> Result<f64, Failure> {
        let mut stuck = Unfinished { unknown: trouble.unknown };
        for share in RESCUE_SHARES {
            let h = (share * LONGEST_MICRO_STEP_S).max(SMALLEST_SHARE * point.t).min(remaining);
            match self.stepper.euler(self.system, pieces, point, h, step) {
                Ok(()) => {
                    let lands = (h == remaining).then_some(point.t + remaining);
                    self.accept(point, step, k, lands);
                    return Ok(h);
                }
                Err(unfinished) if stuck.unknown == 0 => stuck = unfinished,
                Err(_) => {}
            }
        }
        Err(self.failure(point.t, stuck, "the step could not be made small enough"))
    }
}
