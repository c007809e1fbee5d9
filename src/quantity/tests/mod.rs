//! Checks of the quantity layer.

mod clashes;
mod literals;
mod messages;
mod numbers;
mod programs;

use super::{Dimension, Names, NoNames, Program, Tree, parse};
use crate::diagnostic::{Diagnostic, FileId, Span};

/// Names with their dimensions, slots in this order.
struct Scope(Vec<(&'static str, Dimension)>);

impl Names for Scope {
    fn find(&self, name: &str) -> Option<(usize, Dimension)> {
        let slot = self.0.iter().position(|(known, _)| *known == name)?;
        Some((slot, self.0[slot].1))
    }

    fn all(&self) -> Vec<String> {
        self.0.iter().map(|(name, _)| (*name).to_owned()).collect()
    }
}

/// What the expressions of these checks may use.
fn scope() -> Scope {
    Scope(vec![
        ("v_in", Dimension::VOLT),
        ("v_out", Dimension::VOLT),
        ("i_out", Dimension::AMPERE),
        ("r_top", Dimension::OHM),
        ("r_bottom", Dimension::OHM),
        ("rail.nominal", Dimension::VOLT),
        ("rail.ambient", Dimension::KELVIN),
        ("gain", Dimension::NONE),
        ("t", Dimension::SECOND),
    ])
}

/// The place of a text that begins at byte 100 of its file.
fn place(text: &str) -> Span {
    Span { file: FileId(3), start: 100, end: 100 + text.len() }
}

#[track_caller]
fn parsed(text: &str, span: Span) -> Tree {
    parse(text, span).unwrap_or_else(|found| panic!("{text}: {found:?}"))
}

#[track_caller]
fn compiled(text: &str) -> Program {
    let result = parsed(text, place(text)).compile(&scope());
    result.unwrap_or_else(|found| panic!("{text}: {found:?}"))
}

/// The mistakes found in `text`, in a place that wants `wanted`.
#[track_caller]
fn mistakes(text: &str, wanted: Option<Dimension>) -> Vec<Diagnostic> {
    let tree = match parse(text, place(text)) {
        Ok(tree) => tree,
        Err(found) => return vec![found],
    };
    let result = match wanted {
        Some(wanted) => tree.compile_as(&scope(), wanted),
        None => tree.compile(&scope()),
    };
    match result {
        Ok(program) => panic!("{text}: accepted as {program:?}"),
        Err(found) => found,
    }
}

/// The constant `text` stands for, in a place that wants `wanted`.
#[track_caller]
fn value_as(text: &str, wanted: Dimension) -> f64 {
    let result = parsed(text, place(text)).compile_as(&NoNames, wanted);
    result.unwrap_or_else(|found| panic!("{text}: {found:?}")).evaluate::<f64>(&[])
}
