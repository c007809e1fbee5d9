//! Transients of several variants of one circuit in lockstep, one a lane: each tries its own step at its own
//! time, so that none waits for another, and whoever arrives makes room for the next.
//!
//! Only the attempt itself is made together. What it comes to is judged, and corners are taken, variant by
//! variant by the transient's own code, and a lane computes bit by bit what its variant computes alone:
//! who marches beside whom changes nothing.

use super::crossing::Course;
use super::lane_solver::LaneSolver;
use super::rodas4p::{Attempt, Rodas4p, STAGES};
use super::step::{Point, Step, Unfinished};
use super::{Failure, OperatingPoint, Tolerances, Transient};
use crate::numeric::{Elimination, Field, LANES, Lanes};
use crate::system::{Abreast, LaneDrives};
use std::sync::Arc;

/// With fewer than this on the way each goes on alone: by time, an attempt of all lanes costs some five of
/// one (`benches/lockstep.rs`).
const LEAST_ABREAST: usize = 3;

/// A transient to be run.
pub struct Job<'t, 's> {
    /// Not begun.
    pub transient: &'t mut Transient<'s>,
    /// Where it starts.
    pub rest: &'t OperatingPoint,
    /// When it ends, in s.
    pub end_s: f64,
}

/// Runs transients, as [`Transient::run`] would run each, and gives what that would give. Those of systems
/// with the same equations, the default method and a common plan go in lockstep.
pub fn run_abreast(jobs: Vec<Job<'_, '_>>) -> Vec<Result<(), Failure>> {
    let common = jobs.first().and_then(|job| job.transient.stepper.plan().cloned());
    let mut outcomes: Vec<Result<(), Failure>> = jobs.iter().map(|_| Ok(())).collect();
    let mut waiting: Vec<(usize, Job<'_, '_>)> = Vec::new();
    for (k, job) in jobs.into_iter().enumerate() {
        let alike = |plan: &Arc<Elimination>| common.as_ref().is_some_and(|c| Arc::ptr_eq(c, plan));
        if job.transient.stepper.plan().is_some_and(alike) && job.transient.system.trips.is_empty()
        {
            waiting.push((k, job));
        } else {
            outcomes[k] = job.transient.run(job.rest, job.end_s);
        }
    }
    if let (Some((_, first)), Some(plan)) = (waiting.first(), &common) {
        let mut convoy = Convoy::new(first.transient, plan);
        convoy.run(waiting, &mut outcomes);
    }
    outcomes
}

/// A variant on its way.
struct Marcher<'t, 's> {
    /// Which of the jobs.
    k: usize,
    transient: &'t mut Transient<'s>,
    course: Course,
    size: f64,
}

/// The lanes and what is computed in them.
struct Convoy {
    abreast: Abreast,
    stepper: Rodas4p<Lanes, LaneSolver>,
    from: Point<Lanes>,
    h: Lanes,
    drives: LaneDrives,
    step: Step<Lanes>,
    plan: Arc<Elimination>,
    tolerances: Tolerances,
}

impl Convoy {
    fn new(like: &Transient<'_>, plan: &Arc<Elimination>) -> Self {
        let system = like.system;
        let solver = LaneSolver::new(system.pattern(), plan);
        Self {
            abreast: Abreast::of(system),
            stepper: Rodas4p::with_solver(system, solver),
            from: Step::new(system).end,
            h: Lanes::splat(1.0),
            drives: LaneDrives::new(system.drives.len()),
            step: Step::new(system),
            plan: Arc::clone(plan),
            tolerances: like.tolerances.clone(),
        }
    }

    fn run(&mut self, jobs: Vec<(usize, Job<'_, '_>)>, outcomes: &mut [Result<(), Failure>]) {
        let mut waiting = jobs.into_iter();
        let mut lanes: [Option<Marcher<'_, '_>>; LANES] = Default::default();
        loop {
            for (lane, place) in lanes.iter_mut().enumerate().filter(|(_, place)| place.is_none()) {
                *place = waiting.by_ref().find_map(|(k, job)| self.start(lane, (k, job), outcomes));
            }
            if lanes.iter().flatten().count() < LEAST_ABREAST {
                break;
            }
            let proven = self.attempt();
            for (lane, place) in lanes.iter_mut().enumerate() {
                let Some(marcher) = place else { continue };
                match self.settle(lane, marcher, proven[lane]) {
                    Ok(true) => {}
                    arrived => {
                        outcomes[marcher.k] = arrived.map(|_| ());
                        *place = None;
                    }
                }
            }
        }
        for mut marcher in lanes.into_iter().flatten() {
            outcomes[marcher.k] = marcher.go_on_alone();
        }
    }

