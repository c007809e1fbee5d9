//! The operating point: Newton, then continuation on a conductance from every node to ground,
//! then the sources ramped, then a pseudo-transient, then the curve of all solutions (`fold`), then a
//! pseudo-transient in which parts follow at once, then Newton with pivots for currents of any size; each
//! attempt is logged. A rest at which no circuit stays is left, and of several the one that the rail
//! is for comes first (`several`).

mod fold;
mod pseudo_transient;
mod several;

pub(super) use several::{GROWTHS, STRAY_F};

use super::newton::{Damping, Held, Newton, Stuck};
use super::{Failure, OperatingPoint, Plans, states, thermal};
use crate::system::{Pieces, System};
use pseudo_transient::Slow;

/// Iterations of one Newton attempt from a cold guess.
const COLD_ITERATIONS: usize = 100;
/// Iterations of one continuation step, which starts close to its solution.
const WARM_ITERATIONS: usize = 40;
/// Iterations within which the search from a neighbour's rest must have ended: whole Newton steps that
/// go straight there, as they do where the rest has moved and not another one been found. A demo with its
/// cell, its temperature and all its tolerances drawn takes five on average.
const NEIGHBOUR_ITERATIONS: usize = 12;
/// First conductance to ground: stronger than any bias network of a regulator.
const FIRST_CONDUCTANCE_S: f64 = 1e-1;
/// Last one before none: its current at 100 V is below a picoampere.
const LAST_CONDUCTANCE_S: f64 = 1e-14;
/// Where a continuation finds no solution at its first parameter, one so many times easier is tried …
const EASIER: f64 = 100.0;
/// … so many times.
const MOST_EASIER: usize = 4;
/// Continuation gives up after so many steps.
const MOST_CONTINUATION_STEPS: usize = 200;

/// Solves f(x, t) = 0 with charges at rest.
///
/// `guess` is a z to start from (zeros when `None`). Without one, of several rests that are stable the
/// one that the rail is for is found ([`System::wanted`]).
///
/// # Errors
/// When all ways fail: what was tried, and the unknown that kept moving; and where states with
/// hysteresis find no rest that agrees with them.
pub fn operating_point(
    system: &System,
    pieces: &Pieces,
    t: f64,
    guess: Option<&[f64]>,
) -> Result<OperatingPoint, Failure> {
    if !system.trips.is_empty() {
        return states::find(system, pieces, guess, |held, guess| as_held(system, held, t, guess));
    }
    let found = as_held(system, pieces, t, guess)?;
    // A guess says which rest is meant.
    Ok(if guess.is_some() { found } else { several::wanted_first(system, (pieces, t), found) })
}

/// A point for a start from initial values: an operating point, or where states find none that
/// agrees with them, the one with all of them low.
///
/// # Errors
/// As [`operating_point`], but for states.
pub fn to_start_from(system: &System, pieces: &Pieces, t: f64) -> Result<OperatingPoint, Failure> {
    operating_point(system, pieces, t, None).or_else(|failure| {
        if system.trips.is_empty() { Err(failure) } else { as_held(system, pieces, t, None) }
    })
}

/// As [`operating_point`], with the drives of states as `pieces` have them, whatever these watch.
///
/// # Errors
/// When all ways fail, and where heat finds no steady state.
pub fn as_held(
    system: &System,
    pieces: &Pieces,
    t: f64,
    guess: Option<&[f64]>,
) -> Result<OperatingPoint, Failure> {
    let found = search(system, (pieces, t), guess, 0.0);
    if system.heat_paths.is_empty() {
        return found;
    }
    let tied = |w_per_k: f64| search(system, (pieces, t), None, w_per_k).ok().map(|rest| rest.z);
    thermal::settled(system, (pieces, t), found, tied)
}

fn search(
    system: &System,
    (pieces, t): (&Pieces, f64),
    guess: Option<&[f64]>,
    tie_w_per_k: f64,
) -> Result<OperatingPoint, Failure> {
    let mut search = Search::new(system, (pieces, t), tie_w_per_k);
    let start = guess.map_or_else(|| vec![0.0; system.extent()], <[f64]>::to_vec);
    let found = search.every_way(&start).map(|found| search.stable(found));
    search.end(found)
}

