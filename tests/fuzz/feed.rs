//! What the fuzzer's bytes are given to, the same for a fuzzer and for the replay of what it found:
//! each reader of text from outside. Whatever is read must end in a value or in a diagnostic whose
//! places lie in the text.

use railstep::circuit::{Changes, read_columns};
use railstep::diagnostic::{Diagnostic, FileId, Severity, Sources, Span};
use railstep::document::{Files, Word};
use railstep::numeric::Dual;
use railstep::output::{diagnostics, understood};
use railstep::plan;
use railstep::quantity::{Dimension, Names, engineering, parse};
use railstep::study::compare::{Columns, read_trace};
use std::collections::BTreeMap;

/// Between the files of one input: what follows on the line is the name of the next.
const NEXT_FILE: &str = "\n=== ";
/// A file of this ending is always there, and includes another of it.
const ENDLESS: &str = ".endless";

/// A folder that holds what the input says, and a chain of includes without end.
struct Hostile<'a>(BTreeMap<&'a str, &'a str>);

impl Files for Hostile<'_> {
    fn read(&self, path: &str) -> Result<String, String> {
        assert!(!path.starts_with('/') && path.split('/').all(|step| step != ".."), "{path}");
        if path.ends_with(ENDLESS) {
            return Ok(format!("include = [\"x{path}\", \"y{path}\"]\n"));
        }
        let found = self.0.get(path).ok_or("there is no such file")?;
        Ok((*found).to_owned())
    }
}

/// A circuit file with what it includes.
pub(crate) fn circuit(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let mut pieces = text.split(NEXT_FILE);
    let root = pieces.next().unwrap_or_default();
    let files = pieces.filter_map(|piece| piece.split_once('\n'));
    let reading = plan::read("root.toml", root, &Hostile(files.collect()), &Changes::default());
    well_told(&reading.diagnostics, &reading.sources);
    let is_error = |d: &Diagnostic| d.severity == Severity::Error;
    assert_eq!(reading.plan.is_none(), reading.diagnostics.iter().any(is_error));
    if let Some(plan) = &reading.plan {
        understood::lines(plan, &[]);
    }
}

/// An expression of two values, as any key takes it.
pub(crate) fn expression(bytes: &[u8]) {
    struct Two;
    impl Names for Two {
        fn find(&self, name: &str) -> Option<(usize, Dimension)> {
            match name {
                "a" => Some((0, Dimension::VOLT)),
                "b" => Some((1, Dimension::NONE)),
                _ => None,
            }
        }
        fn all(&self) -> Vec<String> {
            vec!["a".to_owned(), "b".to_owned()]
        }
    }
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let mut sources = Sources::default();
    let file = sources.add("expression", text);
    let tree = match parse(text, Span { file, start: 0, end: text.len() }) {
        Ok(tree) => tree,
        Err(mistake) => return well_told(&[mistake], &sources),
    };
    match tree.compile(&Two) {
        Ok(program) => {
            // Both are worked out; that they agree is not asked of any text, for a rounding may be enlarged
            // without bound.
            let value = program.evaluate(&[3.3, -0.5]);
            let dual = program.evaluate(&Dual::inputs([3.3, -0.5]));
            for number in [value, dual.value] {
                assert!(!engineering(number, "V", 3).is_empty());
            }
        }
        Err(mistakes) => well_told(&mistakes, &sources),
    }
    if let Err(mistakes) = tree.compile_as(&Two, Dimension::OHM) {
        well_told(&mistakes, &sources);
    }
}

/// A CSV profile: two lines ask for the columns of time and of current, the rest is the file.
pub(crate) fn profile(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let mut lines = text.splitn(3, '\n');
    let mut next = || lines.next().unwrap_or_default();
    let (time, value, csv) = (next(), next(), next());
    let word = |text: &str| Word {
        text: text.to_owned(),
        span: Span { file: FileId(0), start: 0, end: text.len() },
    };
    let (time, value) = (word(time), word(value));
    let asked = [(&time, Dimension::SECOND), (&value, Dimension::AMPERE)];
    match read_columns(csv, "load.csv", asked) {
        Ok(points) => assert!(!points.is_empty()),
        Err(mistake) => assert!(!mistake.message.is_empty()),
    }
}

/// A measured trace: its usual columns, and those that a first line asks for.
pub(crate) fn trace(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let mut sources = Sources::default();
    let file = sources.add("trace.csv", text);
    let (first, _) = text.split_once('\n').unwrap_or((text, ""));
    let asked = Columns { time: None, value: None, node: "vout" };
    let named = Columns { time: first.split(',').nth(1), value: first.split(';').next(), ..asked };
    for columns in [asked, named] {
        match read_trace(text, file, columns) {
            Ok(trace) => {
                assert_eq!(trace.time_s.len(), trace.volt.len());
                assert!(trace.time_s.windows(2).all(|pair| pair[0] < pair[1]));
                assert!(trace.time_s.iter().chain(&trace.volt).all(|number| number.is_finite()));
                assert!(trace.interval_s() > 0.0);
            }
            Err(mistakes) => {
                assert!(!mistakes.is_empty());
                well_told(&mistakes, &sources);
            }
        }
    }
}

/// Every place lies in its text, between characters, and every mistake can be drawn.
fn well_told(told: &[Diagnostic], sources: &Sources) {
    for mistake in told {
        for span in mistake.span.iter().chain(mistake.also.iter().map(|(span, _)| span)) {
            let text = &sources.files[span.file.0].text;
            assert!(text.get(span.start..span.end).is_some(), "{mistake:?}");
        }
    }
    assert!(told.is_empty() || !diagnostics::plain(told, sources).is_empty());
}
