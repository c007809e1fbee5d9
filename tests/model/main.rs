//! Regulators known by their datasheets: what a fit finds again of a circuit that it has not seen, and
//! what it says of figures that a maker published.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)] // a failed unwrap is a failed test

mod blind;
mod page;
mod published;
mod ranges;

use railstep::circuit::{Change, Changes};
use railstep::document::Files;
use railstep::plan::{self, Plan};
use railstep::study::Ground;
use railstep::study::model::{Ask, Modelled, model};
use railstep::trial::RunOptions;

struct NoFiles;

impl Files for NoFiles {
    fn read(&self, path: &str) -> Result<String, String> {
        Err(format!("`{path}` is not at hand"))
    }
}

pub(crate) fn plan(text: &str) -> Plan {
    let reading = plan::read("circuit.toml", text, &NoFiles, &Changes::default());
    assert!(reading.plan.is_some(), "{:#?}\n{text}", reading.diagnostics);
    reading.plan.unwrap()
}

/// The first value of each measurement that a test requires, test by test in the order of the file.
pub(crate) fn figures(plan: &Plan, changes: &[Change]) -> Vec<Vec<f64>> {
    let options = RunOptions {
        quick: true,
        changes: Changes { list: changes.to_vec() },
        ..RunOptions::default()
    };
    let of = |test| {
        let outcome = plan.run(test, &options).unwrap();
        assert!(outcome.failure.is_none(), "{}: {:?}", outcome.name, outcome.failure);
        let asked = outcome.measurements.iter().filter(|m| m.limit.is_some());
        asked.map(|m| m.value.unwrap_or_else(|| panic!("{}: {:?}", outcome.name, m))).collect()
    };
    plan.tests.iter().map(of).collect()
}

/// The models of the one regulator of a file, with consequences for its tests where `tests` are asked for,
/// by the search of `--quick`, which has fewer starts and aims.
pub(crate) fn modelled(plan: &Plan, tests: bool) -> Modelled {
    modelled_by(plan, tests, true)
}

/// The same, by the search in full where it is not `quick`.
pub(crate) fn modelled_by(plan: &Plan, tests: bool, quick: bool) -> Modelled {
    let regulator = plan.circuit.regulators.first().expect("the file has one");
    let tests = if tests { plan.tests.as_slice() } else { &[] };
    let ground =
        Ground { circuit: &plan.circuit, tests, options: RunOptions::default(), threads: 2 };
    model(&ground, regulator, Ask { seed: 1, quick }, &|_| ()).expect("a model")
}
