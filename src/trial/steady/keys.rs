//! Keys of a test at rest or over frequency as they are read: each mistake told, and whether there was
//! any.

use super::motion::{Frequencies, PER_DECADE};
use crate::diagnostic::{Diagnostic, Span};
use crate::document::{Node, Reader, Value, wrong_form};
use crate::measure::TestKind;
use crate::quantity::{Dimension, Program};
use crate::trial::Driven;
use crate::trial::reading::Read;

/// A list may name this many levels.
const MOST_LEVELS: usize = 1000;
/// A sweep may ask for this many points.
const MOST_POINTS: i64 = 100_000;

pub(super) struct Keys<'a, 'b, 'c> {
    pub(super) read: &'a mut Read<'b, 'c>,
    pub(super) load: Option<&'a Driven>,
    pub(super) source: Option<&'a Driven>,
    pub(super) place: Span,
    /// Whether nothing was wrong so far.
    pub(super) whole: bool,
}

impl Keys<'_, '_, '_> {
    pub(super) fn wrong(&mut self, mistake: Diagnostic) {
        self.whole = false;
        self.read.told.push(mistake);
    }

    pub(super) fn compile(&mut self, node: Option<&Node>, wanted: Dimension) -> Option<Program> {
        let program = self.read.compile(node?, wanted);
        self.whole &= program.is_some();
        program
    }

    pub(super) fn not_both(&mut self, reader: &mut Reader<'_, '_>, list: &'static str, one: &str) {
        if !reader.has(one) || !reader.has(list) {
            return;
        }
        if let Some(node) = reader.node(list) {
            let message = format!("`{one}` and `{list}` say the same thing twice");
            let hint = format!("keep `{list}`, or `{one}` alone");
            self.wrong(Diagnostic::error(node.span, message).hint(hint));
        }
    }

    /// A key of tests in time, which would be passed over in silence.
    pub(super) fn refuse(
        &mut self,
        reader: &mut Reader<'_, '_>,
        kind: TestKind,
        key: &'static str,
    ) {
        if let Some(node) = reader.node(key) {
            let message = format!("`{key}` means nothing in a test of kind `{}`", kind.word());
            let mistake = Diagnostic::error(node.span, message);
            self.wrong(mistake.hint("leave it out: nothing moves in time there"));
        }
    }

    pub(super) fn levels(
        &mut self,
        node: Option<&Node>,
        key: &str,
        driven: Option<&Driven>,
    ) -> Vec<Program> {
        let Some(node) = node else { return Vec::new() };
        let Some(driven) = driven else {
            let message = format!("`{key}` sets a part that is not named");
            let hint = "name it in `[rail]` or in this test";
            self.wrong(Diagnostic::error(node.span, message).hint(hint));
            return Vec::new();
        };
        self.list(Some(node), key, driven.dimension)
    }

    pub(super) fn list(
        &mut self,
        node: Option<&Node>,
        key: &str,
        wanted: Dimension,
    ) -> Vec<Program> {
        let Some(node) = node else { return Vec::new() };
        let levels = node.as_array().unwrap_or_default();
        if levels.is_empty() || levels.len() > MOST_LEVELS {
            let message = format!("`{key}` must list 1 to {MOST_LEVELS} levels");
            let hint = format!("write `{key} = [\"…\", \"…\"]`, or leave it out");
            self.wrong(Diagnostic::error(node.span, message).hint(hint));
        }
        levels.iter().filter_map(|level| self.compile(Some(level), wanted)).collect()
    }

    pub(super) fn ends(
        &mut self,
        reader: &mut Reader<'_, '_>,
        driven: Option<&Driven>,
        key: &str,
    ) -> Option<(Program, Program)> {
        let example = if key == "load" { "\"1 mA\"" } else { "\"3.3 V\"" };
        let (from, to) = (reader.required("from", example), reader.required("to", example));
        let Some(driven) = driven else {
            self.nothing_to_drive(
                if key == "load" { "load-regulation" } else { "line-regulation" },
                key,
            );
            return None;
        };
        let (from, to) = (self.compile(from, driven.dimension), self.compile(to, driven.dimension));
        from.zip(to)
    }

    pub(super) fn nothing_to_drive(&mut self, kind: &str, key: &str) {
        let rail = self.read.circuit.rail.as_ref();
        let named = rail.is_some_and(|r| match key {
            "load" => r.load.is_some(),
            _ => r.source.is_some(),
        });
        // A part that is named but cannot be driven has been told where it is named.
        self.whole = false;
        if !named {
            let message = format!("a test of kind `{kind}` needs to know what to drive");
            let hint = format!("add `{key} = \"PART\"` to `[rail]` or to this test");
            self.wrong(Diagnostic::error(self.place, message).hint(hint));
        }
    }

    pub(super) fn count(
        &mut self,
        reader: &mut Reader<'_, '_>,
        key: &'static str,
        default: usize,
    ) -> Option<usize> {
        let Some(node) = reader.node(key) else { return Some(default) };
        match node.value {
            Value::Integer(count) if (2..=MOST_POINTS).contains(&count) => Some(count as usize),
            _ => {
                self.wrong(wrong_form(key, node, &format!("a count from 2 to {MOST_POINTS}")));
                None
            }
        }
    }

    /// One of two words, the first when left out.
    pub(super) fn word(
        &mut self,
        reader: &mut Reader<'_, '_>,
        key: &'static str,
        words: [&'static str; 2],
    ) -> Option<&'static str> {
        let Some(word) = reader.text(key) else { return Some(words[0]) };
        let found = words.into_iter().find(|w| *w == word.text);
        if found.is_none() {
            let message = format!("`{key}` cannot be `{}`", word.text);
            let hint = format!("write `{}` or `{}`", words[0], words[1]);
            self.wrong(Diagnostic::error(word.span, message).hint(hint));
        }
        found
    }

    pub(super) fn frequencies(&mut self, reader: &mut Reader<'_, '_>) -> Option<Frequencies> {
        let (lowest, highest) = (reader.expression("lowest"), reader.expression("highest"));
        let per_decade = self.count(reader, "per_decade", PER_DECADE)?;
        let lowest = self.compile(lowest, Dimension::HERTZ);
        let highest = self.compile(highest, Dimension::HERTZ);
        Some(Frequencies { lowest, highest, per_decade })
    }

    pub(super) fn pair(
        &mut self,
        nodes: &[Node],
        key: &str,
        wanted: Dimension,
    ) -> Option<[Program; 2]> {
        let [low, high] = nodes else {
            let message = format!("`{key}` must be two figures");
            let place = nodes.first().map_or(self.place, |n| n.span);
            let hint = format!("write `{key} = [\"10 Hz\", \"100 kHz\"]`");
            self.wrong(Diagnostic::error(place, message).hint(hint));
            return None;
        };
        let (low, high) = (self.compile(Some(low), wanted), self.compile(Some(high), wanted));
        low.zip(high).map(|(low, high)| [low, high])
    }
}
