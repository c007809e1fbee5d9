//! The march through time: corners hit exactly, steps controlled by their error, a record kept.
//!
//! Error estimates are blind to stiff layers that have decayed by the end of a step, so every
//! corner is followed by one backward-Euler micro-step whose end is the right limit, and the step
//! size restarts from there.

use super::control::{LONGEST_MICRO_STEP_S, MICRO_STEP_SHARE, SMALLEST_SHARE};
use super::events::Events;
use super::plans::Plans;
use super::record::{Record, Segment, Spare};
use super::step::{Point, Step};
use super::stepper::{Method, Stepper};
use super::{Failure, OperatingPoint, Tolerances, Work};
use crate::system::System;

/// Share of a micro-step over which a jump itself is resolved with charges and fluxes held.
const JUMP_SHARE: f64 = 1e-3;
/// Attempts after which a transient ends with a plain message; some ten thousand times what a load
/// step takes, and seconds of work.
pub const DEFAULT_WORK_LIMIT: usize = 2_000_000;

/// How a transient starts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Start {
    /// At rest: the operating point at t = 0.
    #[default]
    OperatingPoint,
    /// From the `initial` voltages and currents of capacitors and inductors; those without one
    /// start from the operating point.
    InitialValues,
}

/// How a transient is run.
#[derive(Clone, Copy, Debug)]
pub struct TransientOptions {
    /// The integration formula.
    pub method: Method,
    /// Node tolerance s in V.
    pub node_tolerance_v: f64,
    /// How it starts.
    pub start: Start,
    /// Attempts after which it ends with a failure.
    pub work_limit: usize,
}

/// A transient of one system, with its record so far.
#[derive(Clone, Debug)]
pub struct Transient<'a> {
    pub(super) system: &'a System,
    pub(super) options: TransientOptions,
    pub(super) tolerances: Tolerances,
    pub(super) stepper: Stepper,
    /// The points so far.
    pub record: Record,
    /// What states with hysteresis did.
    pub events: Events,
    pub(super) work: Work,
}

impl<'a> Transient<'a> {
    /// A transient of `system`, not begun.
    pub fn new(system: &'a System, options: TransientOptions) -> Self {
        Self::within(system, options, Spare::default())
    }

    /// The same in room that another one left behind.
    pub fn within(system: &'a System, options: TransientOptions, spare: Spare) -> Self {
        Self {
            system,
            options,
            tolerances: Tolerances::new(system, options.node_tolerance_v),
            stepper: Stepper::new(system, options.method),
            record: Record::new(system.unknowns.len(), spare),
            events: Events::default(),
            work: Work::default(),
        }
    }

    /// Has its matrices factored by the plans of a like system.
    pub fn adopt(&mut self, plans: &Plans) {
        self.stepper.adopt(&plans.in_motion);
    }

    /// The record together with the stepper.
    pub fn record_and_stepper(&mut self) -> (&Record, &mut Stepper) {
        (&self.record, &mut self.stepper)
    }

    /// The work done so far.
    pub fn work(&self) -> Work {
        let mut work = self.work;
        self.stepper.count(&mut work);
        work
    }

    /// The micro-step after a corner at `t` between stretches no shorter than `stretch_s`, long enough
    /// to be added to t.
    pub(super) fn micro_step_s(t: f64, stretch_s: f64) -> f64 {
        LONGEST_MICRO_STEP_S.min(MICRO_STEP_SHARE * stretch_s).max(8.0 * SMALLEST_SHARE * t)
    }

    /// Corner times with whether something jumps there, from 0 to the end; 0 and the end included.
    ///
    /// # Errors
    /// When they are more than the work limit lets it reach.
    pub(super) fn corners(&self, end_s: f64) -> Result<Vec<(f64, bool)>, Failure> {
        self.refuse_too_many_corners(end_s)?;
        let mut all = vec![(0.0, self.options.start == Start::InitialValues), (end_s, false)];
        for drive in &self.system.drives {
            all.extend(drive.corners(0.0, end_s).iter().map(|c| (c.time_s, c.jump)));
        }
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all.dedup_by(|later, kept| {
            let same = later.0 - kept.0 <= SMALLEST_SHARE * kept.0;
            kept.1 |= same && later.1;
            same
        });
        Ok(all)
    }

    pub(super) fn segments(&self, corners: &[(f64, bool)]) -> Vec<Segment> {
        let between = |c: &[(f64, bool)]| Segment {
            from_s: c[0].0,
            to_s: c[1].0,
            pieces: self.system.pieces(0.5 * (c[0].0 + c[1].0)),
        };
        corners.windows(2).map(between).collect()
    }

    pub(super) fn first_point(&self, rest: &OperatingPoint) -> Point {
        let count = self.system.unknowns.len();
        let mut q = vec![0.0; self.system.law_charges()];
        let mut f = vec![0.0; count];
        self.system.evaluate(&rest.z, &mut f, &mut q);
        Point { t: 0.0, x: rest.z[..count].to_vec(), q, flow: vec![0.0; count] }
    }

