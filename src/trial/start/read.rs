//! Reads what a test that switches a rail moves.

use super::RampMotion;
use crate::diagnostic::{Diagnostic, Span, nearest};
use crate::document::{Reader, Word};
use crate::measure::TestKind;
use crate::quantity::Dimension;
use crate::trial::reading::Read;
use crate::trial::{Driven, Motion};

/// What `by` says where the source itself is meant.
const SOURCE: &str = "source";

pub(in crate::trial) fn read_switching(
    read: &mut Read<'_, '_>,
    kind: TestKind,
    reader: &mut Reader<'_, '_>,
    source: Option<&Driven>,
    place: Span,
) -> Option<Motion> {
    let ramp = reader.required("ramp", "\"1 ms\"");
    let hold = reader.required("hold", "\"20 ms\"");
    let (from, to) = (reader.expression("from"), reader.expression("to"));
    let before = reader.expression("before");
    let by = reader.text("by").filter(|word| word.text != SOURCE);
    let by = match &by {
        Some(word) => Some(enabling(read, word)?),
        None => {
            source.or_else(|| told_missing(read, kind, reader.has("source"), place))?;
            None
        }
    };
    let by = by.filter(|by| source.is_none_or(|source| source.part != by.part));
    let mut level =
        |node: Option<&crate::document::Node>| node.and_then(|n| read.compile(n, Dimension::VOLT));
    let (from, to) = (level(from), level(to));
    let mut time = |node: Option<&crate::document::Node>| {
        node.and_then(|n| read.compile(n, Dimension::SECOND))
    };
    let (before_s, ramp_s, hold_s) = (time(before), time(ramp), time(hold));
    // A level that could not be read has been told, so that the test is not run.
    Some(Motion::Ramp(Box::new(RampMotion {
        by,
        up: kind == TestKind::StartUp,
        from,
        to,
        before_s,
        ramp_s: ramp_s?,
        hold_s: hold_s?,
    })))
}

/// The voltage source that enables the rail.
fn enabling(read: &mut Read<'_, '_>, word: &Word) -> Option<Driven> {
    let part = word.text.clone();
    if let Some((_, Dimension::VOLT)) = read.circuit.driven(&part) {
        return Some(Driven { part, dimension: Dimension::VOLT });
    }
    if !read.circuit.is_unread(&part) {
        let message = format!("`{part}` is not a voltage-source of this circuit");
        let near = nearest(&part, read.circuit.part_names()).filter(|n| *n != part);
        let hint = near.map_or_else(
            || "name the voltage source that enables the rail, or leave `by` out".to_owned(),
            |near| format!("write `{near}`"),
        );
        read.told.push(Diagnostic::error(word.span, message).hint(hint));
    }
    None
}

/// Tells that nothing is named to move, unless a wrong name has been told already.
fn told_missing(
    read: &mut Read<'_, '_>,
    kind: TestKind,
    own: bool,
    place: Span,
) -> Option<&'static Driven> {
    let known_wrong = read.circuit.rail.as_ref().is_some_and(|r| r.source.is_some());
    if !known_wrong && !own {
        let message = format!("a test of kind `{}` needs to know what to drive", kind.word());
        let hint = "add `source = \"PART\"` to `[rail]` or to this test, or name it in `by`";
        read.told.push(Diagnostic::error(place, message).hint(hint));
    }
    None
}