/// As [`operating_point`] of a circuit that differs from another in its values alone, whose rest has
/// the unknowns `neighbour`, ground first, and whose matrices are factored by `plans`.
///
/// Where Newton goes straight from there to a rest, it is the neighbour's own rest, moved: of several
/// that a circuit may have the same one. Where it does not, the search starts as if there were no
/// neighbour.
///
/// # Errors
/// As [`operating_point`].
pub fn operating_point_near(
    system: &System,
    pieces: &Pieces,
    t: f64,
    neighbour: &[f64],
    plans: Option<&Plans>,
) -> Result<OperatingPoint, Failure> {
    // States and heat have their own way to a rest, and it starts from nothing.
    if !system.trips.is_empty() || !system.heat_paths.is_empty() {
        return operating_point(system, pieces, t, None);
    }
    let mut search = Search::new(system, (pieces, t), 0.0);
    if let Some(plans) = plans {
        search.newton.solver.adopt(&plans.at_rest);
        search.plans = Some(plans);
    }
    let mut start = vec![0.0; system.extent()];
    for (x, from) in start.iter_mut().zip(neighbour) {
        *x = *from;
    }
    let what = "Newton from the rest with nothing changed";
    let found = search.newton(&start, Damping::Junctions, NEIGHBOUR_ITERATIONS, what);
    match found {
        Some(found) if !search.is_saddle(&found) => search.end(Some(found)),
        _ => operating_point(system, pieces, t, None),
    }
}

struct Search<'a> {
    system: &'a System,
    pieces: &'a Pieces,
    t: f64,
    /// W/K from every heated junction to ambient.
    tie_w_per_k: f64,
    /// Plans of a like circuit.
    plans: Option<&'a Plans>,
    newton: Newton,
    tried: Vec<String>,
    worst: Stuck,
}

