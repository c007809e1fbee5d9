//! A whole file: the circuit, its tests, and the order of running them.
//!
//! Nothing is simulated before everything that can be wrong with the file has been looked for.

mod doubts;
mod usable;

use crate::circuit::{self, Changes, Circuit, Variant};
use crate::diagnostic::{Diagnostic, Diagnostics, Sources, nearest};
use crate::document::Files;
use crate::measure::Verdict;
use crate::study;
use crate::trial::{self, Outcome, RunOptions, Test, read_tests};
use std::collections::BTreeMap;

/// A file that was read without mistakes.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The circuit.
    pub circuit: Circuit,
    /// The changes asked for from outside.
    pub changes: Changes,
    /// Its values under those changes.
    pub nominal: Variant,
    /// Its tests, in the order of the file.
    pub tests: Vec<Test>,
    /// V of the nodes at rest under its values; empty where no operating point was found.
    at_rest_v: BTreeMap<String, f64>,
}

/// What reading a file gave.
#[derive(Debug)]
pub struct PlanReading {
    /// The plan, unless something is wrong.
    pub plan: Option<Plan>,
    /// All files read.
    pub sources: Sources,
    /// Mistakes and warnings, in file order.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads and checks a file: syntax, names, quantities, topology, tests, each test's own values.
pub fn read(name: &str, text: &str, files: &dyn Files, changes: &Changes) -> PlanReading {
    let circuit::Reading { circuit, unfinished, sources, mut diagnostics } =
        circuit::read(name, text, files);
    if let Some(unfinished) = &unfinished {
        // Nothing is run, but the tests' own mistakes are told at once with the circuit's.
        read_tests(unfinished, files, &mut diagnostics);
    }
    let plan = circuit.and_then(|circuit| check(circuit, files, changes, &mut diagnostics));
    let mut plan = plan.filter(|_| !diagnostics.has_errors());
    if let Some(plan) = &mut plan {
        let rest = doubts::Rest::find(&plan.nominal, &[]);
        plan.at_rest_v = rest.as_ref().map(doubts::Rest::volts).unwrap_or_default();
        diagnostics.extend(doubts::doubts(plan, rest.as_ref()));
    }
    PlanReading { plan, sources, diagnostics: diagnostics.sorted() }
}

fn check(
    circuit: Circuit,
    files: &dyn Files,
    changes: &Changes,
    diagnostics: &mut Diagnostics,
) -> Option<Plan> {
    let tests = read_tests(&circuit, files, diagnostics);
    let nominal = match circuit.variant(changes) {
        Ok(nominal) => nominal,
        Err(mistakes) => {
            mistakes.into_iter().for_each(|m| diagnostics.push(m));
            return None;
        }
    };
    // A file without tests is still one whose operating point somebody wants.
    if tests.is_empty() {
        circuit.check_topology(&nominal).into_iter().for_each(|m| diagnostics.push(m));
    }
    if !diagnostics.has_errors() {
        usable::check(&tests).into_iter().for_each(|m| diagnostics.push(m));
        for test in &tests {
            let told = trial::check(&circuit, test, changes);
            told.into_iter().for_each(|m| diagnostics.push(m));
        }
    }
    Some(Plan { circuit, changes: changes.clone(), nominal, tests, at_rest_v: BTreeMap::new() })
}

impl Plan {
    /// V across a two-ended part at rest with nominal values, its first node above the second; `None`
    /// where no operating point was found.
    pub fn bias_v(&self, part: &str) -> Option<f64> {
        let [plus, minus] = self.nominal.part(part)?.nodes.as_slice() else { return None };
        let volt = |node: &str| {
            if node == "gnd" { Some(0.0) } else { self.at_rest_v.get(node).copied() }
        };
        Some(volt(plus)? - volt(minus)?)
    }

    /// The tests of these names (all if none is named), in the order of the file.
    ///
    /// # Errors
    /// A name that no test has, with the nearest that one has.
    pub fn chosen(&self, names: &[String]) -> Result<Vec<&Test>, String> {
        for name in names {
            if !self.tests.iter().any(|t| t.name == *name || t.stem == *name) {
                let known = self.tests.iter().map(|t| t.name.as_str());
                let hint = match nearest(name, known) {
                    Some(near) => format!("is `{near}` meant?"),
                    None => {
                        let all: Vec<String> =
                            self.tests.iter().map(|t| format!("`{}`", t.name)).collect();
                        format!("the file has {}", all.join(", "))
                    }
                };
                return Err(format!("there is no test `{name}`; {hint}"));
            }
        }
        let wanted =
            |t: &&Test| names.is_empty() || names.iter().any(|n| t.name == *n || t.stem == *n);
        Ok(self.tests.iter().filter(wanted).collect())
    }

    /// Runs one of its tests, with the studies that belong to it.
    ///
    /// # Errors
    /// As [`trial::run`].
    pub fn run(&self, test: &Test, options: &RunOptions) -> Result<Outcome, Vec<Diagnostic>> {
        study::run(&self.circuit, &self.tests, test, options)
    }
}

/// The verdict of a file: the worst of its tests.
pub fn verdict(outcomes: &[Outcome]) -> Verdict {
    Verdict::worst(outcomes.iter().map(|o| o.verdict))
}
