//! The section of one test: conditions, table, curves, what made the droop, listings.

use serde_json::Value;

use super::Picture;
use super::html::{around, element, escaped, list, script_safe, scrolling, verdict};
use super::record;
use super::sheet::{anchor, judged_cells};
use super::table::{Cell, Table};
use crate::output::advice;
use crate::output::number::{difference, engineering};
use crate::output::report::{
    ExplanationReport, ListingReport, MeasurementReport, OperatingPointReport, TestReport,
};
use crate::output::text::listing::{CAPACITORS, SENSITIVITIES, sensitivities, shown_rows};
use crate::output::text::{
    Page, at_nominal, condition_text, corners, cross_check_text, error_text, models, name_text,
    place_text, value_text,
};

/// Events that are told; the summary has all.
const MOST_EVENTS: usize = 40;
/// Digits of figures that nothing was required of.
const DIGITS: usize = 4;

/// Everything about one test. `drive` is what moves in it; `files` are those of the run.
pub(super) fn section(
    index: usize,
    test: &TestReport,
    drive: Option<&str>,
    pictures: &[&Picture],
    files: &[String],
) -> String {
    let title = format!(
        "{} <small>{}</small> {}",
        escaped(&test.name),
        escaped(&test.kind),
        verdict(&test.verdict)
    );
    let up = "<a class=\"up\" href=\"#requirements\">all requirements</a>\n";
    let mut inside = around("h2", &title) + up + &conditions(test, drive);
    if let Some(error) = &test.error {
        inside += &element("p", &error_text(error));
    }
    let required: Vec<&MeasurementReport> =
        test.measurements.iter().filter(|m| m.limit.is_some()).collect();
    inside += &judged_table(test, &required);
    for (k, picture) in pictures.iter().enumerate() {
        inside += &figure(index, k, test, picture, files);
    }
    inside += &split(test);
    inside += &list(&test.notes);
    inside += &paragraphs(|page| {
        corners::write(page, &required);
        models::write(page, test, &required);
    });
    inside += &events(test);
    inside += &others(test);
    if let Some(point) = &test.operating_point {
        inside += &at_rest(point);
    }
    let listing = |listing: &ListingReport| match listing.name.as_str() {
        SENSITIVITIES => sensitivity_table(listing),
        _ => listing_table(test, listing, false),
    };
    let listings: String = test.listings.iter().map(listing).collect();
    inside += &around("div class=\"abreast\"", &listings);
    around(&format!("section class=\"test\" id=\"{}\"", anchor(index)), &inside)
}

fn conditions(test: &TestReport, drive: Option<&str>) -> String {
    let mut facts = element("dt", "conditions") + &element("dd", &condition_text(&test.condition));
    if let Some(drive) = drive {
        facts += &(element("dt", "what moves") + &element("dd", drive));
    }
    if let Some(limit) = &test.limited_by {
        let words = format!("{}{limit}{}", at_nominal(&test.condition), advice::no_help(limit));
        facts += &(element("dt", "recovery limited by") + &element("dd", &words));
    }
    around("dl class=\"facts\"", &facts)
}

fn judged_table(test: &TestReport, required: &[&MeasurementReport]) -> String {
    let over_models = required.iter().any(|m| m.over_models.is_some());
    let mut heads = vec![
        "measurement",
        "verdict",
        "value ± numerical uncertainty>",
        "limit>",
        "margin>",
        "where",
    ];
    heads.extend(over_models.then_some("over the models>"));
    let mut table = Table::new(&format!("requirements of {}", test.name), &heads);
    for m in required {
        let mut cells = judged_cells(test, m);
        cells.push(Cell::Text(place_text(m)));
        cells.extend(over_models.then(|| Cell::Number(models::range_text(m))));
        table.row(&cells);
    }
    let reasons: Vec<String> = required
        .iter()
        .filter_map(|m| Some(format!("{}: {}", m.name, m.reason.as_ref()?)))
        .collect();
    table.html() + &list(&reasons)
}

/// The picture as it stands, and for curves in time the numbers that the script draws.
fn figure(
    index: usize,
    k: usize,
    test: &TestReport,
    picture: &Picture,
    files: &[String],
) -> String {
    let name =
        format!("{} of {}", if picture.plot.is_some() { "record" } else { "chart" }, test.name);
    let mut inside = scrolling(&format!("picture: {name}"), &picture.svg);
    let csv = points_of(&picture.file, files);
    let table = csv.map(|f| {
        let f = escaped(f);
        format!("<a href=\"{f}\">{f}</a> holds every point")
    });
    let mut caption = String::new();
    let mut tag = "figure".to_owned();
    if let Some(plot) = &picture.plot {
        let (json, thinned) = record::json(plot);
        inside += &around("script type=\"application/json\"", &script_safe(&json));
        tag = format!(
            "figure class=\"record\" id=\"figure-{}-{k}\" data-name=\"{}\"",
            index + 1,
            escaped(&name)
        );
        caption = format!(
            "Shaded: where the output may be. Dots: measured. On screen {}; ",
            thinned.words()
        );
    }
    caption += &table.unwrap_or_default();
    inside += &around("figcaption", &caption);
    around(&tag, &inside)
}