    /// Has a transient set out in a lane; none where it ended at once, or could not go beside the others.
    fn start<'t, 's>(
        &mut self,
        lane: usize,
        (k, job): (usize, Job<'t, 's>),
        outcomes: &mut [Result<(), Failure>],
    ) -> Option<Marcher<'t, 's>> {
        let Job { transient, rest, end_s } = job;
        let corners = match transient.corners(end_s) {
            Ok(corners) => corners,
            Err(failure) => {
                outcomes[k] = Err(failure);
                return None;
            }
        };
        let course = transient.begin(rest, corners);
        let mut marcher = Marcher { k, transient, course, size: 0.0 };
        if marcher.transient.tolerances != self.tolerances
            || !self.abreast.seat(lane, marcher.transient.system)
        {
            outcomes[k] = marcher.go_on_alone();
            return None;
        }
        match marcher.transient.propose(&mut marcher.course) {
            Ok(Some(size)) => {
                marcher.size = size;
                self.load(lane, &marcher);
                Some(marcher)
            }
            ended => {
                outcomes[k] = ended.map(|_| ());
                None
            }
        }
    }

    /// Tries the steps of all lanes; gives those whose linear equations were solved as well as alone.
    fn attempt(&mut self) -> [bool; LANES] {
        let Self { abreast, stepper, from, h, drives, step, tolerances, .. } = self;
        let (arch, system, h) = (stepper.arch, &*abreast, *h);
        let attempt = Attempt { stages: stepper, system, drives, from, h, tolerances, step };
        let done = arch.dispatch(attempt);
        if done.is_ok() { self.stepper.solver.proven } else { [false; LANES] }
    }

    /// Judges the step of a lane and has the next one ready; `false` where it has arrived.
    fn settle(
        &mut self,
        lane: usize,
        marcher: &mut Marcher<'_, '_>,
        proven: bool,
    ) -> Result<bool, Failure> {
        let Marcher { transient, course, size, .. } = marcher;
        let judged = if proven {
            let Course { point, crossing, .. } = course;
            transient.work.factorisations += 1;
            transient.work.eliminations += 1;
            transient.work.solves += STAGES;
            self.unload(lane, &mut crossing.step);
            match crossing.step.end.x.iter().position(|x| !x.is_finite()) {
                Some(unknown) => Err(Unfinished { unknown }),
                None => Ok(transient.judge(point, &crossing.pieces, *size, &crossing.step)),
            }
        } else {
            let Course { point, crossing, .. } = course;
            transient.attempt(point, &crossing.pieces, *size, &mut crossing.step)
        };
        transient.settle(&mut course.point, &mut course.crossing, judged)?;
        // A plan of its own parts it from the others.
        if !transient.stepper.plan().is_some_and(|plan| Arc::ptr_eq(plan, &self.plan)) {
            return marcher.go_on_alone().map(|()| false);
        }
        let Some(next) = transient.propose(course)? else { return Ok(false) };
        *size = next;
        self.load(lane, marcher);
        Ok(true)
    }

    fn load(&mut self, lane: usize, marcher: &Marcher<'_, '_>) {
        let Course { point, crossing, .. } = &marcher.course;
        self.from.t.0[lane] = point.t;
        self.h.0[lane] = marcher.size;
        put(&point.x, lane, &mut self.from.x);
        put(&point.q, lane, &mut self.from.q);
        self.drives.put(lane, &crossing.pieces);
    }

    fn unload(&self, lane: usize, step: &mut Step) {
        let of = &self.step;
        step.end.t = of.end.t.0[lane];
        step.norm = of.norm.0[lane];
        take(&of.end.x, lane, &mut step.end.x);
        take(&of.end.q, lane, &mut step.end.q);
        take(&of.bend0, lane, &mut step.bend0);
        take(&of.bend1, lane, &mut step.bend1);
        take(&of.error, lane, &mut step.error);
    }
}

impl Marcher<'_, '_> {
    fn go_on_alone(&mut self) -> Result<(), Failure> {
        let Self { transient, course, .. } = self;
        while let Some(size) = transient.propose(course)? {
            let Course { point, crossing, .. } = course;
            let judged = transient.attempt(point, &crossing.pieces, size, &mut crossing.step);
            transient.settle(point, crossing, judged)?;
        }
        Ok(())
    }
}

fn put(values: &[f64], lane: usize, all: &mut [Lanes]) {
    for (all, &value) in all.iter_mut().zip(values) {
        all.0[lane] = value;
    }
}

fn take(all: &[Lanes], lane: usize, values: &mut [f64]) {
    for (value, all) in values.iter_mut().zip(all) {
        *value = all.0[lane];
    }
}
