//! Reads the keys of tests at rest and over frequency.

use super::motion::{Frequencies, PER_DECADE, Quest, SteadyMotion};
use super::overload;
use crate::diagnostic::{Diagnostic, Span};
use crate::document::{Node, Reader, Value, wrong_form};
use crate::measure::TestKind;
use crate::quantity::{Dimension, Program};
use crate::trial::read::Read;
use crate::trial::{Driven, Motion};

/// A list may name this many levels.
const MOST_LEVELS: usize = 1000;
/// A sweep may ask for this many points.
const MOST_POINTS: i64 = 100_000;
/// Keys of every test that only tests in time can heed.
pub const MEANINGLESS: [&str; 4] = ["start", "accuracy", "sample", "transient_window"];
const REGULATION_POINTS: usize = 21;
const DROPOUT_POINTS: usize = 60;

/// The motion of a test of one of the steady kinds.
pub(crate) fn read_steady(
    read: &mut Read<'_, '_>,
    kind: TestKind,
    reader: &mut Reader<'_, '_>,
    (load, source): (Option<&Driven>, Option<&Driven>),
    place: Span,
) -> Option<Motion> {
    let mut keys = Keys { read, load, source, place, whole: true };
    let has = |lists: [TestKind; 2]| lists.contains(&kind);
    let takes_loads = !has([TestKind::LoadRegulation, TestKind::Overload]);
    let load_levels = takes_loads.then(|| reader.node("load_levels")).flatten();
    let moves_source = has([TestKind::LineRegulation, TestKind::Dropout]);
    let source_levels = (!moves_source).then(|| reader.node("source_levels")).flatten();
    let ambients = reader.node("ambients");
    for (list, one) in
        [("load_levels", "load_level"), ("source_levels", "source_level"), ("ambients", "ambient")]
    {
        keys.not_both(reader, list, one);
    }
    for key in MEANINGLESS {
        keys.refuse(reader, kind, key);
    }
    let quest = keys.quest(kind, reader);
    let load_levels = keys.levels(load_levels, "load_levels", load);
    let source_levels = keys.levels(source_levels, "source_levels", source);
    let ambients = keys.list(ambients, "ambients", Dimension::KELVIN);
    let quest = quest.filter(|_| keys.whole)?;
    Some(Motion::Steady(Box::new(SteadyMotion { load_levels, source_levels, ambients, quest })))
}