/// The table with the points of a picture: of the same name, or that of its test, which is the name up to
/// the first dot.
fn points_of<'a>(picture: &str, files: &'a [String]) -> Option<&'a String> {
    let own = picture.strip_suffix(".svg")?;
    let of_test = picture.split('.').next()?;
    let named = |stem: &str| files.iter().find(|f| f.strip_suffix(".csv") == Some(stem));
    named(own).or_else(|| named(of_test))
}

/// What the droop is made of, a bar a cause.
fn split(test: &TestReport) -> String {
    let Some(causes) = test.explanation.as_deref().filter(|c| !c.is_empty()) else {
        return String::new();
    };
    let droop: f64 = causes.iter().map(|c| c.value).sum();
    let longest = causes.iter().map(|c| c.value.abs()).fold(0.0, f64::max);
    let unit = causes.first().map_or("V", |c| c.unit.as_str());
    let place = if test.condition.nominal_only { "" } else { ", at nominal values," };
    let caption = format!("what the droop of {}{place} is made of", difference(droop, unit, 3));
    let mut table =
        Table::new(&caption, &["cause", "part", "share>", "of the droop>", "takes away | adds"]);
    let share = |value: f64, of: f64| if of == 0.0 { 0.0 } else { value / of };
    for cause in causes {
        table.row(&cause_cells(cause, share(cause.value, droop), share(cause.value, longest)));
    }
    let mut told = Vec::new();
    told.extend(
        test.of_which_static.map(|v| format!("of which static {}", engineering(v, "V", 3))),
    );
    told.extend(test.input_sag.map(|v| format!("the input sags by {}", engineering(v, "V", 3))));
    let told = if told.is_empty() { String::new() } else { element("p", &told.join("; ")) };
    table.html() + &told
}

fn cause_cells(cause: &ExplanationReport, of_droop: f64, of_longest: f64) -> Vec<Cell> {
    vec![
        Cell::Text(cause.cause.clone()),
        Cell::Text(cause.part.clone()),
        Cell::Number(difference(cause.value, &cause.unit, 3)),
        Cell::Number(format!("{:.1} %", 100.0 * of_droop)),
        Cell::Bar(of_longest),
    ]
}

/// What the terminal's page says of something, a paragraph each: lines set in deeper go on.
fn paragraphs(write: impl FnOnce(&mut Page)) -> String {
    let mut page = Page::new(usize::MAX);
    write(&mut page);
    let mut found: Vec<String> = Vec::new();
    for line in page.text.lines() {
        match found.last_mut().filter(|_| line.starts_with("    ")) {
            Some(before) => {
                before.push(' ');
                before.push_str(line.trim_start());
            }
            None => found.push(line.trim_start().to_owned()),
        }
    }
    list(&found)
}

fn events(test: &TestReport) -> String {
    let Some(events) = &test.events else { return String::new() };
    let count = test.event_count.unwrap_or(events.len());
    if count == 0 {
        return element("p", "events: none");
    }
    let more = count.saturating_sub(MOST_EVENTS.min(events.len()));
    let caption = match more {
        0 => "events".to_owned(),
        _ => format!("the first events; {more} more happened"),
    };
    let mut table = Table::new(&caption, &["at", "part", "what it did"]);
    for event in events.iter().take(MOST_EVENTS) {
        table.row(&[
            Cell::Text(engineering(event.time_s, "s", 6)),
            Cell::Text(event.part.clone()),
            Cell::Text(event.what.clone()),
        ]);
    }
    table.html()
}

