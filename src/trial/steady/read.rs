//! Reads the keys of tests at rest and over frequency.

use super::keys::Keys;
use super::motion::{Quest, SteadyMotion};
use super::overload;
use crate::diagnostic::Span;
use crate::document::{Reader, wrong_form};
use crate::measure::TestKind;
use crate::quantity::{Dimension, Program};
use crate::trial::reading::Read;
use crate::trial::{Driven, Motion};

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

impl Keys<'_, '_, '_> {
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
