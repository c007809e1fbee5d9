//! Reads `[[tests]]`: every mistake told, every key checked against the table of kinds.

use super::kind_row::TestKindRow;
use super::kinds::{TEST_KINDS, test_kind_row};
use super::profile::read_profile;
use super::pulses::read_pulses;
use super::reading::Read;
use super::require::read_requirements;
use super::short::read_short;
use super::start::read_switching;
use super::steady::read_steady;
use super::{Driven, Motion, Mover, Sample, StepMotion, Test, WindowChoice};
use crate::analysis::Start;
use crate::circuit::{Change, Changes, Circuit};
use crate::diagnostic::{Diagnostic, Diagnostics, Span, nearest};
use crate::document::{Files, Node, Reader, Table, Value, Word, wrong_form};
use crate::measure::TestKind;
use crate::quantity::{Dimension, Program};
use std::collections::BTreeMap;

/// The most tests of a file: each is worked out over the whole circuit before any is run.
const MOST_TESTS: usize = 1000;
/// A test may go there and back this many times.
const MOST_REPEATS: i64 = 100_000;
/// Extra rows a test may ask for.
const MOST_SAMPLES: i64 = 10_000_000;

/// Reads all tests of a circuit; what is wrong is recorded, what is right is returned.
pub fn read_tests(
    circuit: &Circuit,
    files: &dyn Files,
    diagnostics: &mut Diagnostics,
) -> Vec<Test> {
    let mut tests: Vec<Test> = Vec::new();
    let mut stems: BTreeMap<String, Span> = BTreeMap::new();
    for node in &circuit.tests {
        if tests.len() >= MOST_TESTS {
            let message = format!("the file has more than {MOST_TESTS} tests");
            diagnostics.push(Diagnostic::error(node.span, message).hint("split the file"));
            break;
        }
        if diagnostics.is_full() {
            break;
        }
        let Some(table) = node.as_table() else {
            diagnostics.push(wrong_form("tests", node, "a table headed `[[tests]]`"));
            continue;
        };
        let Some(test) = read_test(circuit, files, table, node.span, diagnostics) else { continue };
        if let Some(&first) = stems.get(&test.stem) {
            let message = format!("two tests would write `{}.csv`", test.stem);
            let mistake = Diagnostic::error(test.span, message)
                .label("same file name as another test")
                .also(first, "the other test")
                .hint("give this test another name");
            diagnostics.push(mistake);
        } else {
            stems.insert(test.stem.clone(), test.span);
        }
        tests.push(test);
    }
    tests
}

/// A name as a file stem: lower case, every run of other than a-z and 0-9 one `-`.
pub fn stem(name: &str) -> String {
    let mut stem = String::new();
    for c in name.to_lowercase().chars() {
        if c.is_ascii_lowercase() || c.is_ascii_digit() {
            stem.push(c);
        } else if !stem.ends_with('-') {
            stem.push('-');
        }
    }
    stem.trim_matches('-').to_owned()
}

