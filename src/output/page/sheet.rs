//! The first page: verdict, what does not hold, the tightest requirement of each test, the rail as it
//! was read, and the extremes over all tests.

use super::html::{self, around, element, escaped, list, verdict};
use super::table::{Cell, Table};
use crate::output::number::engineering;
use crate::output::printable;
use crate::output::report::{MeasurementReport, Report, TestReport};
use crate::output::text::closing::verdict_line;
use crate::output::text::listing::CAPACITORS;
use crate::output::text::{margin_text, name_text, value_text};

/// The place of a test on the page.
pub(super) fn anchor(index: usize) -> String {
    format!("test-{}", index + 1)
}

/// What was read, sorted by where it is told.
pub(super) struct Told {
    /// Of the rail: a word, and what follows it.
    rail: Vec<(String, String)>,
    /// What moves in each test.
    drives: Vec<Option<String>>,
}

impl Told {
    /// Lines that start with blanks go on with the one before.
    pub(super) fn of(report: &Report, understood: &[String]) -> Self {
        let mut whole: Vec<String> = Vec::new();
        for line in understood {
            match whole.last_mut().filter(|_| line.starts_with(' ')) {
                Some(before) => {
                    before.push(' ');
                    before.push_str(line.trim_start());
                }
                None => whole.push(line.clone()),
            }
        }
        let drive = |test: &TestReport| {
            let lead = format!("{}: ", test.name);
            let rest = |line: &String| {
                after(line, &lead).filter(|rest| rest.starts_with(&test.kind)).map(str::to_owned)
            };
            let (at, told) =
                whole.iter().enumerate().find_map(|(k, line)| Some((k, rest(line)?)))?;
            whole.remove(at);
            Some(told)
        };
        let drives = report.tests.iter().map(drive).collect();
        let halves = |line: &String| match line.split_once(": ") {
            Some((word, rest)) => (word.to_owned(), rest.to_owned()),
            None => (String::new(), line.clone()),
        };
        Self { rail: whole.iter().map(halves).collect(), drives }
    }

    pub(super) fn drive(&self, test: usize) -> Option<&str> {
        self.drives.get(test)?.as_deref()
    }
}

/// What follows `lead` in a line, whatever blanks of it the line has lost or gained where it was broken.
fn after<'a>(line: &'a str, lead: &str) -> Option<&'a str> {
    let mut rest = line;
    for letter in printable(lead).chars().filter(|c| !c.is_whitespace()) {
        rest = rest.trim_start().strip_prefix(letter)?;
    }
    Some(rest.trim_start())
}

/// Title, file and verdict.
pub(super) fn header(report: &Report) -> String {
    let line = verdict_line(report);
    let counts = line.split_once(" (").map_or("", |(_, rest)| rest.trim_end_matches(')'));
    let outcome = format!(
        "{} {} <small>calculated, not measured</small>",
        verdict(&report.verdict),
        escaped(counts)
    );
    let names = html::heading("rail report", &report.title, &report.file);
    around("header", &(names + &around("p class=\"outcome\"", &outcome)))
}

/// What counts, and is not merely told.
fn judged(test: &TestReport) -> Vec<&MeasurementReport> {
    test.measurements.iter().filter(|m| m.limit.is_some()).collect()
}

/// Of each test all that does not pass, or what passes with the least margin.
fn tightest(test: &TestReport) -> Vec<&MeasurementReport> {
    let judged = judged(test);
    let short: Vec<&MeasurementReport> =
        judged.iter().copied().filter(|m| m.verdict != "pass").collect();
    if !short.is_empty() {
        return short;
    }
    let with_margin = judged.iter().copied().filter(|m| m.margin.is_some());
    let least = with_margin
        .min_by(|a, b| a.margin.unwrap_or_default().total_cmp(&b.margin.unwrap_or_default()));
    least.or(judged.first().copied()).into_iter().collect()
}

/// Source, load, temperature and what was set: enough to tell tests apart.
fn condition(test: &TestReport) -> String {
    let at = &test.condition;
    let mut parts = Vec::new();
    match (&at.source, at.source_v) {
        (Some(words), _) => parts.push(format!("source {words}")),
        (None, Some(volt)) => parts.push(format!("source {}", engineering(volt, "V", 3))),
        (None, None) => {}
    }
    parts.extend(at.load.as_ref().map(|load| format!("load {load}")));
    parts.extend(at.ambient_c.map(|c| format!("{c} °C")));
    for (name, value) in &at.values {
        parts.push(format!("{name} = {}", value.as_str().unwrap_or_default()));
    }
    parts.join("; ")
}

/// The cells of one judged measurement.
pub(super) fn judged_cells(test: &TestReport, m: &MeasurementReport) -> Vec<Cell> {
    let value =
        m.value.map_or_else(|| "–".to_owned(), |v| value_text(v, m, test.condition.accuracy_v));
    let limit = m.limit.as_deref().unwrap_or_default().replace("<=", "≤").replace(">=", "≥");
    let margin = m.margin.filter(|x| x.is_finite());
    vec![
        Cell::Text(name_text(m)),
        Cell::Verdict(m.verdict.clone(), m.advisory),
        Cell::Number(value),
        Cell::Number(limit),
        Cell::Margin(margin.map_or("–".to_owned(), margin_text), margin),
    ]
}

