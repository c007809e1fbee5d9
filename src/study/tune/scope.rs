//! Which tests a choice is held against: those that it moves, those that it cannot move, and those
//! that set what is tuned themselves.

use super::candidates::Tuned;
use crate::circuit::Variant;
use crate::measure::TestKind;
use crate::trial::{Motion, Outcome, Quest, Test};

/// Keys of a capacitor that no state of rest knows of: no current flows through it there.
const UNSEEN_AT_REST: [&str; 4] = ["capacitance", "esr", "esl", "count"];
/// Levels that a search for the usable input looks at, about.
const LEVELS_OF_A_SEARCH: usize = 24;

/// Tests by what they have to do with what is tuned, each in the order of the file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Scope {
    /// Run for every candidate.
    pub moved: Vec<usize>,
    /// At rest, where what is tuned has no influence: judged once.
    pub at_rest: Vec<usize>,
    /// Tests that set what is tuned, and what that is.
    pub what_if: Vec<(usize, String)>,
}

impl Scope {
    /// All that are run.
    pub fn run(&self) -> Vec<usize> {
        let mut all: Vec<usize> = self.moved.iter().chain(&self.at_rest).copied().collect();
        all.sort_unstable();
        all
    }
}

/// Sorts the chosen tests; `variant` is the circuit as it stands.
pub fn scope(variant: &Variant, tests: &[Test], chosen: &[usize], tuned: &[Tuned]) -> Scope {
    let mut found = Scope::default();
    let unseen = is_unseen_at_rest(variant, tuned);
    for &index in chosen {
        let Some(test) = tests.get(index) else { continue };
        if let Some(path) = sets_itself(test, tuned) {
            found.what_if.push((index, path));
        } else if unseen && is_at_rest(test) {
            found.at_rest.push(index);
        } else {
            found.moved.push(index);
        }
    }
    found
}

/// What a test sets of what is tuned, or of what follows it.
fn sets_itself(test: &Test, tuned: &[Tuned]) -> Option<String> {
    let is_tuned = |path: &str| {
        tuned.iter().any(|t| {
            t.path == path || t.touches.iter().any(|(part, key)| format!("{part}.{key}") == path)
        })
    };
    test.changes.list.iter().find(|c| is_tuned(&c.path)).map(|c| c.path.clone())
}

fn is_at_rest(test: &Test) -> bool {
    match (&test.kind, &test.motion) {
        (
            TestKind::OperatingPoint
            | TestKind::LoadRegulation
            | TestKind::LineRegulation
            | TestKind::Overload,
            _,
        ) => true,
        (TestKind::Dropout, _) => !is_search(test),
        _ => false,
    }
}

/// Whether a test runs others at many levels.
pub(super) fn is_search(test: &Test) -> bool {
    let Motion::Steady(motion) = &test.motion else { return false };
    matches!(&motion.quest, Quest::Dropout { usable_for, .. } if !usable_for.is_empty())
}

/// Only keys of capacitors that carry no steady current; their number does where they leak.
fn is_unseen_at_rest(variant: &Variant, tuned: &[Tuned]) -> bool {
    tuned.iter().flat_map(|t| &t.touches).all(|(part, key)| {
        let Some(part) = variant.part(part) else { return false };
        let leaks = part.parameters.optional("leakage_resistance").is_some();
        part.kind.name == "capacitor" && UNSEEN_AT_REST.contains(key) && !(*key == "count" && leaks)
    })
}

/// How much work a test is, beside the others.
pub(super) fn work(
    tests: &[Test],
    test: &Test,
    outcome: &Outcome,
    of: &dyn Fn(&Test) -> usize,
) -> usize {
    let work = outcome.work;
    let own = work.factorisations + work.newton_iterations;
    let Motion::Steady(motion) = &test.motion else { return own };
    let Quest::Dropout { usable_for, .. } = &motion.quest else { return own };
    let named = usable_for
        .iter()
        .filter_map(|(name, _)| tests.iter().find(|t| t.name == *name || t.stem == *name));
    own + LEVELS_OF_A_SEARCH * named.map(of).sum::<usize>()
}
