//! Heat at rest and in time: whether a rest is one that the circuit reaches from the cold, and when
//! a junction runs away.
//!
//! A path with thermal resistance R carries away what its parts make only while R·dP/dT < 1. Where
//! that ends no rest is near, and Newton's method finds either none or the hot one beyond, from
//! which temperature runs away with any push. So a rest is taken only if heat is stable there; if
//! not, the branch is followed from junctions tied to ambient, the tie loosened step by step.

use super::newton::{Damping, Held, Newton};
use super::solver::Solver;
use super::{Failure, OperatingPoint};
use crate::device::temperature::ZERO_CELSIUS_K;
use crate::device::{HeatPath, Role};
use crate::quantity::{engineering, trimmed};
use crate::system::{Linearisation, Pieces, System};
use nalgebra::DMatrix;

/// A junction hotter than this, in K, runs away where no rated temperature says more: aluminium and
/// solder melt there (common practice, no source).
const RUNAWAY_K: f64 = 700.0;
/// So far above its rated temperature a junction runs away, in K (common practice, no source).
const ABOVE_RATED_K: f64 = 200.0;
/// The first tie of every place on a heat path to ambient in W/K: stiffer than any heat sink.
const FIRST_TIE_W_PER_K: f64 = 1e6;
/// The last one before none: below a microwatt at any temperature.
const LAST_TIE_W_PER_K: f64 = 1e-9;
/// The first and the shortest step of the tie, in its logarithm.
const TIE_STEPS: [f64; 2] = [-1.5, 1e-3];
const ITERATIONS: usize = 60;
const MOST_STEPS: usize = 400;
const DIGITS: usize = 3;

impl HeatPath {
    /// The junction temperature in K above which it counts as running away.
    pub(super) fn runaway_k(&self) -> f64 {
        self.rated_k.map_or(RUNAWAY_K, |rated| rated + ABOVE_RATED_K)
    }
}

/// The heat path whose junction is too hot to be one at these unknowns.
pub(super) fn too_hot<'s>(system: &'s System, x: &[f64]) -> Option<&'s HeatPath> {
    system.heat_paths.iter().find(|path| path.ambient_k + x[path.junction] > path.runaway_k())
}

/// What a transient says that ends at a junction too hot to be one.
pub(super) fn runaway_in_time(system: &System, path: &HeatPath, t: f64) -> Failure {
    let name = junction_name(system, path);
    Failure {
        time_s: Some(t),
        node: Some(name.clone()),
        part: Some(system.parts[path.part].name.clone()),
        tried: vec!["the circuit followed until then".to_owned()],
        message: format!(
            "thermal runaway: `{name}` passes {} at {}; no such junction lives",
            celsius(path.runaway_k()),
            engineering(t, "s", DIGITS)
        ),
    }
}

fn junction_name(system: &System, path: &HeatPath) -> String {
    system.unknowns[path.junction].name.clone()
}

fn celsius(kelvin: f64) -> String {
    format!("{:.0} °C", kelvin - ZERO_CELSIUS_K)
}

/// Whether heat is stable at a rest: after a push of temperatures alone, charges at rest, they come
/// back. `z` is an extended vector.
/// Junctions are tied to ambient by so many W/K besides.
fn is_stable(system: &System, z: &[f64], tie_w_per_k: f64) -> bool {
    let places: Vec<usize> = places(system);
    if places.is_empty() {
        return true;
    }
    let slopes = vec![0.0; z.len()];
    let mut at = Linearisation::new(system);
    system.linearise(z, &slopes, &mut at);
    system.add_tie(tie_w_per_k, z, &mut at);
    let mut solver = Solver::new(system.pattern());
    at.matrix(0.0, solver.values());
    if solver.factor().is_err() {
        return false;
    }
    // The block of the inverse over temperatures is the inverse of what is left of the conductances
    // once voltages and currents have followed.
    let count = places.len();
    let mut inverse = DMatrix::zeros(count, count);
    let mut column = vec![0.0; system.n()];
    for (j, &place) in places.iter().enumerate() {
        column.fill(0.0);
        column[place - 1] = 1.0;
        solver.solve(&mut column);
        for (i, &row) in places.iter().enumerate() {
            inverse[(i, j)] = column[row - 1];
        }
    }
    let capacities = DMatrix::from_fn(count, count, |i, j| {
        let slot = system.pattern().slot(places[i] - 1, places[j] - 1);
        slot.map_or(0.0, |slot| at.capacitances[slot])
    });
    // Time constants: eigenvalues of S⁻¹·C.
    let product = inverse * capacities;
    let finite = product.iter().all(|x| x.is_finite());
    finite && product.complex_eigenvalues().iter().all(|tau| tau.re > 0.0)
}

