//! One test on several variants at once: each is prepared and brought to rest by itself, all are taken through
//! time in lockstep, and each is measured by itself. What comes out is what each run alone gives.

use super::march::March;
use super::rest::{Unchanged, rest};
use super::run::{Outcome, Prepared, RunOptions, run};
use super::{Motion, Test};
use crate::analysis::{OperatingPoint, run_abreast};
use crate::circuit::Circuit;
use crate::diagnostic::Diagnostic;
use crate::system::System;

/// What [`run`] gives.
type Ran = Result<Outcome, Vec<Diagnostic>>;

/// Whether runs of this test can be made together.
pub fn go_abreast(test: &Test) -> bool {
    matches!(test.motion, Motion::Step(_) | Motion::Ramp(_) | Motion::Profile(_) | Motion::Short(_))
}

/// Runs a test with each of the options, as [`run`] would one after the other.
pub fn run_all(circuit: &Circuit, test: &Test, all: &[RunOptions]) -> Vec<Ran> {
    if !go_abreast(test) || all.len() < 2 {
        return all.iter().map(|options| run(circuit, test, options)).collect();
    }
    // All are prepared before the first sets out: measured, one that is prepared beside those on their way
    // drives their code out of the cache.
    let mut ran: Vec<Ran> = Vec::with_capacity(all.len());
    let mut begun: Vec<(usize, Begun)> = Vec::with_capacity(all.len());
    for (k, options) in all.iter().enumerate() {
        let (so_far, at_rest) = begin(circuit, test, options);
        ran.push(so_far);
        begun.extend(at_rest.map(|at_rest| (k, at_rest)));
    }
    let marches: Vec<(usize, March<'_>)> = begun
        .iter()
        .map(|(k, Begun { prepared, system, rest })| {
            (*k, March::new(prepared, system, rest, test, &all[*k]))
        })
        .collect();
    let jobs = marches.iter().enumerate().map(|(number, (_, march))| march.job(number));
    run_abreast(jobs, |number, transient, ended| {
        let (k, march) = &marches[number];
        if let Ok(outcome) = &mut ran[*k] {
            march.conclude(transient, ended.err(), outcome);
        }
    });
    ran
}

/// A run that stands at rest.
struct Begun {
    prepared: Prepared,
    system: System,
    rest: OperatingPoint,
}

/// Brings a run to rest; what came of it where it got no further.
fn begin(circuit: &Circuit, test: &Test, options: &RunOptions) -> (Ran, Option<Begun>) {
    let mut prepared = match Prepared::new(circuit, test, options) {
        Ok(prepared) => prepared,
        Err(mistakes) => return (Err(mistakes), None),
    };
    prepared.unchanged = Unchanged::beside(circuit, test, options);
    let mut outcome = prepared.blank_outcome(test);
    let system = System::build(&prepared.net());
    match rest(&prepared, test.start, &system) {
        Ok(rest) => {
            outcome.work.newton_iterations = rest.newton_iterations;
            outcome.work.factorisations = rest.factorisations;
            (Ok(outcome), Some(Begun { prepared, system, rest }))
        }
        Err(failure) => {
            outcome.fail(failure);
            (Ok(outcome), None)
        }
    }
}
