//! Newton's method for a point without or with held charges: f(x) + rate·(A·Q(x) − held) = 0.
//!
//! With rate 0 it is the operating point; with rate 1/h it is one backward-Euler step, which is
//! also how a point is made consistent after a jump (charges and fluxes held).

use super::solver::{Constants, Solver};
use crate::device::Role;
use crate::numeric::Singular;
use crate::system::{Linearisation, Pieces, System};

/// A node has converged when its last change is below this, absolute (V) and per volt.
const CONVERGED_V: f64 = 1e-10;
/// A branch current has converged when its last change is below this, absolute (A) and per ampere.
const CONVERGED_A: f64 = 1e-12;
/// A temperature has converged when its last change is below this, in K.
const CONVERGED_K: f64 = 1e-8;
/// The same, relative.
pub(super) const CONVERGED_RELATIVE: f64 = 1e-9;
/// An iteration whose changes are below this many tolerances and shrink no more has reached the
/// rounding of its own equations: over a picosecond step a charge is known to no more digits.
const ROUNDING_TOLERANCES: f64 = 1e3;
/// A converging iteration shrinks its change at least by this factor each time.
const SHRINKING: f64 = 0.3;
/// After so many full steps without convergence the steps are halved, after twice as many
/// quartered: an iteration that cycles between two branches settles in the middle.
const FULL_STEPS: usize = 20;
/// An iteration whose changes have not come closer to their tolerances for so long goes in circles.
const PATIENCE: usize = 25;
/// The shortest step a damped iteration takes before it gives up.
const SHORTEST_DAMPED: f64 = 1e-4;

/// Matrices kept: those of a jump, of the micro-step behind it, and the one at hand. What a continuation
/// has passed it does not come back to.
const MOST_KEPT: usize = 3;

/// What holds a point besides its own equations.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Held<'a> {
    /// 1/h in 1/s; zero when charges are free.
    pub(crate) rate: f64,
    /// A·q by row at the start of the step.
    pub(crate) rows: &'a [f64],
    /// Conductance from every node to where `anchor_at` says it was (ground if empty), in S.
    pub(crate) anchor_siemens: f64,
    /// Node voltages the anchor pulls to.
    pub(crate) anchor_at: &'a [f64],
    /// Whether the anchor leaves inner nodes of parts alone.
    pub(crate) anchors_own_nodes: bool,
    /// All drives times this.
    pub(crate) source_scale: f64,
    /// Thermal conductance from every heated junction to ambient, in W/K.
    pub(crate) tie_w_per_k: f64,
    /// An unknown, and with how many S it is pulled to which V.
    pub(crate) pulled: Option<(usize, f64, f64)>,
    /// Whether a step in time is as exacting as a rest is.
    pub(crate) leads_to_rest: bool,
}

impl Held<'_> {
    /// Whether the anchor holds an unknown of this role.
    pub(super) fn anchors(&self, role: Role) -> bool {
        if self.anchors_own_nodes { role == Role::Node } else { role.is_voltage() }
    }

    /// Whether a point that stands still must be told from its rounding: of a rest, and of steps that lead to
    /// one. Any other step in time can be tried again, shorter; measured on random circuits that leave a rest
    /// which none holds, it took five times as long to be exacting there.
    fn is_exacting(&self) -> bool {
        self.rate == 0.0 || self.leads_to_rest
    }
}

/// How steps are shortened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Damping {
    /// Each junction by its own limit.
    Junctions,
    /// The whole step, until the simplified next step is smaller (Deuflhard 1974).
    WholeStep,
}

/// Why an iteration ended without a solution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stuck {
    /// The unknown that changed most, against its own tolerance.
    pub(crate) unknown: usize,
    /// Its last change, V or A.
    pub(crate) change: f64,
    /// That change against its tolerance.
    pub(crate) ratio: f64,
    /// Whether no step could be told at all, since the equations leave this unknown open.
    pub(crate) is_open: bool,
}

impl Stuck {
    /// Before any step.
    pub(crate) fn nowhere(system: &System) -> Self {
        let unknown = 1.min(system.n());
        Self { unknown, change: f64::INFINITY, ratio: f64::INFINITY, is_open: false }
    }

    /// What it says of an unknown of this name.
    pub(crate) fn told(&self, name: &str) -> String {
        if self.is_open {
            format!("the equations leave `{name}` open")
        } else {
            format!("`{name}` kept moving")
        }
    }
}

/// Room for Newton iterations of one system.
#[derive(Clone, Debug)]
pub(crate) struct Newton {
    pub(crate) solver: Solver<f64>,
    pub(crate) at: Linearisation,
    pub(crate) iterations: usize,
    /// Whether pivots are chosen at every step, by how large the unknowns are.
    pub(super) pivots_by_size: bool,
    slopes: Vec<f64>,
    held_inputs: Vec<f64>,
    rows: Vec<f64>,
    pub(super) step: Vec<f64>,
    trial: Vec<f64>,
}

