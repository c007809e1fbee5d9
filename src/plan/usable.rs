//! Tests that a dropout test names by `usable_for`: they must be there, must be judged, and must leave
//! the source to it.

use crate::diagnostic::{Diagnostic, Span, nearest};
use crate::trial::{Motion, Mover, Quest, Test};

/// Everything wrong with what `usable_for` names.
pub(super) fn check(tests: &[Test]) -> Vec<Diagnostic> {
    let mut told = Vec::new();
    for test in tests {
        let Motion::Steady(motion) = &test.motion else { continue };
        let Quest::Dropout { usable_for, .. } = &motion.quest else { continue };
        told.extend(usable_for.iter().filter_map(|(name, span)| mistake(tests, test, name, *span)));
    }
    told
}

fn mistake(tests: &[Test], test: &Test, name: &str, span: Span) -> Option<Diagnostic> {
    let Some(named) = tests.iter().find(|t| t.name == name || t.stem == name) else {
        let hint = match nearest(name, tests.iter().map(|t| t.name.as_str())) {
            Some(near) => format!("write `{near}`"),
            None => "write the `name` of another test of this file".to_owned(),
        };
        let mistake = Diagnostic::error(span, format!("there is no test `{name}`"));
        return Some(mistake.label("not a test of this file").hint(hint));
    };
    let (message, label, hint) = match &named.motion {
        Motion::Steady(motion) if matches!(motion.quest, Quest::Dropout { .. }) => (
            format!("`{name}` is a dropout test itself"),
            "looks for its own input",
            "name tests of other kinds, such as load steps",
        ),
        _ if moves_source_of(named, test) => (
            format!("`{name}` moves the source, so it cannot be held at a level"),
            "moves the source",
            "name tests that leave the source alone, such as load steps",
        ),
        _ if named.requirements.is_empty() => (
            format!("`{name}` has no requirements that could be missed"),
            "nothing is asked of it",
            "add a `require` to that test, or name another one",
        ),
        _ => return None,
    };
    Some(Diagnostic::error(span, message).label(label).also(named.span, "the test").hint(hint))
}

/// Whether one test moves the source that another one sets.
fn moves_source_of(named: &Test, test: &Test) -> bool {
    let part = |t: &Test| t.source.as_ref().map(|s| s.part.clone());
    let moves = match &named.motion {
        Motion::Rest | Motion::Short(_) | Motion::Pulses(_) => false,
        Motion::Step(step) => step.mover == Mover::Source,
        Motion::Ramp(ramp) => ramp.by.is_none(),
        Motion::Profile(profile) => profile.source.is_some() || profile.shape.is_some(),
        Motion::Steady(motion) => matches!(motion.quest, Quest::LineRegulation { .. }),
    };
    moves && part(named) == part(test)
}