    /// Takes the point across the corner at its time into segment `k`: first the jump with charges
    /// held, if there is one, then the micro-step.
    pub(super) fn enter(
        &mut self,
        point: &mut Point,
        k: usize,
        jump: bool,
        micro: f64,
    ) -> Result<(), Failure> {
        let t = point.t;
        let pieces = self.record.segments[k].pieces.clone();
        let mut step = Step::new(self.system);
        if jump {
            let initial = t == 0.0 && self.options.start == Start::InitialValues;
            let outcome = if initial {
                let rows = self.initial_rows(point);
                self.stepper.euler_from_charges(
                    self.system,
                    &pieces,
                    point,
                    &rows,
                    JUMP_SHARE * micro,
                    &mut step,
                )
            } else {
                self.stepper.euler(self.system, &pieces, point, JUMP_SHARE * micro, &mut step)
            };
            outcome.map_err(|u| self.impossible_jump(t, u))?;
            step.end.t = t;
            if initial {
                self.record.clear_points();
                self.record.push_first(&step.end, k);
            } else {
                self.record.push(&step, k);
            }
            point.clone_from(&step.end);
        }
        let outcome = self.stepper.euler(self.system, &pieces, point, micro, &mut step);
        outcome
            .map_err(|u| self.failure(t, u, "the micro-step after the corner did not converge"))?;
        self.keep(point, &mut step, k);
        // What backward Euler leaves belongs to the middle of its step: where nodes hang on
        // inductors alone it is off by microvolts that no shorter step would mend, and that the
        // first tested step would chase. One step of the method itself, untested, forgets them.
        let (system, tolerances) = (self.system, &self.tolerances);
        let settled = self.stepper.attempt(system, &pieces, tolerances, point, micro, &mut step);
        if settled.is_ok() {
            self.keep(point, &mut step, k);
        }
        Ok(())
    }

    /// Counts and records a step and goes on from its end.
    pub(super) fn keep(&mut self, point: &mut Point, step: &mut Step, k: usize) {
        self.work.steps += 1;
        self.record.push(step, k);
        std::mem::swap(point, &mut step.end);
    }

    /// A·q by row with the `initial` voltages and currents in place of those at rest.
    pub(super) fn initial_rows(&self, point: &Point) -> Vec<f64> {
        let count = point.x.len();
        let mut rows = vec![0.0; count];
        let mut z = vec![0.0; self.system.extent()];
        z[..count].copy_from_slice(&point.x);
        for &(unknown, ampere) in self.system.initial_currents() {
            z[unknown] = ampere;
        }
        self.system.linear_charges(&z, &mut rows);
        let mut q = point.q.clone();
        for &(charge, coulomb) in self.system.initial_charges() {
            q[charge] = coulomb;
        }
        self.system.scatter_charges(&q, &mut rows);
        for &([plus, minus], farad, volt) in self.system.initial_voltages() {
            let change = farad * (volt - (z[plus] - z[minus]));
            rows[plus] += change;
            rows[minus] -= change;
        }
        rows[0] = 0.0;
        rows
    }

    /// Makes each of `times_s` a point of the record, by a step that ends there: inside a stiff
    /// step the curve is not damped and may invent an extreme. The caller measures again and
    /// confirms what moved.
    pub fn confirm(&mut self, times_s: &[f64]) {
        let mut halves = [Step::new(self.system), Step::new(self.system)];
        for &t in times_s {
            if let Some(k) = self.record.stretch_around(t) {
                self.split(k, t, &mut halves);
            }
        }
    }

    fn split(&mut self, k: usize, t: f64, [first, second]: &mut [Step; 2]) {
        let (t0, t1) = (self.record.times_s()[k], self.record.times_s()[k + 1]);
        let margin = 1e-3 * (t1 - t0);
        if t - t0 < margin || t1 - t < margin {
            return;
        }
        let start = self.point_at(k);
        let are_taken = self.step_after(k, &start, t - t0, first)
            && self.step_after(k, &first.end, t1 - t, second);
        if are_taken {
            first.end.t = t;
            self.record.split(k, first, second);
        }
    }

    /// Whether a step of size `h` from a place on the stretch after point `k` can be finished.
    fn step_after(&mut self, k: usize, from: &Point, h: f64, step: &mut Step) -> bool {
        let Self { system, record, tolerances, stepper, .. } = self;
        stepper.attempt(system, record.pieces_after(k), tolerances, from, h, step).is_ok()
    }

    /// Point `k` of the record with its charges and flows, ready to step on from.
    fn point_at(&self, k: usize) -> Point {
        let recorded = self.record.point(k);
        let mut z = vec![0.0; self.system.extent()];
        z[..recorded.x.len()].copy_from_slice(recorded.x);
        self.system.set_time(self.record.pieces_after(k), recorded.t, &mut z);
        let mut f = vec![0.0; recorded.x.len()];
        let mut q = vec![0.0; self.system.law_charges()];
        self.system.evaluate(&z, &mut f, &mut q);
        let flow = f.iter().zip(&self.system.dynamic_row).map(|(f, d)| if *d { -f } else { 0.0 });
        Point { t: recorded.t, x: recorded.x.to_vec(), flow: flow.collect(), q }
    }
}
