//! What a map shows: which test, which measurement, which of its rows, held against what.

use crate::circuit::{Changes, Variant};
use crate::diagnostic::nearest;
use crate::measure::{DEFINITIONS, Limit, Measurement, Requirement, TestKind, Verdict, definition};
use crate::study::axis::Axis;
use crate::study::{Ground, Reading, Sheet, Watch};

/// The word for the least slack over everything that counts.
pub const MARGIN: &str = "margin";

/// A test and what of it is mapped.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Subject {
    /// Which of the file's tests.
    pub test: usize,
    /// A measurement's name, or [`MARGIN`].
    pub of: String,
    /// What was chosen for the user, in words.
    pub said: Vec<String>,
}

impl Subject {
    /// What a runner has to watch for it.
    pub fn watch(&self) -> Watch {
        if self.of == MARGIN { Watch::Counting } else { Watch::Named(self.of.clone()) }
    }
}

/// What is mapped, in figures.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Which line of a reading; `None` for the least slack of all.
    line: Option<usize>,
    /// `droop`, or [`MARGIN`].
    pub name: String,
    /// SI symbol; `1` for a plain number.
    pub unit: &'static str,
    /// As the file has it.
    pub limit_text: Option<String>,
    /// In figures, where it is the same all over the map.
    pub limit: Option<Limit>,
    /// Its definition in one sentence.
    pub definition: String,
    /// The options it is taken with: `band 0.5 %`.
    pub settings: String,
}

impl Row {
    /// Value, slack, verdict and reason of a reading.
    pub(super) fn read(
        &self,
        reading: &Reading,
    ) -> (Option<f64>, Option<f64>, Verdict, Option<String>) {
        if let Some(failure) = &reading.failure {
            return (None, None, Verdict::Error, Some(failure.clone()));
        }
        let Some(line) = self.line else {
            let verdict = Verdict::worst(reading.lines.iter().map(|l| l.verdict));
            let slack = reading.least_slack();
            let worst = reading.lines.iter().filter(|l| l.verdict == verdict);
            let reason = worst.into_iter().find_map(|l| l.reason.clone());
            return (slack, slack, verdict, reason.filter(|_| slack.is_none()));
        };
        match reading.lines.get(line) {
            Some(l) => (l.value, l.slack, l.verdict, l.reason.clone()),
            None => (None, None, Verdict::NotEvaluated, Some("it was not measured".to_owned())),
        }
    }
}

/// Finds test and measurement: `named` are the tests asked for by name, `of` the measurement.
///
/// # Errors
/// What is wrong with them and what to type.
pub fn subject(ground: &Ground<'_>, named: &[usize], of: Option<&str>) -> Result<Subject, String> {
    let mut said = Vec::new();
    if let Some(of) = of.filter(|of| *of != MARGIN && definition(of).is_none()) {
        let known = DEFINITIONS.iter().map(|d| d.name).chain([MARGIN]);
        let hint = match nearest(of, known) {
            Some(near) => format!("is `{near}` meant?"),
            None => "`railstep explain` lists them".to_owned(),
        };
        return Err(format!("there is no measurement `{of}`; {hint}"));
    }
    let test = match named {
        [only] => *only,
        [] => {
            let test = usual_test(ground, of)?;
            let name = &ground.tests[test].name;
            said.push(format!("`{name}` is mapped; `--test NAME` takes another test"));
            test
        }
        _ => return Err("a map shows one test; name one by `--test`".to_owned()),
    };
    let of = match of {
        Some(of) => of.to_owned(),
        None => usual_measurement(ground, test, &mut said)?,
    };
    let kind = ground.tests[test].kind;
    if let Some(wrong) = definition(&of).filter(|d| !d.belongs_to(kind)) {
        let kinds: Vec<&str> = wrong.kinds.iter().map(|k| k.word()).collect();
        let name = &ground.tests[test].name;
        let (kind, kinds) = (kind.word(), kinds.join(", "));
        return Err(format!("`{name}` is of kind `{kind}`; `{of}` belongs to: {kinds}"));
    }
    Ok(Subject { test, of, said })
}

/// The first load step with such a requirement, else the first test with one, else the first that
/// measures it.
fn usual_test(ground: &Ground<'_>, of: Option<&str>) -> Result<usize, String> {
    let all = 0..ground.tests.len();
    let name = of.filter(|of| *of != MARGIN);
    let asks = |k: &usize| {
        requirements(ground, *k, &[]).iter().any(|r| name.is_none_or(|name| r.name == name))
    };
    let steps = |k: &usize| ground.tests[*k].kind == TestKind::LoadStep;
    let measures = |k: &usize| {
        let kind = ground.tests[*k].kind;
        name.and_then(definition).is_some_and(|d| d.belongs_to(kind))
    };
    let found = all
        .clone()
        .find(|k| steps(k) && asks(k))
        .or_else(|| all.clone().find(asks))
        .or_else(|| all.clone().find(measures));
    found.ok_or_else(|| match name {
        Some(name) => format!("no test of the file measures `{name}`; `--of` takes another one"),
        None => "no test of the file has a requirement; choose by `--test` and `--of`".to_owned(),
    })
}