/// Unknowns that are temperatures with a heat capacity.
fn places(system: &System) -> Vec<usize> {
    let warm = |k: &usize| system.unknowns[*k].role == Role::Temperature && system.dynamic_row[*k];
    (1..system.unknowns.len()).filter(warm).collect()
}

/// A rest that the circuit reaches from the cold: the one found, if it is stable, else the end of
/// the branch along which junctions are let go from ambient. `tied` finds the rest with each tied to it by
/// so many W/K.
///
/// # Errors
/// When that branch ends: thermal runaway, in words.
pub(super) fn settled(
    system: &System,
    (pieces, t): (&Pieces, f64),
    found: Result<OperatingPoint, Failure>,
    tied: impl FnOnce(f64) -> Option<Vec<f64>>,
) -> Result<OperatingPoint, Failure> {
    if let Ok(rest) = &found
        && too_hot(system, &rest.z).is_none()
        && is_stable(system, &rest.z, 0.0)
    {
        return found;
    }
    let mut tie = Tie { system, pieces, t, newton: Newton::new(system) };
    // Where there is no rest even with the junctions at ambient, heat is not to blame.
    let Some(cold) = tied(FIRST_TIE_W_PER_K) else { return found };
    let (z, reached) = tie.loosen(cold);
    let mut tried = match &found {
        Ok(rest) => rest.tried.clone(),
        Err(failure) => failure.tried.clone(),
    };
    let Some(tie_w_per_k) = reached else {
        return match too_hot(system, &z) {
            None => {
                tried.push("junctions let go from ambient step by step: solved".to_owned());
                let newton_iterations = tie.newton.iterations;
                let factorisations = tie.newton.solver.factorisations;
                let states = vec![false; system.trips.len()];
                Ok(OperatingPoint { z, states, tried, newton_iterations, factorisations })
            }
            Some(path) => Err(no_rest(system, path, &z, None, tried)),
        };
    };
    let hottest = system.heat_paths.iter().max_by(|a, b| z[a.junction].total_cmp(&z[b.junction]));
    match hottest {
        Some(path) => Err(no_rest(system, path, &z, Some(tie_w_per_k), tried)),
        None => found,
    }
}

/// A thermal resistance in words: prefixes are not in use for it.
fn about(k_per_w: f64) -> String {
    trimmed(k_per_w, "K/W", DIGITS)
}

fn no_rest(
    system: &System,
    path: &HeatPath,
    z: &[f64],
    tie_w_per_k: Option<f64>,
    mut tried: Vec<String>,
) -> Failure {
    let name = junction_name(system, path);
    tried.push("junctions let go from ambient step by step".to_owned());
    let kelvin = path.ambient_k + z[path.junction];
    let message = match tie_w_per_k {
        Some(tie) => format!(
            "thermal runaway: no steady state; beyond {} at `{name}` each further kelvin makes more \
             heat than the path of {} carries away; it would have to be below about {}",
            celsius(kelvin),
            about(path.resistance_k_per_w),
            about(1.0 / (tie + 1.0 / path.resistance_k_per_w))
        ),
        None => format!(
            "thermal runaway: `{name}` would settle at {}; no such junction lives",
            celsius(kelvin)
        ),
    };
    Failure {
        time_s: None,
        node: Some(name),
        part: Some(system.parts[path.part].name.clone()),
        tried,
        message,
    }
}

/// Follows a rest while junctions are let go from ambient.
struct Tie<'a> {
    system: &'a System,
    pieces: &'a Pieces,
    t: f64,
    newton: Newton,
}

impl Tie<'_> {
    fn solve(&mut self, w_per_k: f64, z: &mut [f64]) -> bool {
        let held = Held { source_scale: 1.0, tie_w_per_k: w_per_k, ..Held::default() };
        let at = (self.pieces, self.t);
        let solved =
            self.newton.solve(self.system, at, &held, Damping::Junctions, ITERATIONS, z).is_ok();
        solved && too_hot(self.system, z).is_none()
    }

    /// The last rest that is stable, and the tie in W/K there unless it is gone.
    fn loosen(&mut self, mut z: Vec<f64>) -> (Vec<f64>, Option<f64>) {
        let mut at = FIRST_TIE_W_PER_K.ln();
        let [mut step, shortest] = TIE_STEPS;
        for _ in 0..MOST_STEPS {
            let is_last = at + step <= LAST_TIE_W_PER_K.ln();
            let next = if is_last { 0.0 } else { (at + step).exp() };
            let mut trial = z.clone();
            if self.solve(next, &mut trial) && is_stable(self.system, &trial, next) {
                z = trial;
                if is_last {
                    return (z, None);
                }
                at += step;
                step *= 1.5;
            } else {
                step *= 0.5;
                if step.abs() < shortest {
                    break;
                }
            }
        }
        (z, Some(at.exp()))
    }
}
