//! Entries of `explain`, made from the tables of part kinds, test kinds, measurements, file tables
//! and what else a test tells.

mod example;
mod measurement;
mod part;
mod section;
mod shape;
mod studies;
#[cfg(test)]
mod tests;
mod topic;

use super::wrap::wrap;
use crate::device::{kind, kinds};
use crate::diagnostic::nearest;
use crate::measure::{DEFINITIONS, definition};
use crate::trial::{
    COMMON_TEST_KEYS, IN_TIME_ONLY, LINE_SHAPES, TEST_KINDS, TestKey, TestKindRow, line_shape,
    test_kind_row,
};
use section::SECTIONS;
use std::fmt::Write as _;
use studies::STUDIES;
use topic::{CALCULATIONS, TOPICS, Topic};

/// Columns of every entry.
const WIDTH: usize = 80;

/// The list of everything that can be explained, each with one line.
pub fn contents() -> String {
    let mut page = Page::default();
    page.line("`railstep explain NAME` tells more of each of these");
    for (heading, entries) in index() {
        page.heading(heading);
        let longest = entries.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
        for (name, summary) in entries {
            page.hanging(2, &format!("{name:longest$}  "), summary);
        }
    }
    page.text
}

/// The entry of one name.
///
/// # Errors
/// When nothing has that name: what is near.
pub fn entry(name: &str) -> Result<String, String> {
    let mut page = Page::default();
    if let Some(kind) = kind(name) {
        part::write(&mut page, kind);
    } else if let Some(row) = test_kind_row(name) {
        write_test(&mut page, row);
        // Some tests are called as what they measure: dropout, noise.
        if let Some(definition) = definition(name) {
            page.text.push('\n');
            measurement::write(&mut page, definition);
        }
    } else if let Some(definition) = definition(name) {
        measurement::write(&mut page, definition);
    } else if let Some(shape) = line_shape(name) {
        shape::write(&mut page, shape);
    } else if let Some(section) = SECTIONS.iter().find(|s| s.name == name) {
        page.title(section.name, "a table of the circuit file");
        page.text(section.summary);
        page.heading("keys");
        page.keys(section.keys);
        page.example(section.example);
    } else if let Some(topic) = TOPICS.iter().find(|t| t.name == name) {
        write_topic(&mut page, topic, "told beside measurements");
    } else if let Some(topic) = STUDIES.iter().find(|t| t.name == name) {
        write_topic(&mut page, topic, "a study of a circuit file");
    } else if let Some(topic) = CALCULATIONS.iter().find(|t| t.name == name) {
        write_topic(&mut page, topic, "a calculation without a circuit file");
    } else {
        let known = index().into_iter().flat_map(|(_, entries)| entries).map(|(name, _)| name);
        let hint = match nearest(name, known) {
            Some(near) => format!("is `{near}` meant?"),
            None => "`railstep explain` lists what there is".to_owned(),
        };
        return Err(format!("there is nothing named `{name}` to explain; {hint}"));
    }
    Ok(page.text)
}

type Entries = Vec<(&'static str, &'static str)>;

/// All names with their summaries, under their headings.
fn index() -> [(&'static str, Entries); 8] {
    [
        ("parts", kinds().iter().map(|k| (k.name, k.summary)).collect()),
        ("tests", TEST_KINDS.iter().map(|row| (row.kind.word(), row.summary)).collect()),
        ("line shapes of profile tests", LINE_SHAPES.iter().map(|s| (s.name, s.summary)).collect()),
        ("measurements", DEFINITIONS.iter().map(|d| (d.name, measurement::summary(d))).collect()),
        ("told beside them", TOPICS.iter().map(|t| (t.name, t.summary)).collect()),
        ("tables of the circuit file", SECTIONS.iter().map(|s| (s.name, s.summary)).collect()),
        ("studies", STUDIES.iter().map(|t| (t.name, t.summary)).collect()),
        ("calculations", CALCULATIONS.iter().map(|t| (t.name, t.summary)).collect()),
    ]
}

fn write_topic(page: &mut Page, topic: &Topic, what: &str) {
    page.title(topic.name, what);
    for paragraph in topic.text {
        page.text(paragraph);
    }
    page.example(topic.example);
}

fn write_test(page: &mut Page, row: &TestKindRow) {
    page.title(row.kind.word(), "a kind of test");
    page.text(row.summary);
    if !row.keys.is_empty() {
        page.heading("keys");
        page.keys(row.keys);
    }
    page.heading("keys of every test");
    let heeded: Vec<TestKey> = COMMON_TEST_KEYS
        .into_iter()
        .filter(|key| !row.kind.is_steady() || !IN_TIME_ONLY.contains(&key.name))
        .collect();
    page.keys(&heeded);
    page.heading("measurements");
    let names: Vec<&str> =
        DEFINITIONS.iter().filter(|d| d.belongs_to(row.kind)).map(|d| d.name).collect();
    page.hanging(2, "", &names.join(", "));
    page.example(row.example);
}

/// Lines as they grow.
#[derive(Default)]
struct Page {
    text: String,
}

impl Page {
    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    fn title(&mut self, name: &str, what: &str) {
        self.line(&format!("{name}: {what}"));
    }

    fn heading(&mut self, heading: &str) {
        self.text.push('\n');
        self.line(heading);
    }

    /// A paragraph that is indented as a whole.
    fn text(&mut self, text: &str) {
        self.block(2, text);
    }

    fn block(&mut self, indent: usize, text: &str) {
        for line in wrap(text, WIDTH - indent) {
            let _ = writeln!(self.text, "{:indent$}{line}", "");
        }
    }

    /// A paragraph whose further lines start under its text, after `lead`.
    fn hanging(&mut self, indent: usize, lead: &str, text: &str) {
        let hang = indent + lead.chars().count();
        let mut lines = wrap(text, WIDTH.saturating_sub(hang)).into_iter();
        let first = lines.next().unwrap_or_default();
        self.line(format!("{:indent$}{lead}{first}", "").trim_end());
        for line in lines {
            let _ = writeln!(self.text, "{:hang$}{line}", "");
        }
    }

    /// A key: what may stand there on one line, what it means below it.
    fn key(&mut self, name: &str, form: &str, text: &str) {
        self.hanging(2, &format!("{name}: "), form);
        self.block(6, text);
    }

    fn keys(&mut self, keys: &[TestKey]) {
        for key in keys {
            let default = match key.default {
                "required" => "required".to_owned(),
                "absent" => "may be left out".to_owned(),
                default => format!("default {default}"),
            };
            self.key(key.name, &format!("{}; {default}", key.form), key.text);
        }
    }

    fn example(&mut self, example: &str) {
        self.heading("example");
        for line in example.lines() {
            for line in example::broken(line, WIDTH - 2) {
                let _ = writeln!(self.text, "  {line}");
            }
        }
    }
}