/// What nothing was required of: values, and what could not be had.
fn others(test: &TestReport) -> String {
    let mut values = String::new();
    let mut missing: Vec<String> = Vec::new();
    for m in test.measurements.iter().filter(|m| m.limit.is_none()) {
        match m.value {
            Some(value) => {
                let plain = MeasurementReport { numerical_uncertainty: None, ..m.clone() };
                let mut text = value_text(value, &plain, test.condition.accuracy_v);
                if let Some(reason) = &m.reason {
                    text = format!("{text} ({reason})");
                }
                let pair = element("dt", &name_text(m).replace('_', " ")) + &element("dd", &text);
                values += &around("div", &pair);
            }
            None => {
                let reason = m.reason.as_deref().unwrap_or("no reason given");
                let reason = reason.split_once(": write ").map_or(reason, |(short, _)| short);
                missing.push(format!("{} ({reason})", m.name.replace('_', " ")));
            }
        }
    }
    let mut told = String::new();
    if !values.is_empty() {
        let nominal = if test.condition.nominal_only { "" } else { ", at nominal values" };
        told += &element("h3", &format!("Also measured{nominal}"));
        told += &around("dl class=\"also\"", &values);
    }
    if !missing.is_empty() {
        told += &element("p", &format!("not evaluated: {}", missing.join("; ")));
    }
    told + &cross_check_text(test).map(|text| element("p", &text)).unwrap_or_default()
}

fn at_rest(point: &OperatingPointReport) -> String {
    let mut nodes = Table::new("nodes at rest", &["node", "voltage>"]);
    for node in &point.nodes {
        let volt = engineering(node.voltage, "V", DIGITS);
        nodes.row(&[Cell::Text(node.node.clone()), Cell::Number(volt)]);
    }
    let mut parts = Table::new("parts at rest", &["part", "current>", "power>", "region"]);
    for part in &point.parts {
        let told = |value: Option<f64>, unit| {
            Cell::Number(value.map_or_else(String::new, |v| engineering(v, unit, DIGITS)))
        };
        parts.row(&[
            Cell::Text(part.part.clone()),
            told(part.current, "A"),
            told(part.power, "W"),
            Cell::Text(part.region.clone().unwrap_or_default()),
        ]);
    }
    around("div class=\"abreast\"", &(nodes.html() + &parts.html()))
}

fn sensitivity_table(listing: &ListingReport) -> String {
    let mut table = Table::new(
        "depends most on, per +1 % of",
        &["measurement", "change with each value, strongest first"],
    );
    for (name, told) in sensitivities(listing) {
        table.row(&[Cell::Text(name.replace('_', " ")), Cell::Text(told.join(", "))]);
    }
    table.html()
}

/// Figures that belong together; `with_reasons` keeps the column that says why.
pub(super) fn listing_table(
    test: &TestReport,
    listing: &ListingReport,
    with_reasons: bool,
) -> String {
    let empty = |v: &Value| v.is_null() || v.as_str().is_some_and(str::is_empty);
    let told_above =
        |k: usize| !with_reasons && listing.name == CAPACITORS && listing.columns[k].name == "why";
    let any = |k: usize, of: &dyn Fn(&Value) -> bool| {
        listing.rows.iter().any(|row| row.get(k).is_some_and(of))
    };
    let filled: Vec<usize> =
        (0..listing.columns.len()).filter(|&k| !told_above(k) && any(k, &|v| !empty(v))).collect();
    let heads: Vec<String> = filled
        .iter()
        .map(|&k| {
            let right = if any(k, &Value::is_number) { ">" } else { "" };
            format!("{}{right}", listing.columns[k].name.replace('_', " "))
        })
        .collect();
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    let shown = shown_rows(test, listing);
    let rest = listing.rows.len() - shown.len();
    let more = match rest {
        0 => String::new(),
        _ => format!(" ({rest} more rows at other conditions stand in summary.json)"),
    };
    let mut table = Table::new(&format!("{}{more}", listing.title), &heads);
    for row in shown {
        let cell = |&k: &usize| match row.get(k) {
            Some(Value::Number(number)) => {
                let value = number.as_f64().unwrap_or(f64::NAN);
                Cell::Number(engineering(value, &listing.columns[k].unit, 3))
            }
            Some(Value::String(text)) => Cell::Text(text.clone()),
            _ => Cell::Text(String::new()),
        };
        table.row(&filled.iter().map(cell).collect::<Vec<_>>());
    }
    table.html()
}

#[cfg(test)]
mod tests {
    use super::points_of;

    #[test]
    fn a_picture_leads_to_the_points_of_its_own_test() {
        let files = ["stable.csv", "stable.svg", "stable.rates.csv", "stable-cold.csv", "rest.svg"];
        let files = files.map(str::to_owned);
        let found = |picture: &str| points_of(picture, &files).map(String::as_str);
        assert_eq!(found("stable.svg"), Some("stable.csv"));
        assert_eq!(found("stable-cold.svg"), Some("stable-cold.csv"));
        assert_eq!(found("stable.rates.svg"), Some("stable.rates.csv"));
        assert_eq!(found("stable-cold.headroom.svg"), Some("stable-cold.csv"));
        assert_eq!(found("rest.svg"), None);
    }
}