fn usual_measurement(
    ground: &Ground<'_>,
    test: usize,
    said: &mut Vec<String>,
) -> Result<String, String> {
    let asked = requirements(ground, test, &[]);
    let first = asked.iter().find(|r| !r.advisory).or(asked.first());
    let name = first.map(|r| r.name.clone()).ok_or_else(|| {
        let name = &ground.tests[test].name;
        format!("`{name}` has no requirement; choose a measurement by `--of`")
    })?;
    said.push(format!(
        "`{name}` is mapped; `--of` takes another measurement, `--of {MARGIN}` the least margin of \
         all requirements"
    ));
    Ok(name)
}

/// The requirements of a test with some values moved.
fn requirements(
    ground: &Ground<'_>,
    test: usize,
    moved: &[crate::circuit::Change],
) -> Vec<Requirement> {
    let Some(test) = ground.tests.get(test) else { return Vec::new() };
    let mut list = ground.options.changes.list.clone();
    list.extend_from_slice(moved);
    list.extend(test.changes.list.iter().cloned());
    let variant: Option<Variant> = ground.circuit.variant(&Changes { list }).ok();
    let figures = |variant: Variant| {
        test.requirements.iter().filter_map(|r| r.evaluate(&variant).ok()).collect()
    };
    variant.map(figures).unwrap_or_default()
}

/// The row of the sheet that is mapped, and what was chosen among several.
pub(super) fn row(
    ground: &Ground<'_>,
    sheet: &Sheet,
    subject: &Subject,
    axes: &[Axis],
) -> (Row, Option<String>) {
    if subject.of == MARGIN {
        let names: Vec<&str> = sheet.rows.iter().map(|m| m.name.as_str()).collect();
        let row = Row {
            line: None,
            name: MARGIN.to_owned(),
            unit: "1",
            limit_text: Some(">= 0".to_owned()),
            limit: Some(Limit::AtLeast(0.0)),
            definition: format!(
                "the least margin over all requirements that count: {}",
                names.join(", ")
            ),
            settings: String::new(),
        };
        return (row, None);
    }
    let line = sheet.rows.iter().position(|m| m.limit.is_some()).unwrap_or(0);
    let Some(m) = sheet.rows.get(line) else {
        // A runner refuses a test that measures nothing of the name.
        let row = Row { line: Some(0), name: subject.of.clone(), ..empty() };
        return (row, None);
    };
    let row = Row {
        line: Some(line),
        name: m.name.clone(),
        unit: m.unit,
        limit_text: m.limit.clone(),
        limit: limit(ground, subject.test, m, axes),
        definition: m.definition.clone(),
        settings: settings(m),
    };
    let said = (sheet.rows.len() > 1).then(|| {
        let limit = m.limit.as_ref().map(|l| format!(", limit {l}")).unwrap_or_default();
        let of =
            if row.settings.is_empty() { String::new() } else { format!(" ({})", row.settings) };
        format!("`{}` has {} rows: mapped is the one{of}{limit}", m.name, sheet.rows.len())
    });
    (row, said)
}

fn empty() -> Row {
    Row {
        line: None,
        name: String::new(),
        unit: "",
        limit_text: None,
        limit: None,
        definition: String::new(),
        settings: String::new(),
    }
}

fn settings(m: &Measurement) -> String {
    // What else stands there was found, and differs from place to place.
    const ASKED: [&str; 5] = ["at", "band", "about", "level", "definition"];
    let told = m.settings.iter().filter(|(name, _)| ASKED.contains(&name.as_str()));
    let words: Vec<String> = told.map(|(name, value)| format!("{name} {value}")).collect();
    words.join(", ")
}

/// The limit in figures; `None` where it moves with what is varied.
fn limit(ground: &Ground<'_>, test: usize, m: &Measurement, axes: &[Axis]) -> Option<Limit> {
    let text = m.limit.as_ref()?;
    let here = |moved: &[crate::circuit::Change]| {
        let asked = requirements(ground, test, moved);
        asked.iter().find(|r| r.name == m.name && r.limit_text == *text).map(|r| r.limit)
    };
    let Some(limit) = here(&[]) else {
        // A window is held against zero distance without being named.
        return m.name.ends_with("window").then_some(Limit::AtLeast(0.0));
    };
    let same = axes.iter().flat_map(|a| [a.change(a.low).0, a.change(a.high).0]);
    let same = same.into_iter().all(|change| here(&[change]) == Some(limit));
    same.then_some(limit)
}