impl Newton {
    pub(crate) fn new(system: &System) -> Self {
        let rows = system.unknowns.len();
        Self {
            solver: Solver::new(system.pattern()).keeping(MOST_KEPT),
            at: Linearisation::new(system),
            iterations: 0,
            pivots_by_size: false,
            slopes: vec![0.0; system.extent()],
            held_inputs: vec![0.0; system.law_inputs()],
            rows: vec![0.0; rows],
            step: vec![0.0; rows],
            trial: vec![0.0; system.extent()],
        }
    }

    /// Improves z until it solves the equations; z's drives and time are set here.
    pub(crate) fn solve(
        &mut self,
        system: &System,
        (pieces, t): (&Pieces, f64),
        held: &Held<'_>,
        damping: Damping,
        most_iterations: usize,
        z: &mut [f64],
    ) -> Result<(), Stuck> {
        system.set_time(pieces, t, z);
        let drives = system.unknowns.len()..system.extent() - 1;
        z[drives].iter_mut().for_each(|level| *level *= held.source_scale);
        self.hold_inputs_at(system, z);
        self.iterate(system, held, damping, most_iterations, z).or_else(|stuck| {
            let is_there = held.is_exacting() && self.settle(system, held, z);
            if is_there { Ok(()) } else { Err(stuck) }
        })
    }

    fn iterate(
        &mut self,
        system: &System,
        held: &Held<'_>,
        damping: Damping,
        most_iterations: usize,
        z: &mut [f64],
    ) -> Result<(), Stuck> {
        let nowhere = Stuck::nowhere(system);
        let mut stuck = nowhere;
        let (mut best, mut best_at) = (f64::INFINITY, 0);
        // Share of the last step that was taken: what was left of it is in the next one by right.
        let mut taken = 1.0;
        for iteration in 0..most_iterations {
            self.iterations += 1;
            let limited = self.linearise(system, held, damping, z);
            if let Err(singular) = self.direction(held) {
                return Err(Stuck { unknown: singular.column + 1, is_open: true, ..nowhere });
            }
            if !self.step.iter().all(|s| s.is_finite()) {
                return Err(stuck);
            }
            let share = match damping {
                // So close it goes straight there: halved steps would halve what is left, no more.
                Damping::Junctions if stuck.ratio <= ROUNDING_TOLERANCES => 1.0,
                Damping::Junctions => 0.5_f64.powi((iteration / FULL_STEPS).min(3) as i32),
                Damping::WholeStep => self.damped_share(system, held, z).ok_or(stuck)?,
            };
            for (x, s) in z.iter_mut().zip(&self.step) {
                *x += share * s;
            }
            let before = stuck.ratio;
            stuck = self.worst(system, z);
            if stuck.ratio < best {
                (best, best_at) = (stuck.ratio, iteration);
            } else if iteration - best_at > PATIENCE {
                return Err(stuck);
            }
            let shrinks_to = (1.0 - taken) + taken * SHRINKING;
            let stands = stuck.ratio <= ROUNDING_TOLERANCES && stuck.ratio >= shrinks_to * before;
            taken = share;
            let is_there = stuck.ratio <= 1.0
                || stands
                    && !limited
                    && (!held.is_exacting() || self.is_rounding_alone(system, held, z));
            if is_there && !limited {
                self.linearise(system, held, Damping::WholeStep, z);
                return if self.holds(system, held, z) { Ok(()) } else { Err(stuck) };
            }
        }
        Err(stuck)
    }

    /// A·q by row at the last point linearised, for z there.
    pub(crate) fn charge_rows(&mut self, system: &System, z: &[f64], rows: &mut [f64]) {
        system.linear_charges(z, rows);
        system.scatter_charges(&self.at.q, rows);
    }

    fn hold_inputs_at(&mut self, system: &System, z: &[f64]) {
        // A first evaluation with limits from zero would be wrong where the guess is already good:
        // start from the guess itself when it is finite.
        system.inputs(z, &mut self.held_inputs);
    }

    pub(super) fn linearise(
        &mut self,
        system: &System,
        held: &Held<'_>,
        damping: Damping,
        z: &[f64],
    ) -> bool {
        if self.pivots_by_size {
            self.solver.plan_by(Some(amounts(system, z)[1..].to_vec()));
        }
        let limited = match damping {
            Damping::Junctions => {
                system.linearise_limited(z, &self.slopes, &mut self.held_inputs, &mut self.at)
            }
            Damping::WholeStep => {
                system.linearise(z, &self.slopes, &mut self.at);
                false
            }
        };
        if held.rate > 0.0 {
            let mut rows = std::mem::take(&mut self.rows);
            self.charge_rows(system, z, &mut rows);
            for (f, (now, before)) in self.at.f.iter_mut().zip(rows.iter().zip(held.rows)) {
                *f += held.rate * (now - before);
            }
            self.rows = rows;
        }
        if held.anchor_siemens > 0.0 {
            let places = (held.anchor_at, z);
            let anchored = |role| held.anchors(role);
            system.add_anchor_where(anchored, held.anchor_siemens, places, &mut self.at);
        }
        if held.tie_w_per_k > 0.0 {
            system.add_tie(held.tie_w_per_k, z, &mut self.at);
        }
        if let Some((unknown, siemens, level)) = held.pulled {
            system.add_pull((unknown, siemens, level), z, &mut self.at);
        }
        limited
    }