impl<'a> Search<'a> {
    fn new(system: &'a System, (pieces, t): (&'a Pieces, f64), tie_w_per_k: f64) -> Self {
        let worst = Stuck::nowhere(system);
        let (newton, tried) = (Newton::new(system), Vec::new());
        Self { system, pieces, t, tie_w_per_k, plans: None, newton, tried, worst }
    }

    fn every_way(&mut self, start: &[f64]) -> Option<Vec<f64>> {
        self.newton(start, Damping::Junctions, COLD_ITERATIONS, "Newton with junction limits")
            .or_else(|| self.newton(start, Damping::WholeStep, COLD_ITERATIONS, "damped Newton"))
            .or_else(|| self.ground_conductance())
            .or_else(|| self.sources_ramped())
            .or_else(|| self.pseudo_transient(Slow::Everything))
            .or_else(|| self.round_folds())
            .or_else(|| self.pseudo_transient(Slow::OwnNodes))
            .or_else(|| self.pivots_by_size(start))
    }

    fn end(self, found: Option<Vec<f64>>) -> Result<OperatingPoint, Failure> {
        match found {
            Some(z) => Ok(OperatingPoint {
                z,
                states: vec![false; self.system.trips.len()],
                tried: self.tried,
                newton_iterations: self.newton.iterations,
                factorisations: self.newton.solver.factorisations,
            }),
            None => Err(self.failure()),
        }
    }

    fn solve(&mut self, held: &Held<'_>, damping: Damping, most: usize, z: &mut [f64]) -> bool {
        let held = &Held { tie_w_per_k: self.tie_w_per_k, ..*held };
        let outcome = self.newton.solve(self.system, (self.pieces, self.t), held, damping, most, z);
        if let Err(stuck) = outcome {
            self.worst = stuck;
        }
        outcome.is_ok()
    }

    fn log(&mut self, what: &str, how: &str) {
        self.tried.push(format!("{what}: {how}"));
    }

    fn newton(
        &mut self,
        start: &[f64],
        damping: Damping,
        most: usize,
        what: &str,
    ) -> Option<Vec<f64>> {
        let before = self.newton.iterations;
        let mut z = start.to_vec();
        let held = Held { source_scale: 1.0, ..Held::default() };
        let solved = self.solve(&held, damping, most, &mut z);
        let used = self.newton.iterations - before;
        let how = if solved {
            format!("solved in {used} iterations")
        } else {
            format!("gave up after {used} iterations: {}", self.worst.told(self.name(self.worst)))
        };
        self.log(what, &how);
        solved.then_some(z)
    }

    /// Newton with pivots that suit how large the unknowns are: what carries any current at all leaves
    /// nothing of others by pivots that suited zero.
    fn pivots_by_size(&mut self, start: &[f64]) -> Option<Vec<f64>> {
        let what = "Newton with pivots chosen at every step by the sizes of currents";
        self.newton.pivots_by_size = true;
        let found = self
            .newton(start, Damping::Junctions, COLD_ITERATIONS, what)
            .or_else(|| self.newton(start, Damping::WholeStep, COLD_ITERATIONS, what));
        self.newton.pivots_by_size = false;
        self.newton.solver.plan_by(None);
        found
    }

    /// Follows `solve_at(parameter)` from a parameter where it is easy to one where it is the
    /// problem itself, with steps in the logarithm that grow after success and halve after failure.
    fn follow(
        &mut self,
        (from, to): (f64, f64),
        what: &str,
        held_at: impl Fn(f64) -> Held<'static>,
    ) -> Option<Vec<f64>> {
        let mut z = vec![0.0; self.system.extent()];
        if !self.follow_to(&mut z, (from, to), what, held_at) {
            return None;
        }
        let held = Held { source_scale: 1.0, ..Held::default() };
        let solved = self.solve(&held, Damping::Junctions, COLD_ITERATIONS, &mut z);
        self.log(what, if solved { "solved" } else { "its last step did not converge" });
        solved.then_some(z)
    }

    /// The same from z, to the last parameter; gives whether it was reached.
    fn follow_to<'h>(
        &mut self,
        z: &mut Vec<f64>,
        (from, to): (f64, f64),
        what: &str,
        held_at: impl Fn(f64) -> Held<'h>,
    ) -> bool {
        let end = to.ln();
        let Some(start) = self.first_of((from, to), z, &held_at) else {
            self.log(what, "its first step did not converge");
            return false;
        };
        let mut reached = start;
        let mut step = (end - from.ln()) / 12.0;
        let shortest = step.abs() / 1000.0;
        for _ in 0..MOST_CONTINUATION_STEPS {
            if reached == end {
                return true;
            }
            let next = if (end - reached).abs() <= step.abs() { end } else { reached + step };
            let mut trial = z.clone();
            if self.solve(&held_at(next.exp()), Damping::Junctions, WARM_ITERATIONS, &mut trial) {
                *z = trial;
                reached = next;
                step *= 1.5;
            } else {
                step *= 0.5;
                if step.abs() < shortest {
                    break;
                }
            }
        }
        self.log(what, &format!("stuck at {:.3e}", reached.exp()));
        false
    }

    /// Solves at the first parameter, or as far beyond it as makes it easy; its logarithm.
    fn first_of<'h>(
        &mut self,
        (from, to): (f64, f64),
        z: &mut Vec<f64>,
        held_at: &impl Fn(f64) -> Held<'h>,
    ) -> Option<f64> {
        let easier = (from / to).ln().signum() * EASIER.ln();
        let mut at = from.ln();
        for _ in 0..=MOST_EASIER {
            for damping in [Damping::Junctions, Damping::WholeStep] {
                let mut trial = z.clone();
                if self.solve(&held_at(at.exp()), damping, COLD_ITERATIONS, &mut trial) {
                    *z = trial;
                    return Some(at);
                }
            }
            at += easier;
        }
        None
    }

    fn ground_conductance(&mut self) -> Option<Vec<f64>> {
        self.follow(
            (FIRST_CONDUCTANCE_S, LAST_CONDUCTANCE_S),
            "a conductance from every node to ground, lowered step by step (S)",
            |siemens| Held { anchor_siemens: siemens, source_scale: 1.0, ..Held::default() },
        )
    }

    fn sources_ramped(&mut self) -> Option<Vec<f64>> {
        self.follow((1e-3, 1.0), "all sources ramped from a thousandth (share)", |share| Held {
            source_scale: share,
            ..Held::default()
        })
    }

    fn charges_at(&mut self, z: &mut [f64], rows: &mut [f64]) {
        self.system.set_time(self.pieces, self.t, z);
        let slopes = vec![0.0; z.len()];
        self.system.linearise(z, &slopes, &mut self.newton.at);
        self.newton.charge_rows(self.system, z, rows);
    }

    fn name(&self, at: Stuck) -> &str {
        self.system.unknowns.get(at.unknown).map_or("the circuit", |unknown| &unknown.name)
    }

    fn failure(self) -> Failure {
        let k = self.worst.unknown;
        let node = self.system.unknowns.get(k).map(|u| u.name.clone());
        let told = self.worst.told(self.name(self.worst));
        Failure {
            time_s: None,
            part: self.system.part_at(k).map(str::to_owned),
            message: format!("no operating point was found; {told}"),
            node,
            tried: self.tried,
        }
    }
}
