//! The page as a whole: everything told, nothing loaded, nothing let in.
#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

use super::{Picture, Study, run_page, study_page};
use crate::output::plot::{Curve, Mark, Panel, StepPlot, step_svg};
use crate::output::report::{
    ColumnReport, EventReport, ExplanationReport, ListingReport, MeasurementReport, Report,
    TestReport,
};
use serde_json::Value;

const HOSTILE: &str = "</title><script>alert(1)</script> \"quoted\" & 'single' <!-- \u{2028} ]]>";
const VERDICTS: [&str; 6] =
    ["pass", "marginal", "fail", "not-evaluated", "error", "no-requirements"];

fn plot(name: &str) -> StepPlot {
    let points = (0..500).map(|i| (f64::from(i) * 1e-6, (f64::from(i) * 0.1).sin())).collect();
    let curve = Curve { name: name.to_owned(), points, ..Curve::default() };
    let mark = Mark { t_s: 1e-4, value: 0.5, text: name.to_owned() };
    let panel = Panel {
        label: name.to_owned(),
        unit: "V",
        curves: vec![curve],
        marks: vec![mark],
        height_share: 1.0,
        ..Panel::default()
    };
    StepPlot {
        title: name.to_owned(),
        time_range_s: (0.0, 499e-6),
        panels: vec![panel],
        ..StepPlot::default()
    }
}

/// Every text of a report that a circuit file can reach, a test for each verdict.
fn everything(text: &str) -> Report {
    let mut report = Report::new(text, text);
    "fail".clone_into(&mut report.verdict);
    report.cautions = vec![text.to_owned()];
    report.files = vec![format!("{text}.csv"), "report.html".to_owned()];
    let own = || text.to_owned();
    for verdict in VERDICTS {
        let mut measurement = MeasurementReport {
            name: own(),
            value: Some(1.0),
            unit: "V".to_owned(),
            limit: Some(own()),
            margin: Some(0.5),
            verdict: verdict.to_owned(),
            reason: Some(own()),
            definition: own(),
            corner: Some(own()),
            ..MeasurementReport::default()
        };
        measurement.settings.insert(own(), Value::from(text));
        let mut test = TestReport {
            name: own(),
            kind: own(),
            verdict: verdict.to_owned(),
            measurements: vec![
                measurement.clone(),
                MeasurementReport { limit: None, ..measurement.clone() },
                MeasurementReport { limit: None, value: None, ..measurement },
            ],
            explanation: Some(vec![ExplanationReport {
                cause: own(),
                part: own(),
                value: 0.02,
                unit: "V".to_owned(),
            }]),
            limited_by: Some(own()),
            notes: vec![own()],
            events: Some(vec![EventReport { time_s: 1e-6, part: own(), what: own() }]),
            ..TestReport::default()
        };
        test.condition.load = Some(own());
        test.condition.values.insert(own(), Value::from(text));
        test.listings.push(ListingReport {
            name: own(),
            title: own(),
            columns: vec![ColumnReport { name: own(), unit: String::new() }],
            rows: vec![vec![Value::from(text)]],
        });
        report.tests.push(test);
    }
    report
}

fn page(text: &str) -> String {
    let plot = plot(text);
    let picture =
        Picture { test: 0, file: format!("{text}.svg"), svg: step_svg(&plot), plot: Some(plot) };
    let understood = [format!("rail: {text}"), format!("{text}: {text}"), format!("  {text}")];
    String::from_utf8(run_page(&everything(text), &understood, &[picture])).unwrap()
}

/// The names of all elements that open, and of those that close, in order. Scripts and styles are
/// passed over as a browser does, up to their own end; pictures too, in which texts move and wrap.
fn tags(html: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        rest = &rest[at + 1..];
        let end = rest.find([' ', '>', '\n']).unwrap();
        let name = rest[..end].to_owned();
        rest = &rest[rest.find('>').unwrap() + 1..];
        if ["script", "style", "svg"].contains(&name.as_str()) {
            rest = &rest[rest.find(&format!("</{name}")).unwrap()..];
        }
        found.push(name);
    }
    found
}

