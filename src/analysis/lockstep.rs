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
    /// By which it is known when it has arrived.
    pub number: usize,
    /// Not begun.
    pub transient: Transient<'s>,
    /// Where it starts.
    pub rest: &'t OperatingPoint,
    /// When it ends, in s.
    pub end_s: f64,
}

impl<'s> Job<'_, 's> {
    fn run_alone(self, arrived: &mut impl FnMut(usize, Transient<'s>, Result<(), Failure>)) {
        let Self { number, mut transient, rest, end_s } = self;
        let ended = transient.run(rest, end_s);
        arrived(number, transient, ended);
    }
}

/// Runs transients, as [`Transient::run`] would run each. Those of systems with the same equations, the
/// default method and the plan of the first go in lockstep.
///
/// A job is asked for when there is a lane for it, and each transient is handed over as soon as it has
/// arrived, with its number and what its run gives: no more records are being written than there are lanes,
/// so that they stay in the cache.
pub fn run_abreast<'t, 's>(
    jobs: impl IntoIterator<Item = Job<'t, 's>>,
    mut arrived: impl FnMut(usize, Transient<'s>, Result<(), Failure>),
) {
    let mut jobs = jobs.into_iter().peekable();
    if let Some(mut convoy) = jobs.peek().and_then(|first| Convoy::like(&first.transient)) {
        convoy.run(&mut jobs, &mut arrived);
    }
    jobs.for_each(|job| job.run_alone(&mut arrived));
}

/// A variant on its way.
struct Marcher<'s> {
    /// Of its job.
    number: usize,
    transient: Transient<'s>,
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
    /// For transients like this one, unless it has to go alone.
    fn like(transient: &Transient<'_>) -> Option<Self> {
        let plan = transient.stepper.plan().filter(|_| transient.system.trips.is_empty())?;
        let system = transient.system;
        let solver = LaneSolver::new(system.pattern(), plan);
        Some(Self {
            abreast: Abreast::of(system),
            stepper: Rodas4p::with_solver(system, solver),
            from: Step::new(system).end,
            h: Lanes::splat(1.0),
            drives: LaneDrives::new(system.drives.len()),
            step: Step::new(system),
            plan: Arc::clone(plan),
            tolerances: transient.tolerances.clone(),
        })
    }

    /// Runs all jobs.
    fn run<'t, 's>(
        &mut self,
        jobs: &mut impl Iterator<Item = Job<'t, 's>>,
        arrived: &mut impl FnMut(usize, Transient<'s>, Result<(), Failure>),
    ) {
        let mut lanes: [Option<Marcher<'s>>; LANES] = Default::default();
        loop {
            for (lane, place) in lanes.iter_mut().enumerate().filter(|(_, place)| place.is_none()) {
                *place = jobs.find_map(|job| self.start(lane, job, arrived));
            }
            if lanes.iter().flatten().count() < LEAST_ABREAST {
                break;
            }
            let proven = self.attempt();
            for (lane, place) in lanes.iter_mut().enumerate() {
                let goes_on = |marcher: &mut Marcher<'_>| self.settle(lane, marcher, proven[lane]);
                let ended = match place.as_mut().map(goes_on) {
                    None | Some(Ok(true)) => continue,
                    Some(ended) => ended.map(|_| ()),
                };
                if let Some(Marcher { number, transient, .. }) = place.take() {
                    arrived(number, transient, ended);
                }
            }
        }
        for mut marcher in lanes.into_iter().flatten() {
            let ended = marcher.go_on_alone();
            arrived(marcher.number, marcher.transient, ended);
        }
    }

    /// Has a transient set out in a lane; none where it ended at once, or could not go beside the others.
    fn start<'s>(
        &mut self,
        lane: usize,
        job: Job<'_, 's>,
        arrived: &mut impl FnMut(usize, Transient<'s>, Result<(), Failure>),
    ) -> Option<Marcher<'s>> {
        let is_alike = job.transient.system.trips.is_empty()
            && job.transient.stepper.plan().is_some_and(|plan| Arc::ptr_eq(plan, &self.plan))
            && job.transient.tolerances == self.tolerances
            && self.abreast.seat(lane, job.transient.system);
        if !is_alike {
            job.run_alone(arrived);
            return None;
        }
        let Job { number, mut transient, rest, end_s } = job;
        let set_out = transient.corners(end_s).and_then(|corners| {
            let mut course = transient.begin(rest, corners);
            Ok(transient.propose(&mut course)?.map(|size| (course, size)))
        });
        match set_out {
            Ok(Some((course, size))) => {
                let marcher = Marcher { number, transient, course, size };
                self.load(lane, &marcher);
                Some(marcher)
            }
            ended => {
                arrived(number, transient, ended.map(|_| ()));
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
        marcher: &mut Marcher<'_>,
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

    fn load(&mut self, lane: usize, marcher: &Marcher<'_>) {
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

impl Marcher<'_> {
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