/// The table of requirements, a group a test.
pub(super) fn overview(report: &Report) -> String {
    let caption = "requirements: all that do not pass, else the tightest of each test";
    let heads =
        ["test", "measurement", "verdict", "value ± numerical uncertainty>", "limit>", "margin>"];
    let mut table = Table::new(caption, &heads);
    for (index, test) in report.tests.iter().enumerate() {
        let head =
            Cell::Link { to: anchor(index), text: test.name.clone(), below: condition(test) };
        let mut rows: Vec<Vec<Cell>> =
            tightest(test).into_iter().map(|m| judged_cells(test, m)).collect();
        if rows.is_empty() {
            let nothing = || Cell::Text(String::new());
            let why = if test.error.is_some() { "could not be solved" } else { "nothing required" };
            let verdict = Cell::Verdict(test.verdict.clone(), false);
            rows.push(vec![Cell::Text(why.to_owned()), verdict, nothing(), nothing(), nothing()]);
        }
        table.group(&head, &rows);
    }
    let (advisory, counted): (Vec<_>, Vec<_>) =
        report.tests.iter().flat_map(judged).partition(|m| m.advisory);
    let holds = |m: &&MeasurementReport| ["pass", "marginal"].contains(&m.verdict.as_str());
    let (held, all) = (counted.iter().filter(|m| holds(m)).count(), counted.len());
    let besides = match advisory.len() {
        0 => String::new(),
        n => format!(" ({n} advisory not counted)"),
    };
    let count = match all {
        0 => "no requirement is given, so nothing is judged".to_owned(),
        _ => format!(
            "{held} of {all} requirements hold{besides}; a margin is the distance to the limit over its scale, \
             and marginal stands for less than a tenth of it. Conditions, and the others, stand with each test."
        ),
    };
    let inside =
        element("h2 id=\"requirements\"", "Requirements") + &element("p", &count) + &table.html();
    around("section", &inside)
}

/// What a reader must be warned of.
pub(super) fn cautions(report: &Report) -> String {
    if report.cautions.is_empty() {
        return String::new();
    }
    let inside = element("h2", "Cautions") + &list(&report.cautions);
    around("section class=\"cautions\"", &inside)
}

/// The circuit as it was read, and its capacitors as they act.
pub(super) fn rail(report: &Report, told: &Told) -> String {
    let mut facts = String::new();
    for (word, rest) in &told.rail {
        facts += &(element("dt", word) + &element("dd", rest));
    }
    if let Some(models) = &report.models {
        let text =
            format!("{} from {}: {}", models.regulator, models.file, models.names.join(", "));
        facts += &(element("dt", "models") + &element("dd", &text));
    }
    let bank = report.tests.iter().find_map(|test| {
        let listing = test.listings.iter().find(|l| l.name == CAPACITORS)?;
        Some(super::one_test::listing_table(test, listing, true))
    });
    if facts.is_empty() && bank.is_none() {
        return String::new();
    }
    let facts = around("dl class=\"facts\"", &facts);
    around(
        "section",
        &(element("h2", "The rail as it was read") + &facts + &bank.unwrap_or_default()),
    )
}

/// Which way a measurement is at its worst.
const EXTREMES: [(&str, bool); 14] = [
    ("droop", true),
    ("overshoot", true),
    ("recovery", true),
    ("release_recovery", true),
    ("output_minimum", false),
    ("output_maximum", true),
    ("headroom_minimum", false),
    ("pass_power_peak", true),
    ("pass_power_mean", true),
    ("junction_temperature", true),
    ("source_current_peak", true),
    ("capacitor_stress", true),
    ("phase_margin", false),
    ("gain_margin", false),
];

/// Heat, stress and excursions where they are greatest.
pub(super) fn extremes(report: &Report) -> String {
    let mut table = Table::new("worst over all tests", &["measurement", "value>", "in test"]);
    for (name, greatest) in EXTREMES {
        let found = report.tests.iter().enumerate().flat_map(|(k, test)| {
            let of = test.measurements.iter().filter(|m| m.name == name);
            of.filter_map(move |m| Some((k, m, m.value.filter(|v| v.is_finite())?)))
        });
        let worst = found.reduce(|a, b| if (b.2 > a.2) == greatest { b } else { a });
        let Some((k, m, value)) = worst else { continue };
        let Some(test) = report.tests.get(k) else { continue };
        table.row(&[
            Cell::Text(name.replace('_', " ")),
            Cell::Number(engineering(value, &m.unit, 4)),
            Cell::Link { to: anchor(k), text: test.name.clone(), below: String::new() },
        ]);
    }
    if table.rows == 0 || report.tests.len() < 2 {
        return String::new();
    }
    around("section", &(element("h2", "Extremes: excursions, heat, stress") + &table.html()))
}

#[cfg(test)]
mod tests {
    use super::after;

    #[test]
    fn a_line_is_known_by_its_lead_however_it_was_broken() {
        assert_eq!(after("a b: load-step of I", "a  b: "), Some("load-step of I"));
        assert_eq!(after("aaaa aa: load-step", "aaaaaa: "), Some("load-step"));
        assert_eq!(after("a\u{fffd}b: noise", "a\u{202e}b: "), Some("noise"));
        assert_eq!(after("stable, cold: loop-gain", "stable: "), None);
    }
}
