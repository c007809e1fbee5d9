//! Files broken on purpose, in `tests/broken`: each says at its head which mistakes must be told
//! and where, and those are told, no others, and nothing is run or written.
//!
//! The head of a file: `# expect LINE:COLUMN error: PART OF THE MESSAGE`, with the name of the file
//! before the place where it is an included one, and `# hint PART OF THE HINT` below it where that
//! matters. Lines and columns count from 1, columns in characters. The expectations were written
//! from the rules of the format before the files were read by the program.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use railstep::circuit::Changes;
use railstep::diagnostic::{Diagnostic, Severity, Sources};
use railstep::document::Files;
use railstep::plan;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The fewest files that must lie there.
const FEWEST: usize = 60;

/// Files beside those that are read.
struct Beside;

impl Files for Beside {
    fn read(&self, path: &str) -> Result<String, String> {
        assert!(!path.contains("..") && !path.starts_with('/'), "asked for `{path}`");
        fs::read_to_string(folder().join(path)).map_err(|_| "there is no such file".to_owned())
    }
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/broken")
}

fn broken_files() -> Vec<PathBuf> {
    let entries = fs::read_dir(folder()).unwrap().map(|e| e.unwrap().path());
    let mut files: Vec<PathBuf> =
        entries.filter(|p| p.extension().is_some_and(|e| e == "toml")).collect();
    files.sort();
    assert!(files.len() >= FEWEST, "only {} files", files.len());
    files
}

#[derive(Debug)]
struct Expected {
    /// `FILE LINE:COLUMN`
    place: String,
    severity: String,
    message: String,
    hint: Option<String>,
}

/// What the head of a file expects; its own name is `name`.
fn expectations(name: &str, text: &str) -> Vec<Expected> {
    let mut all: Vec<Expected> = Vec::new();
    for line in text.lines().take_while(|l| l.starts_with('#')) {
        if let Some(rest) = line.strip_prefix("# expect ") {
            let (place, told) = [" error: ", " warning: "]
                .iter()
                .find_map(|word| rest.split_once(word).map(|(at, message)| (at, (*word, message))))
                .unwrap();
            let place =
                if place.contains(' ') { place.to_owned() } else { format!("{name} {place}") };
            let severity = told.0.trim_matches([' ', ':']).to_owned();
            all.push(Expected { place, severity, message: told.1.to_owned(), hint: None });
        } else if let Some(hint) = line.strip_prefix("# hint ") {
            all.last_mut().unwrap().hint = Some(hint.to_owned());
        }
    }
    all
}

fn place(told: &Diagnostic, sources: &Sources) -> String {
    let Some(span) = told.span else { return "nowhere".to_owned() };
    let file = &sources.files[span.file.0];
    assert!(span.start <= span.end && span.end <= file.text.len(), "{told:?}");
    assert!(file.text.is_char_boundary(span.start) && file.text.is_char_boundary(span.end));
    let (line, column) = sources.line_column(span);
    format!("{} {line}:{column}", file.name)
}

fn fits(expected: &Expected, told: &Diagnostic, sources: &Sources) -> bool {
    let severity = match told.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    };
    expected.place == place(told, sources)
        && expected.severity == severity
        && told.message.contains(&expected.message)
        && expected
            .hint
            .as_ref()
            .is_none_or(|h| told.hint.as_ref().is_some_and(|hint| hint.contains(h)))
}

/// Differences between what is expected of a file and what is told; empty if there are none.
fn differences(path: &Path) -> String {
    let name = path.file_name().unwrap().to_str().unwrap();
    let text = fs::read_to_string(path).unwrap();
    let mut missing = expectations(name, &text);
    if missing.is_empty() {
        return format!("{name}: its head expects nothing\n");
    }
    let reading = plan::read(name, &text, &Beside, &Changes::default());
    let mut wrong: Vec<String> = Vec::new();
    if reading.plan.is_some() {
        wrong.push("it can be run".to_owned());
    }
    for told in &reading.diagnostics {
        if let Some(k) = missing.iter().position(|e| fits(e, told, &reading.sources)) {
            missing.remove(k);
        } else {
            let at = place(told, &reading.sources);
            wrong.push(format!("told {at}: {} (hint: {:?})", told.message, told.hint));
        }
        wrong.extend(style(told));
    }
    wrong.extend(missing.iter().map(|expected| format!("not told {expected:?}")));
    if wrong.is_empty() { String::new() } else { format!("{name}\n  {}\n", wrong.join("\n  ")) }
}

/// Every message says what to do, in the house's style.
fn style(told: &Diagnostic) -> Option<String> {
    let advice = told.hint.is_some() || !told.label.is_empty() || !told.also.is_empty();
    let first = told.message.chars().next().unwrap_or('A');
    let good = advice && !first.is_uppercase() && !told.message.ends_with('.');
    (!good).then(|| format!("told in no style: {told:?}"))
}

#[test]
fn every_mistake_is_told_at_its_place_and_no_other() {
    let wrong: String = broken_files().iter().map(|path| differences(path)).collect();
    assert!(wrong.is_empty(), "\n{wrong}");
}

/// Names and contents of all files of a folder.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let read = |entry: fs::DirEntry| {
        let name = entry.file_name().into_string().unwrap();
        (name, fs::read(entry.path()).unwrap())
    };
    fs::read_dir(folder).unwrap().map(|e| read(e.unwrap())).collect()
}

#[test]
fn a_broken_file_ends_the_command_and_leaves_the_folder_as_it_was() {
    let out = tempfile::tempdir().unwrap();
    for (name, text) in [("burst.csv", "kept"), ("summary.json", "{}"), ("notes.txt", "mine")] {
        fs::write(out.path().join(name), text).unwrap();
    }
    let before = contents(out.path());
    for path in broken_files() {
        let mut command = Command::new(env!("CARGO_BIN_EXE_railstep"));
        let ran = command.arg("run").arg(&path).arg("--out").arg(out.path()).output().unwrap();
        let told = String::from_utf8(ran.stderr).unwrap();
        assert_eq!(ran.status.code(), Some(2), "{}: {told}", path.display());
        assert!(told.contains("error"), "{}: {told}", path.display());
        assert!(ran.stdout.is_empty(), "{}", path.display());
        assert_eq!(contents(out.path()), before, "{}", path.display());
    }
}

#[test]
fn a_broken_file_makes_no_folder() {
    let parent = tempfile::tempdir().unwrap();
    let out = parent.path().join("results");
    for path in broken_files().iter().step_by(10) {
        let mut command = Command::new(env!("CARGO_BIN_EXE_railstep"));
        let ran = command.arg("run").arg(path).arg("--out").arg(&out).output().unwrap();
        assert_eq!(ran.status.code(), Some(2), "{}", path.display());
        assert!(!out.exists(), "{}", path.display());
    }
}

#[test]
fn no_circuit_of_the_netlists_folder_is_doubted() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("netlists");
    let files = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path());
    for path in files.filter(|p| p.extension().is_some_and(|e| e == "toml")) {
        let mut command = Command::new(env!("CARGO_BIN_EXE_railstep"));
        let ran = command.arg("check").arg(&path).output().unwrap();
        assert_eq!(ran.status.code(), Some(0), "{}", path.display());
        let told = String::from_utf8(ran.stderr).unwrap();
        assert!(told.is_empty(), "{}: {told}", path.display());
    }
}
