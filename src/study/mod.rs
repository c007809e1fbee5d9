//! What takes several runs of one test: what each judged measurement depends on, which change of
//! a capacitor helps against a droop, and the lowest input at which other tests hold. What takes
//! thousands asks a [`Runner`] for batches of [`Shot`]s.
//!
//! Each study is a pure function of circuit, test and options. Nothing is measured or judged here:
//! that is a trial's.

pub mod axis;
mod capacitance;
mod carried;
pub mod compare;
mod corners;
pub mod ensemble;
mod knobs;
mod least_squares;
pub mod live;
pub mod map;
pub mod model;
mod models;
mod over_models;
mod parallel;
mod runner;
pub mod scatter;
mod sensitivity;
mod shot;
pub mod spell;
pub mod spread;
pub mod tune;
mod usable;
pub mod worst;

pub use corners::at_corners;
pub use models::{Candidate, Models};
pub use over_models::over_models;
pub use parallel::in_parallel;
pub use runner::{Forgetful, Ground, Halt, Keeper, Runner, STUDY_WORK_LIMIT, Sheet, Watch};
pub use sensitivity::sensitivities;
pub use shot::{Line, Reading, Shot, slack};

use crate::circuit::Circuit;
use crate::diagnostic::Diagnostic;
use crate::trial::{self, Outcome, RunOptions, Test, go_abreast, run_with};

/// Quick runs of one test with each of the options, as [`run`] would make them one after the other.
pub(crate) fn run_all(
    circuit: &Circuit,
    tests: &[Test],
    test: &Test,
    all: &[RunOptions],
) -> Vec<Result<Outcome, Vec<Diagnostic>>> {
    if go_abreast(test) && all.iter().all(|options| options.quick) {
        return trial::run_all(circuit, test, all);
    }
    all.iter().map(|options| run(circuit, tests, test, options)).collect()
}

/// Runs a test and what belongs to it: `tests` are all of the file, for a test that asks how others
/// fare. With `options.quick` nothing is turned.
///
/// # Errors
/// As [`crate::trial::run`].
pub fn run(
    circuit: &Circuit,
    tests: &[Test],
    test: &Test,
    options: &RunOptions,
) -> Result<Outcome, Vec<Diagnostic>> {
    let found = usable::search(circuit, tests, test, options)?;
    let mut outcome = run_with(circuit, test, options, &found.further)?;
    outcome.notes.extend(found.against_dropout(&outcome));
    if options.quick || outcome.failure.is_some() {
        return Ok(outcome);
    }
    let turned = sensitivity::turn_all(circuit, test, options, &outcome);
    let note = capacitance::note(circuit, test, options, &outcome, &turned);
    outcome.listings.extend(sensitivity::listing(&turned, &outcome));
    outcome.notes.extend(note);
    Ok(outcome)
}

/// Why a run makes no sense, in words: the first of its mistakes.
fn first_message(mistakes: Vec<Diagnostic>) -> String {
    let first = mistakes.into_iter().next();
    first.map_or_else(|| "it cannot be prepared".to_owned(), |m| m.message)
}