fn read_test(
    circuit: &Circuit,
    files: &dyn Files,
    table: &Table,
    place: Span,
    diagnostics: &mut Diagnostics,
) -> Option<Test> {
    let before = diagnostics.len();
    let mut later = Diagnostics::new();
    let named = table.get("name").and_then(Node::as_text).unwrap_or("").to_owned();
    let what = if named.is_empty() { "this test".to_owned() } else { format!("test `{named}`") };
    let mut reader = Reader::new(table, what, place, diagnostics);
    let name = reader.required_text("name", "\"burst\"");
    let row = read_kind(&mut reader);

    let changes = read_changes(circuit, &mut reader);
    let load = reader.text("load");
    let source = reader.text("source");
    let load_level = reader.expression("load_level");
    let source_level = reader.expression("source_level");
    let start = reader.text("start");
    let accuracy = reader.expression("accuracy");
    let sample = reader.node("sample");
    let window = reader.node("window");
    let transient_window = reader.node("transient_window");
    let require = reader.table("require");

    let mut read = Read { circuit, told: &mut later };
    let load = read.driven(load.as_ref(), Mover::Load);
    let source = read.driven(source.as_ref(), Mover::Source);
    let driven = (load.as_ref(), source.as_ref());
    let motion = row.and_then(|row| read.motion(row.kind, &mut reader, files, driven, place));
    let rail = circuit.rail.as_ref();
    let load_named = reader.has("load") || rail.is_some_and(|r| r.load.is_some());
    let source_named = reader.has("source") || rail.is_some_and(|r| r.source.is_some());
    let load_level =
        load_level.and_then(|n| read.level(n, "load_level", load.as_ref(), load_named));
    let source_level =
        source_level.and_then(|n| read.level(n, "source_level", source.as_ref(), source_named));
    let accuracy_v = accuracy.and_then(|n| read.compile(n, Dimension::VOLT));
    let start = read.start(start.as_ref());
    let sample = sample.and_then(|n| read.sample(n));
    let window = window.map_or(WindowChoice::Rail, |n| read.window("window", n));
    let transient_window =
        transient_window.map_or(WindowChoice::Rail, |n| read.window("transient_window", n));
    if row.is_some() {
        reader.finish();
    } else {
        // Which keys belong here is not known, so none is called unknown.
        drop(reader);
    }
    let requirements = match (require, row) {
        (Some(table), Some(row)) => read_requirements(circuit, table, row.kind, &mut later),
        _ => Vec::new(),
    };
    diagnostics.append(later);
    if diagnostics.len() > before {
        return None;
    }
    let name = name?;
    Some(Test {
        stem: checked_stem(&name, diagnostics)?,
        name: name.text,
        span: name.span,
        kind: row?.kind,
        changes,
        load,
        source,
        load_level,
        source_level,
        start,
        accuracy_v,
        sample,
        window,
        transient_window,
        motion: motion?,
        requirements,
        keys: table.entries.iter().map(|(key, node)| (key.text.clone(), node.span)).collect(),
    })
}

fn checked_stem(name: &Word, diagnostics: &mut Diagnostics) -> Option<String> {
    let stem = stem(&name.text);
    if stem.is_empty() || stem.len() > 200 {
        let message = format!("`{}` makes no file name", name.text);
        let hint = "use some letters or digits, at most 200";
        diagnostics.push(Diagnostic::error(name.span, message).hint(hint));
        return None;
    }
    Some(stem)
}

fn read_kind(reader: &mut Reader<'_, '_>) -> Option<&'static TestKindRow> {
    let word = reader.required_text("kind", "\"load-step\"")?;
    let row = test_kind_row(&word.text);
    if row.is_none() {
        let known: Vec<&str> = TEST_KINDS.iter().map(|r| r.kind.word()).collect();
        let hint = match nearest(&word.text, known.iter().copied()) {
            Some(near) => format!("write `{near}`"),
            None => format!("known kinds: {}", known.join(", ")),
        };
        let message = format!("there is no test kind `{}`", word.text);
        let mistake = Diagnostic::error(word.span, message).label("unknown test kind").hint(hint);
        reader.diagnostics().push(mistake);
    }
    row
}

fn read_changes(circuit: &Circuit, reader: &mut Reader<'_, '_>) -> Changes {
    let mut changes = Changes::default();
    if let Some(table) = reader.table("values") {
        add_changes(circuit, "", table, &mut changes, reader.diagnostics());
    }
    if let Some(node) = reader.expression("ambient") {
        let change = change("rail.ambient", node);
        reader.diagnostics().extend(circuit.check_change(&change, node.span));
        changes.list.push(change);
    }
    changes
}

