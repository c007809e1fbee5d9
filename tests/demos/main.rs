//! The demo circuits: the verdicts their files announce, and their figures against an integration of
//! the same equations that shares no code with this one.
//!
//! A further demo is a line in [`DEMOS`], and a file of its own beside this one for its verdicts and
//! figures.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)] // a failed unwrap is a failed test

mod announced;
mod bench_supply;
mod bias_shunt;
mod both_domains;
mod commands;
mod core_rail;
mod gauge_supply;
mod independent;
mod isolated_shunt;
mod mast_amplifier;
mod regress;
mod small_signals;
mod steady;
mod together;

use railstep::analysis::Method;
use railstep::circuit::Changes;
use railstep::document::Files;
use railstep::measure::TestKind;
use railstep::plan::{self, Plan};
use railstep::trial::{Outcome, RunOptions};
use std::sync::{Mutex, OnceLock, PoisonError};

pub(crate) const BUOY: &str = include_str!("../../netlists/buoy-radio.toml");
pub(crate) const SENSOR: &str = include_str!("../../netlists/sensor-supply.toml");
pub(crate) const CORE: &str = include_str!("../../netlists/core-rail.toml");
pub(crate) const MAST: &str = include_str!("../../netlists/mast-amplifier.toml");
pub(crate) const SHUNT: &str = include_str!("../../netlists/bias-shunt.toml");
pub(crate) const ISOLATED: &str = include_str!("../../netlists/isolated-shunt.toml");
pub(crate) const BENCH: &str = include_str!("../../netlists/bench-supply.toml");
pub(crate) const GAUGE: &str = include_str!("../../netlists/gauge-supply.toml");

/// Every demo: stem of its file, its text, and the verdict of the whole that it announces.
pub(crate) const DEMOS: &[(&str, &str, &str)] = &[
    ("buoy-radio", BUOY, "fail"),
    ("sensor-supply", SENSOR, "fail"),
    ("core-rail", CORE, "fail"),
    ("mast-amplifier", MAST, "fail"),
    ("bias-shunt", SHUNT, "fail"),
    ("isolated-shunt", ISOLATED, "fail"),
    ("bench-supply", BENCH, "fail"),
    ("gauge-supply", GAUGE, "fail"),
];

struct NoFiles;

impl Files for NoFiles {
    fn read(&self, path: &str) -> Result<String, String> {
        Err(format!("`{path}` is not at hand"))
    }
}

pub(crate) fn plan(text: &str) -> Plan {
    let reading = plan::read("demo.toml", text, &NoFiles, &Changes::default());
    assert!(reading.diagnostics.is_empty(), "{:#?}", reading.diagnostics);
    reading.plan.expect("a demo has no mistakes")
}

/// What was solved: of which demo, by which formula, whether quickly; and what came out.
type Solved = ((&'static str, Method, bool), &'static OnceLock<Vec<Outcome>>);

/// All tests of a demo, solved by one formula: once for all that look at them.
pub(crate) fn outcomes(text: &'static str, method: Method, quick: bool) -> &'static [Outcome] {
    static SOLVED: Mutex<Vec<Solved>> = Mutex::new(Vec::new());
    let of = (text, method, quick);
    let place = {
        let mut solved = SOLVED.lock().unwrap_or_else(PoisonError::into_inner);
        let found = solved.iter().find(|(other, _)| *other == of).map(|(_, place)| *place);
        found.unwrap_or_else(|| {
            let place: &'static OnceLock<_> = Box::leak(Box::default());
            solved.push((of, place));
            place
        })
    };
    place.get_or_init(|| {
        let plan = plan(text);
        let options = RunOptions { method, quick, ..RunOptions::default() };
        let run = |test| plan.run(test, &options).expect("a demo's tests can be run");
        plan.tests.iter().map(run).collect()
    })
}

/// Whether a test of this kind is followed over time.
pub(crate) fn is_timed(kind: TestKind) -> bool {
    kind.is_in_time()
}

pub(crate) fn value(outcome: &Outcome, name: &str) -> f64 {
    let found = outcome.measurements.iter().find(|m| m.name == name);
    found.and_then(|m| m.value).unwrap_or_else(|| panic!("{}: no {name}", outcome.name))
}

pub(crate) fn named<'a>(outcomes: &'a [Outcome], test: &str) -> &'a Outcome {
    outcomes.iter().find(|o| o.name == test).unwrap_or_else(|| panic!("no test `{test}`"))
}
