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
use std::cell::{Cell, OnceCell};

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
    let ran: Vec<Cell<Option<Ran>>> = all.iter().map(|_| Cell::default()).collect();
    let begun: Vec<OnceCell<Begun>> = all.iter().map(|_| OnceCell::new()).collect();
    let marches: Vec<OnceCell<March<'_>>> = all.iter().map(|_| OnceCell::new()).collect();
    // All are prepared before the first sets out: measured, one that is prepared beside those on their way
    // drives their code out of the cache.
    let prepared: Vec<_> = all.iter().map(|options| begin(circuit, test, options)).collect();
    let jobs = prepared.into_iter().enumerate().filter_map(|(k, (so_far, at_rest))| {
        ran[k].set(Some(so_far));
        let at_rest = at_rest?;
        let Begun { prepared, system, rest } = begun[k].get_or_init(|| at_rest);
        let march = marches[k].get_or_init(|| March::new(prepared, system, rest, test, &all[k]));
        Some(march.job(k))
    });
    run_abreast(jobs, |k, transient, ended| {
        if let (Some(march), Some(Ok(mut outcome))) = (marches[k].get(), ran[k].take()) {
            march.conclude(transient, ended.err(), &mut outcome);
            ran[k].set(Some(Ok(outcome)));
        }
    });
    ran.into_iter().filter_map(Cell::into_inner).collect()
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