/// Paths with dots may be written as such (`Q1.threshold = …`), which TOML reads as tables.
fn add_changes(
    circuit: &Circuit,
    before: &str,
    table: &Table,
    changes: &mut Changes,
    told: &mut Diagnostics,
) {
    for (key, node) in &table.entries {
        let path = format!("{before}{}", key.text);
        if let Some(table) = node.as_table() {
            add_changes(circuit, &format!("{path}."), table, changes, told);
        } else if node.as_text().is_some() || node.as_number().is_some() {
            let change = change(&path, node);
            told.extend(circuit.check_change(&change, key.span));
            changes.list.push(change);
        } else {
            told.push(wrong_form(&key.text, node, "a quantity in quotes"));
        }
    }
}

fn change(path: &str, node: &Node) -> Change {
    let text = match &node.value {
        Value::Text(text) => text.clone(),
        _ => node.as_number().map_or_else(String::new, |x| format!("{x}")),
    };
    Change { path: path.to_owned(), text, span: Some(node.content_span()) }
}

impl Read<'_, '_> {
    /// The part a test drives: its own choice, else the rail's.
    fn driven(&mut self, own: Option<&Word>, mover: Mover) -> Option<Driven> {
        let rail = self.circuit.rail.as_ref();
        let word = own.or_else(|| match mover {
            Mover::Load => rail.and_then(|r| r.load.as_ref()),
            Mover::Source => rail.and_then(|r| r.source.as_ref()),
        })?;
        let part = word.text.clone();
        let found = self.circuit.driven(&part).filter(|(_, dimension)| match mover {
            Mover::Load => *dimension != Dimension::VOLT,
            Mover::Source => *dimension == Dimension::VOLT,
        });
        let Some((_, dimension)) = found else {
            // A wrong part named by `[rail]` has been told where it stands, and so has a part that
            // could not be read.
            if let Some(word) = own.filter(|_| !self.circuit.is_unread(&part)) {
                let wanted = match mover {
                    Mover::Load => "a load or current-source",
                    Mover::Source => "a voltage-source",
                };
                let near = nearest(&part, self.circuit.part_names());
                let hint = near
                    .filter(|n| *n != part)
                    .map_or_else(|| format!("name {wanted}"), |near| format!("write `{near}`"));
                let message = format!("`{part}` is not {wanted} of this circuit");
                self.told.push(Diagnostic::error(word.span, message).hint(hint));
            }
            return None;
        };
        Some(Driven { part, dimension })
    }

    fn level(
        &mut self,
        node: &Node,
        key: &str,
        driven: Option<&Driven>,
        named: bool,
    ) -> Option<Program> {
        let Some(driven) = driven else {
            if named {
                // That the part named cannot be driven has been told.
                return None;
            }
            let message = format!("`{key}` sets a part that is not named");
            let hint = "name it in `[rail]` or in this test";
            self.told.push(Diagnostic::error(node.span, message).hint(hint));
            return None;
        };
        self.compile(node, driven.dimension)
    }

    fn start(&mut self, word: Option<&Word>) -> Start {
        match word.map(|w| (w.text.as_str(), w.span)) {
            None | Some(("operating-point", _)) => Start::OperatingPoint,
            Some(("initial-values", _)) => Start::InitialValues,
            Some((other, span)) => {
                let message = format!("a test cannot start from `{other}`");
                let hint = "write `operating-point` or `initial-values`";
                self.told.push(Diagnostic::error(span, message).hint(hint));
                Start::OperatingPoint
            }
        }
    }

    fn sample(&mut self, node: &Node) -> Option<Sample> {
        match node.value {
            Value::Integer(count) if (1..=MOST_SAMPLES).contains(&count) => {
                Some(Sample::Count(count as usize))
            }
            Value::Text(_) => self.compile(node, Dimension::SECOND).map(Sample::Every),
            _ => {
                let wanted = "a number of rows such as `2000`, or a spacing such as `\"1 µs\"`";
                self.told.push(wrong_form("sample", node, wanted));
                None
            }
        }
    }