    /// The full Newton step from the last linearisation, into `step`.
    pub(super) fn direction(&mut self, held: &Held<'_>) -> Result<(), Singular> {
        self.factor(held)?;
        self.towards_zero()
    }

    /// The step to where f is 0, by the matrix factored last.
    pub(super) fn towards_zero(&mut self) -> Result<(), Singular> {
        for (s, f) in self.step.iter_mut().zip(&self.at.f) {
            *s = -f;
        }
        self.step[0] = 0.0;
        self.solver.solve_checked(&mut self.step[1..])
    }

    /// Factors the matrix of the last linearisation.
    pub(super) fn factor(&mut self, held: &Held<'_>) -> Result<(), Singular> {
        self.at.matrix(held.rate, self.solver.values());
        let Held { rate, anchor_siemens, tie_w_per_k, pulled, anchors_own_nodes, .. } = *held;
        if pulled.is_some() || anchors_own_nodes {
            return self.solver.factor();
        }
        self.solver.factor_with(Constants { rate, anchor_siemens, tie_w_per_k })
    }

    /// The largest share of the step after which the simplified next step is shorter.
    fn damped_share(&mut self, system: &System, held: &Held<'_>, z: &[f64]) -> Option<f64> {
        let full = std::mem::take(&mut self.step);
        let length = norm(system, &full);
        let mut share = 1.0;
        let mut found = None;
        while share >= SHORTEST_DAMPED {
            self.trial.copy_from_slice(z);
            for (x, s) in self.trial.iter_mut().zip(&full) {
                *x += share * s;
            }
            let trial = std::mem::take(&mut self.trial);
            self.linearise(system, held, Damping::WholeStep, &trial);
            self.trial = trial;
            let mut next: Vec<f64> = self.at.f.iter().map(|f| -f).collect();
            next[0] = 0.0;
            self.solver.solve(&mut next[1..]);
            let shorter = norm(system, &next) <= (1.0 - share / 4.0) * length;
            if shorter || length == 0.0 || is_close(system, z, &full, 1.0) {
                found = Some(share);
                break;
            }
            share *= 0.5;
        }
        self.step = full;
        found
    }

    /// The unknown whose last change is largest against its tolerance.
    fn worst(&self, system: &System, z: &[f64]) -> Stuck {
        let mut worst = Stuck { change: 0.0, ratio: 0.0, ..Stuck::nowhere(system) };
        for (k, entry) in system.unknowns.iter().enumerate().skip(1) {
            let ratio = self.step[k].abs() / tolerance(entry.role, z[k]);
            if ratio > worst.ratio {
                worst = Stuck { unknown: k, change: self.step[k], ratio, ..worst };
            }
        }
        worst
    }
}

pub(super) fn tolerance(role: Role, value: f64) -> f64 {
    let absolute = match role {
        Role::Ground | Role::Node | Role::InnerNode => CONVERGED_V,
        Role::InductorCurrent | Role::SourceCurrent => CONVERGED_A,
        Role::Temperature => CONVERGED_K,
    };
    absolute + CONVERGED_RELATIVE * value.abs()
}

/// How large each unknown is; none is smaller than the one whose last billionth is its tolerance.
pub(super) fn amounts(system: &System, z: &[f64]) -> Vec<f64> {
    let known = system.unknowns.iter().zip(z);
    known.map(|(entry, x)| tolerance(entry.role, *x) / CONVERGED_RELATIVE).collect()
}

/// Whether every change is within so many tolerances.
pub(super) fn is_close(system: &System, z: &[f64], step: &[f64], tolerances: f64) -> bool {
    let mut each = system.unknowns.iter().zip(z.iter().zip(step)).skip(1);
    each.all(|(entry, (x, s))| s.abs() <= tolerances * tolerance(entry.role, *x))
}

/// Length of a step over node voltages; currents follow from them.
fn norm(system: &System, step: &[f64]) -> f64 {
    let voltages = system.unknowns.iter().zip(step).skip(1);
    voltages
        .filter(|(entry, _)| matches!(entry.role, Role::Node | Role::InnerNode))
        .map(|(_, s)| s * s)
        .sum::<f64>()
        .sqrt()
}
