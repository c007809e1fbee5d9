//! Reads the keys of an overload test, and looks at its figures once they are known.

use crate::circuit::Variant;
use crate::diagnostic::Diagnostic;
use crate::document::{Node, Reader, wrong_form};
use crate::quantity::{Dimension, Program, trimmed};
use crate::trial::Test;
use crate::trial::steady::keys::Keys;
use crate::trial::steady::motion::{LOWEST_V, OverloadAsk, OverloadLoad};

const POINTS: usize = 61;
/// More loads than this would make no picture that can be read.
const MOST_LOADS: usize = 20;
const LOAD_FORM: &str = "a load such as `{ resistance = \"8 Ω\" }`";
const DIGITS: usize = 4;

/// What loads there are: the key of the level, its unit, and the key of the voltage where it bends.
const SORTS: [(&str, Dimension, Option<&str>); 3] = [
    ("resistance", Dimension::OHM, None),
    ("current", Dimension::AMPERE, Some("fade")),
    ("power", Dimension::WATT, Some("minimum_voltage")),
];

pub(in crate::trial::steady) fn read(
    keys: &mut Keys<'_, '_, '_>,
    reader: &mut Reader<'_, '_>,
) -> Option<OverloadAsk> {
    let (highest, lowest) = (reader.expression("highest"), reader.expression("lowest"));
    let points = keys.count(reader, "points", POINTS);
    let rows = reader.node("loads");
    if let Some(node) = reader.node("short") {
        let message = "an overload test is solved at rest, so nothing is shorted for a time";
        let hint = "make another test of it, with `kind = \"short-circuit\"`";
        keys.wrong(Diagnostic::error(node.span, message).hint(hint));
    }
    let highest = keys.compile(highest, Dimension::VOLT);
    let lowest = keys.compile(lowest, Dimension::VOLT);
    let loads = rows.map_or_else(|| Some(Vec::new()), |node| read_loads(keys, node));
    Some(OverloadAsk { highest, lowest, points: points?, loads: loads? })
}

fn read_loads(keys: &mut Keys<'_, '_, '_>, node: &Node) -> Option<Vec<OverloadLoad>> {
    let rows = node.as_array().unwrap_or_default();
    if rows.is_empty() || rows.len() > MOST_LOADS {
        let message = format!("`loads` must list 1 to {MOST_LOADS} loads");
        let hint = "write `loads = [{ resistance = \"8 Ω\" }, { current = \"0.9 A\" }]`, or leave it \
                    out for the rail's own load";
        keys.wrong(Diagnostic::error(node.span, message).hint(hint));
        return None;
    }
    let found: Vec<Option<OverloadLoad>> = rows.iter().map(|row| read_load(keys, row)).collect();
    found.into_iter().collect()
}

fn read_load(keys: &mut Keys<'_, '_, '_>, row: &Node) -> Option<OverloadLoad> {
    let Some(table) = row.as_table() else {
        keys.wrong(wrong_form("loads", row, LOAD_FORM));
        return None;
    };
    let mut reader = Reader::new(table, "an entry of `loads`", row.span, keys.read.told);
    let given: Vec<_> = SORTS.iter().filter(|(key, ..)| reader.has(key)).collect();
    let [(key, dimension, bend)] = given.as_slice() else {
        let message = "each entry of `loads` has exactly one of: resistance, current, power";
        let hint = "write for example `{ resistance = \"8 Ω\" }`, and further entries beside it";
        drop(reader);
        keys.wrong(Diagnostic::error(row.span, message).hint(hint));
        return None;
    };
    let level = reader.expression(key);
    let bend = bend.and_then(|key| reader.expression(key));
    reader.finish();
    let level = keys.compile(level, *dimension);
    let bend = match bend {
        Some(node) => Some(keys.compile(Some(node), Dimension::VOLT)?),
        None => None,
    };
    Some(OverloadLoad { key, level: level?, bend })
}

/// Everything wrong with the figures of an overload test.
pub(in crate::trial::steady) fn doubtful(
    test: &Test,
    variant: &Variant,
    ask: &OverloadAsk,
) -> Vec<Diagnostic> {
    let mut told = Vec::new();
    let figure = |program: &Program| -> f64 { variant.evaluate(program) };
    let nominal = variant.rail.as_ref().and_then(|r| r.nominal_v);
    let lowest = ask.lowest.as_ref().map_or(LOWEST_V, figure);
    let highest = ask.highest.as_ref().map(figure);
    if !(lowest <= 0.0 && lowest.is_finite()) {
        let message = "`lowest` must be 0 V or below, so that a short is among the outputs";
        let hint =
            "write `lowest = \"-0.3 V\"`, or leave it out; it counts in the sense of nominal";
        told.push(Diagnostic::error(test.place("lowest"), message).hint(hint));
    }
    if let (Some(highest), Some(nominal)) = (highest, nominal)
        && !(highest >= nominal.abs() && highest.is_finite())
    {
        let nominal = trimmed(nominal.abs(), "V", DIGITS);
        let message = format!("`highest` must not lie below the nominal voltage, {nominal}");
        let hint = "leave it out: the output is then forced from a bit above what is regulated";
        told.push(Diagnostic::error(test.place("highest"), message).hint(hint));
    }
    for load in &ask.loads {
        let level = figure(&load.level);
        let bend = load.bend.as_ref().map(figure);
        let whole = level.is_finite() && level > 0.0;
        if !whole || bend.is_some_and(|v| !(v > 0.0 && v.is_finite())) {
            let message =
                format!("every figure of `loads` must be above zero, but `{}` is", load.key);
            let unit = SORTS.iter().find(|s| s.0 == load.key).map_or(Dimension::NONE, |s| s.1);
            let shown = trimmed(
                if whole { bend.unwrap_or(level) } else { level },
                &if whole { Dimension::VOLT } else { unit }.symbol(),
                DIGITS,
            );
            let hint = "leave a load out that draws nothing";
            let mistake = Diagnostic::error(test.place("loads"), format!("{message} {shown}"));
            told.push(mistake.hint(hint));
        }
    }
    told
}