    fn window(&mut self, key: &str, node: &Node) -> WindowChoice {
        if node.as_text() == Some("none") {
            return WindowChoice::Off;
        }
        match self.circuit.compile_window(key, node) {
            Ok(window) => WindowChoice::Own(window),
            Err(mistakes) => {
                self.record(mistakes);
                WindowChoice::Rail
            }
        }
    }

    fn motion(
        &mut self,
        kind: TestKind,
        reader: &mut Reader<'_, '_>,
        files: &dyn Files,
        (load, source): (Option<&Driven>, Option<&Driven>),
        place: Span,
    ) -> Option<Motion> {
        match kind {
            TestKind::OperatingPoint => Some(Motion::Rest),
            TestKind::LoadStep => self.step(reader, Mover::Load, load, place),
            TestKind::LineStep => self.step(reader, Mover::Source, source, place),
            TestKind::Profile => read_profile(self, reader, files, (load, source), place),
            TestKind::StartUp | TestKind::PowerDown => {
                read_switching(self, kind, reader, source, place)
            }
            TestKind::ShortCircuit => read_short(self, reader, place),
            TestKind::PulseTrain => read_pulses(self, reader, load, place),
            TestKind::LoadRegulation
            | TestKind::LineRegulation
            | TestKind::Dropout
            | TestKind::LoopGain
            | TestKind::OutputImpedance
            | TestKind::RippleRejection
            | TestKind::Noise
            | TestKind::Overload => read_steady(self, kind, reader, (load, source), place),
        }
    }

    fn step(
        &mut self,
        reader: &mut Reader<'_, '_>,
        mover: Mover,
        driven: Option<&Driven>,
        place: Span,
    ) -> Option<Motion> {
        let from = reader.required("from", "\"2 mA\"");
        let to = reader.required("to", "\"180 mA\"");
        let edge = reader.required("edge", "\"100 ns\"");
        let hold = reader.required("hold", "\"600 µs\"");
        let before = reader.expression("before");
        let edge_back = reader.expression("edge_back");
        let settle = reader.expression("settle");
        let repeat = reader.node("repeat");
        let Some(driven) = driven else {
            let (kind, key) = match mover {
                Mover::Load => ("load-step", "load"),
                Mover::Source => ("line-step", "source"),
            };
            let message = format!("a test of kind `{kind}` needs to know what to drive");
            let hint = format!("add `{key} = \"PART\"` to `[rail]` or to this test");
            let known_wrong = self.circuit.rail.as_ref().is_some_and(|r| match mover {
                Mover::Load => r.load.is_some(),
                Mover::Source => r.source.is_some(),
            });
            if !known_wrong && !reader.has(key) {
                self.told.push(Diagnostic::error(place, message).hint(hint));
            }
            return None;
        };
        let mut level = |node: Option<&Node>| node.and_then(|n| self.compile(n, driven.dimension));
        let (from, to) = (level(from), level(to));
        let mut time = |node: Option<&Node>| node.and_then(|n| self.compile(n, Dimension::SECOND));
        let (edge_s, hold_s) = (time(edge), time(hold));
        let (before_s, edge_back_s, settle_s) = (time(before), time(edge_back), time(settle));
        let repeat = self.repeat(repeat)?;
        Some(Motion::Step(Box::new(StepMotion {
            mover,
            from: from?,
            to: to?,
            before_s,
            edge_s: edge_s?,
            edge_back_s,
            hold_s: hold_s?,
            settle_s,
            repeat,
        })))
    }

    fn repeat(&mut self, node: Option<&Node>) -> Option<usize> {
        match node.map(|n| (&n.value, n)) {
            None => Some(1),
            Some((Value::Integer(count), _)) if (1..=MOST_REPEATS).contains(count) => {
                Some(*count as usize)
            }
            Some((_, node)) => {
                let wanted = format!("a count from 1 to {MOST_REPEATS}");
                self.told.push(wrong_form("repeat", node, &wanted));
                None
            }
        }
    }
}
