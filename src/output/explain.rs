//! Entries of `explain`, made from the tables of part kinds, test kinds, measurements, file tables,
//! commands, words, and what else a test tells.

mod commands;
mod concept;
mod equation;
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
use commands::COMMANDS;
use concept::{CONCEPTS, Concept};
use equation::method_of;
pub(in crate::output) use measurement::option_text;
pub(in crate::output) use part::form as key_form;
use section::SECTIONS;
pub(in crate::output) use section::Section;
use std::fmt::Write as _;
use studies::STUDIES;
use topic::{CALCULATIONS, TOPICS, Topic};

/// Columns of every entry.
const WIDTH: usize = 80;

/// The list of everything that can be explained, each with one line.
pub fn contents() -> String {
    let mut page = Page::default();
    page.line("`railstep explain NAME` tells more of each of these");
    page.line("`railstep run FILE` begins; `railstep --help` lists the commands");
    for (heading, entries) in index() {
        page.heading(heading);
        let longest = entries.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
        for (name, summary) in entries {
            page.hanging(2, &format!("{name:longest$}  "), &summary);
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
    for name in spelt(name) {
        if !page.text.is_empty() {
            page.text.push('\n');
        }
        write_entry(&mut page, name);
    }
    if page.text.is_empty() { Err(unknown(name)) } else { Ok(page.text) }
}

/// The names that are written like this one but for capitals, blanks, hyphens and underscores; an
/// exact one alone, if there is any.
fn spelt(name: &str) -> Vec<&'static str> {
    let plain = |text: &str| text.trim().to_lowercase().replace(['-', '_'], " ");
    let mut alike: Vec<&'static str> = all_names().filter(|n| plain(n) == plain(name)).collect();
    // A test and what it measures are one entry.
    let mut seen = Vec::new();
    alike.retain(|n| {
        !seen.contains(n) && {
            seen.push(*n);
            true
        }
    });
    match alike.iter().find(|n| **n == name) {
        Some(exact) => vec![*exact],
        None => alike,
    }
}

fn all_names() -> impl Iterator<Item = &'static str> {
    index().into_iter().flat_map(|(_, entries)| entries).map(|(name, _)| name)
}

/// The most names offered in the place of one that is not known.
const MOST_OFFERED: usize = 4;

fn unknown(name: &str) -> String {
    let wanted = name.trim().to_lowercase().replace([' ', '-'], "_");
    let mut near: Vec<&str> = nearest(name, all_names()).into_iter().collect();
    near.extend(nearest(&wanted, all_names()));
    if wanted.chars().count() > 2 {
        near.extend(all_names().filter(|n| n.replace('-', "_").contains(&wanted)));
    }
    let mut offered: Vec<String> = Vec::new();
    for near in near.into_iter().map(|n| format!("`{n}`")) {
        if offered.len() < MOST_OFFERED && !offered.contains(&near) {
            offered.push(near);
        }
    }
    let hint = match offered.split_last() {
        None => "`railstep explain` lists what there is".to_owned(),
        Some((last, [])) => format!("is {last} meant?"),
        Some((last, rest)) => format!("is {} or {last} meant?", rest.join(", ")),
    };
    format!("there is nothing named `{name}` to explain; {hint}")
}

fn write_entry(page: &mut Page, name: &str) {
    if let Some(kind) = kind(name) {
        part::write(page, kind);
    } else if let Some(row) = test_kind_row(name) {
        write_test(page, row);
        // Some tests are called as what they measure: dropout, noise.
        if let Some(definition) = definition(name) {
            page.text.push('\n');
            measurement::write(page, definition);
        }
    } else if let Some(definition) = definition(name) {
        measurement::write(page, definition);
    } else if let Some(shape) = line_shape(name) {
        shape::write(page, shape);
    } else if let Some(section) = section(name) {
        page.title(section.name, "a table of the circuit file");
        page.text(section.summary);
        page.heading("keys");
        page.keys(section.keys);
        page.example(section.example);
    } else if let Some(concept) = CONCEPTS.iter().find(|c| c.name == name) {
        write_concept(page, concept);
    } else {
        let lists: [(&[Topic], &str); 4] = [
            (&TOPICS, "told beside measurements"),
            (STUDIES, "a study of a circuit file"),
            (&CALCULATIONS, "a calculation without a circuit file"),
            (COMMANDS, "a command"),
        ];
        for (list, what) in lists {
            if let Some(topic) = list.iter().find(|t| t.name == name) {
                write_topic(page, topic, what);
            }
        }
    }
}

/// The table of the circuit file of this name.
pub(in crate::output) fn section(name: &str) -> Option<&'static Section> {
    SECTIONS.iter().find(|section| section.name == name)
}

/// What holds when a key is left out.
pub(in crate::output) fn default_words(key: &TestKey) -> String {
    match key.default {
        "required" => "required".to_owned(),
        "absent" => "may be left out".to_owned(),
        default => format!("default {default}"),
    }
}

type Entries = Vec<(&'static str, String)>;

/// All names with their summaries, under their headings.
fn index() -> [(&'static str, Entries); 10] {
    let told = |name: &'static str, summary: &str| (name, summary.to_owned());
    let topics = |list: &[Topic]| list.iter().map(|t| told(t.name, t.summary)).collect();
    [
        ("commands", topics(COMMANDS)),
        ("parts", kinds().iter().map(|k| told(k.name, k.summary)).collect()),
        ("tests", TEST_KINDS.iter().map(|row| told(row.kind.word(), row.summary)).collect()),
        (
            "line shapes of profile tests",
            LINE_SHAPES.iter().map(|s| told(s.name, s.summary)).collect(),
        ),
        ("measurements", DEFINITIONS.iter().map(|d| (d.name, measurement::summary(d))).collect()),
        ("told beside them", topics(&TOPICS)),
        ("tables of the circuit file", SECTIONS.iter().map(|s| told(s.name, s.summary)).collect()),
        ("studies", topics(STUDIES)),
        ("words", CONCEPTS.iter().map(|c| told(c.name, c.summary)).collect()),
        ("calculations", topics(&CALCULATIONS)),
    ]
}

fn write_topic(page: &mut Page, topic: &Topic, what: &str) {
    page.title(topic.name, what);
    for paragraph in topic.text {
        page.text(paragraph);
    }
    page.example(topic.example);
}

fn write_concept(page: &mut Page, concept: &Concept) {
    page.title(concept.name, "a word of the trade and of what is printed here");
    for paragraph in [concept.summary].iter().chain(concept.text) {
        page.text(paragraph);
    }
    for (heading, text) in [
        ("equation", concept.equation),
        ("unit and values", concept.unit),
        ("default", concept.default),
        ("source", concept.source),
    ] {
        page.heading(heading);
        page.text(text);
    }
    page.example(concept.example);
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
    if let Some(method) = method_of(row.kind.word()) {
        page.heading("equation");
        page.text(method.equation);
        page.heading("source");
        page.text(method.source);
    }
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
            self.key(key.name, &format!("{}; {}", key.form, default_words(key)), key.text);
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