pub(super) struct Keys<'a, 'b, 'c> {
    pub(super) read: &'a mut Read<'b, 'c>,
    pub(super) load: Option<&'a Driven>,
    source: Option<&'a Driven>,
    pub(super) place: Span,
    /// Whether nothing was wrong so far.
    whole: bool,
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

    fn not_both(&mut self, reader: &mut Reader<'_, '_>, list: &'static str, one: &str) {
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
    fn refuse(&mut self, reader: &mut Reader<'_, '_>, kind: TestKind, key: &'static str) {
        if let Some(node) = reader.node(key) {
            let message = format!("`{key}` means nothing in a test of kind `{}`", kind.word());
            let mistake = Diagnostic::error(node.span, message);
            self.wrong(mistake.hint("leave it out: nothing moves in time there"));
        }
    }

    fn levels(&mut self, node: Option<&Node>, key: &str, driven: Option<&Driven>) -> Vec<Program> {
        let Some(node) = node else { return Vec::new() };
        let Some(driven) = driven else {
            let message = format!("`{key}` sets a part that is not named");
            let hint = "name it in `[rail]` or in this test";
            self.wrong(Diagnostic::error(node.span, message).hint(hint));
            return Vec::new();
        };
        self.list(Some(node), key, driven.dimension)
    }

    fn list(&mut self, node: Option<&Node>, key: &str, wanted: Dimension) -> Vec<Program> {
        let Some(node) = node else { return Vec::new() };
        let levels = node.as_array().unwrap_or_default();
        if levels.is_empty() || levels.len() > MOST_LEVELS {
            let message = format!("`{key}` must list 1 to {MOST_LEVELS} levels");
            let hint = format!("write `{key} = [\"…\", \"…\"]`, or leave it out");
            self.wrong(Diagnostic::error(node.span, message).hint(hint));
        }
        levels.iter().filter_map(|level| self.compile(Some(level), wanted)).collect()
    }

    fn quest(&mut self, kind: TestKind, reader: &mut Reader<'_, '_>) -> Option<Quest> {
        Some(match kind {
            TestKind::LoadRegulation => {
                let ends = self.ends(reader, self.load, "load");
                let points = self.count(reader, "points", REGULATION_POINTS);
                let hold_pin = self.word(reader, "hold", ["pin", "source"])? == "pin";
                let ((from, to), points) = (ends?, points?);
                Quest::LoadRegulation { from, to, points, hold_pin }
            }
            TestKind::LineRegulation => {
                let ends = self.ends(reader, self.source, "source");
                let points = self.count(reader, "points", REGULATION_POINTS)?;
                let (from, to) = ends?;
                Quest::LineRegulation { from, to, points }
            }
            TestKind::Dropout => self.dropout(reader)?,
            TestKind::Overload => Quest::Overload(overload::read(self, reader)?),
            TestKind::LoopGain => {
                let frequencies = self.frequencies(reader);
                let nyquist = reader.boolean("nyquist").unwrap_or(false);
                let frequencies = frequencies?;
                Quest::LoopGain { frequencies, nyquist }
            }
            TestKind::OutputImpedance => {
                let frequencies = self.frequencies(reader);
                let include_load = reader.boolean("include_load").unwrap_or(false);
                let mask = self.mask(reader);
                let frequencies = frequencies?;
                Quest::OutputImpedance { frequencies, mask, include_load }
            }
            TestKind::RippleRejection => {
                let frequencies = self.frequencies(reader);
                let from_source = self.word(reader, "input_network", ["out", "in"])? == "in";
                let frequencies = frequencies?;
                Quest::RippleRejection { frequencies, from_source }
            }
            TestKind::Noise => {
                let band = reader.array("band");
                let frequencies = self.frequencies(reader)?;
                let band = match band {
                    Some(nodes) => Some(self.pair(nodes, "band", Dimension::HERTZ)?),
                    None => None,
                };
                Quest::Noise { frequencies, band }
            }
            TestKind::OperatingPoint
            | TestKind::LoadStep
            | TestKind::LineStep
            | TestKind::Profile
            | TestKind::StartUp
            | TestKind::PowerDown
            | TestKind::ShortCircuit
            | TestKind::PulseTrain => return None,
        })
    }

    fn dropout(&mut self, reader: &mut Reader<'_, '_>) -> Option<Quest> {
        let (from, to) = (reader.expression("from"), reader.expression("to"));
        let reference_headroom = reader.expression("reference_headroom");
        let usable_for = reader.names("usable_for").unwrap_or_default();
        let points = self.count(reader, "points", DROPOUT_POINTS)?;
        if self.source.is_none() {
            self.nothing_to_drive("dropout", "source");
            return None;
        }
        let from = self.compile(from, Dimension::VOLT);
        let to = self.compile(to, Dimension::VOLT);
        let reference_headroom = self.compile(reference_headroom, Dimension::VOLT);
        let usable_for = usable_for.into_iter().map(|word| (word.text, word.span)).collect();
        Some(Quest::Dropout { from, to, points, reference_headroom, usable_for })
    }

    fn ends(
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

    fn nothing_to_drive(&mut self, kind: &str, key: &str) {
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
    fn word(
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

    fn frequencies(&mut self, reader: &mut Reader<'_, '_>) -> Option<Frequencies> {
        let (lowest, highest) = (reader.expression("lowest"), reader.expression("highest"));
        let per_decade = self.count(reader, "per_decade", PER_DECADE)?;
        let lowest = self.compile(lowest, Dimension::HERTZ);
        let highest = self.compile(highest, Dimension::HERTZ);
        Some(Frequencies { lowest, highest, per_decade })
    }

    fn pair(&mut self, nodes: &[Node], key: &str, wanted: Dimension) -> Option<[Program; 2]> {
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

    fn mask(&mut self, reader: &mut Reader<'_, '_>) -> Vec<(Program, Program)> {
        let Some(rows) = reader.array("mask") else { return Vec::new() };
        let mut mask = Vec::with_capacity(rows.len());
        for row in rows {
            let Some([frequency, impedance]) = row.as_array() else {
                self.wrong(wrong_form("mask", row, "a pair such as `[\"10 kHz\", \"50 mΩ\"]`"));
                continue;
            };
            let frequency = self.compile(Some(frequency), Dimension::HERTZ);
            let impedance = self.compile(Some(impedance), Dimension::OHM);
            mask.extend(frequency.zip(impedance));
        }
        mask
    }
}