#[test]
fn no_text_of_a_file_becomes_an_element() {
    // The same page with a harmless text of the same place has the same elements.
    assert_eq!(tags(&page(HOSTILE)), tags(&page("harmless")));
    assert!(!page(HOSTILE).contains("<script>alert"));
    assert!(
        page(HOSTILE).contains("&lt;script&gt;alert(1)&lt;/script&gt; &quot;quoted&quot; &amp;")
    );
}

#[test]
fn what_opens_is_closed_in_turn() {
    const ALONE: [&str; 2] = ["!doctype", "meta"];
    let mut open: Vec<String> = Vec::new();
    for tag in tags(&page("harmless")) {
        match tag.strip_prefix('/') {
            Some(name) => assert_eq!(open.pop().as_deref(), Some(name)),
            None if ALONE.contains(&tag.as_str()) => {}
            None => open.push(tag),
        }
    }
    assert_eq!(open, Vec::<String>::new());
}

#[test]
fn every_verdict_stands_there_as_a_word() {
    let page = page("harmless");
    for word in VERDICTS {
        let badge = format!("<span class=\"verdict {word}\">{word}</span>");
        // In the overview, and at the head of its test.
        assert!(page.matches(&badge).count() >= 2, "{word}");
    }
}

#[test]
fn the_numbers_of_the_curves_are_json_whatever_the_names() {
    let page = page(HOSTILE);
    let (_, rest) = page.split_once("<script type=\"application/json\">").unwrap();
    let (json, _) = rest.split_once("</script>").unwrap();
    let value: Value = serde_json::from_str(json).unwrap();
    assert_eq!(value["panels"][0]["label"], HOSTILE);
}

#[test]
fn nothing_is_loaded_and_the_licence_of_what_is_inside_is_told() {
    let page = page("harmless");
    // A name space is no address, and a comment loads nothing.
    let rest = page
        .replace("xmlns=\"http://www.w3.org/2000/svg\"", "")
        .replace("/*! https://github.com/leeoniya/uPlot", "");
    for address in ["://", " src=", "@import", "<link", "url("] {
        assert!(!rest.contains(address), "{address}");
    }
    assert!(page.contains("default-src 'none'"));
    assert!(page.contains("Copyright (c) 2022 Leon Sorokin") && page.contains("The MIT License"));
}

#[test]
fn the_same_report_gives_the_same_bytes_and_a_page_without_curves_carries_no_script() {
    assert_eq!(page(HOSTILE), page(HOSTILE));
    let bytes = run_page(&everything("harmless"), &[], &[]);
    assert!(!String::from_utf8(bytes).unwrap().contains("<script"));
}

#[test]
fn an_empty_report_is_a_page_too() {
    let page = String::from_utf8(run_page(&Report::new("f", "t"), &[], &[])).unwrap();
    assert!(page.starts_with("<!doctype html>") && page.contains("no requirement is given"));
}

#[test]
fn a_circuit_without_a_title_is_called_by_its_file() {
    let study = Study { word: "map", title: "", file: "rail.toml" };
    let pages = [run_page(&Report::new("rail.toml", ""), &[], &[]), study_page(study, "", &[])];
    for page in pages.map(|bytes| String::from_utf8(bytes).unwrap()) {
        assert!(page.contains("<title>rail.toml</title>") && page.contains("<h1>rail.toml</h1>"));
        assert_eq!(page.matches("rail.toml").count(), 2);
    }
}

#[test]
fn the_page_of_a_study_shows_its_pictures_and_its_words_line_by_line() {
    let study = Study { word: "map", title: HOSTILE, file: "buoy.toml" };
    let svg = step_svg(&plot("harmless")).into_bytes();
    let files = [("map.csv".to_owned(), Vec::new()), ("map.svg".to_owned(), svg)];
    let text = format!("a  b\nc  {HOSTILE}");
    let page = String::from_utf8(study_page(study, &text, &files)).unwrap();
    assert!(page.contains("<pre>a  b\nc  &lt;/title&gt;"));
    assert_eq!(page.matches("<svg width").count(), 1);
    assert!(page.contains("<a href=\"map.csv\">") && !page.contains("<script"));
}
