//! The live page as it is first sent, and the files that belong to it. What follows turns is in
//! [`super::answer`].

use super::html::{escaped, named};
use crate::circuit::Spacing;
use crate::plan::Plan;
use crate::study::live::Knob;
use crate::study::spell::quantity_text;
use std::fmt::Write as _;

/// The page's script: first what draws, then what asks.
pub const SCRIPT: &str = concat!(include_str!("chart.js"), include_str!("live.js"));
/// Its style.
pub const STYLE: &str = include_str!("live.css");
/// uPlot, which draws axes and cursors; its notice stands in its first line and beside it.
pub const PLOT_SCRIPT: &str = include_str!("uplot/uPlot.iife.min.js");
/// uPlot's style.
pub const PLOT_STYLE: &str = include_str!("uplot/uPlot.min.css");

const PAGE: &str = include_str!("live.html");
const KNOB: &str = include_str!("knob.html");
/// Steps of a slider over its range: one press of an arrow key is half a percent of it.
const SLIDER_STEPS: usize = 200;

/// The page: `tests` are those to choose from, `set` gives the text that a value starts with where it
/// is not the file's own.
pub fn page(
    file: &str,
    plan: &Plan,
    knobs: &[Knob],
    tests: &[usize],
    set: &dyn Fn(&str) -> Option<String>,
) -> String {
    let mut choice = String::new();
    let told = || tests.iter().filter_map(|&index| Some((index, plan.tests.get(index)?)));
    // There is something to watch from the start.
    let first = told().find(|(_, test)| test.kind.is_in_time()).map(|(index, _)| index);
    for (index, test) in told() {
        let selected = if first == Some(index) { " selected" } else { "" };
        let (name, kind) = (escaped(&test.name), test.kind.word());
        let _ = write!(choice, "<option value=\"{index}\"{selected}>{name} ({kind})</option>");
    }
    let turned: String =
        knobs.iter().enumerate().map(|(number, knob)| knob_text(number, knob, set)).collect();
    let values = if knobs.is_empty() {
        "<p class=\"small\">This file names no values to turn: give some in [values].</p>"
            .to_owned()
    } else {
        turned
    };
    filled(
        PAGE,
        &[
            ("title", &escaped(named(&plan.circuit.title, file))),
            ("file", &escaped(file)),
            ("tests", &choice),
            ("values", &values),
        ],
    )
}

fn knob_text(number: usize, knob: &Knob, set: &dyn Fn(&str) -> Option<String>) -> String {
    let text = set(&knob.path).unwrap_or_else(|| knob.own_text.clone());
    let end = |k: usize| knob.range.map(|range| range[k]);
    let plain = |value: Option<f64>| value.map_or_else(String::new, |v| v.to_string());
    let words = |value: Option<f64>| {
        value.map_or_else(String::new, |v| escaped(&quantity_text(v, knob.dimension)))
    };
    let log = knob.range.is_some() && knob.spacing == Spacing::Logarithmic;
    filled(
        KNOB,
        &[
            ("number", &number.to_string()),
            ("path", &escaped(&knob.path)),
            ("label", &escaped(&knob.label)),
            ("own", &escaped(&knob.own_text)),
            ("text", &escaped(&text)),
            ("low", &plain(end(0))),
            ("high", &plain(end(1))),
            ("log", &log.to_string()),
            ("steps", &SLIDER_STEPS.to_string()),
            ("from", &words(end(0))),
            ("to", &words(end(1))),
            ("hidden", if knob.range.is_some() { "" } else { " hidden" }),
        ],
    )
}

/// A template with each `{{name}}` replaced; what is put in is never looked through again.
fn filled(template: &str, texts: &[(&str, &str)]) -> String {
    let mut page = String::with_capacity(template.len());
    let mut rest = template;
    while let Some((before, after)) = rest.split_once("{{") {
        page.push_str(before);
        let Some((name, after)) = after.split_once("}}") else { break };
        page.push_str(texts.iter().find(|(known, _)| *known == name).map_or("", |(_, text)| text));
        rest = after;
    }
    page.push_str(rest);
    page
}

#[cfg(test)]
mod tests {
    use super::super::html::escaped;
    use super::filled;

    #[test]
    fn what_is_put_in_is_not_looked_through_again() {
        let texts = [("a", "{{b}}"), ("b", "x")];
        assert_eq!(filled("1 {{a}} 2 {{b}} 3 {{c}}.", &texts), "1 {{b}} 2 x 3 .");
    }

    #[test]
    fn a_text_cannot_become_part_of_the_page() {
        let text = "</script><img src=x onerror=\"alert('a')\">&\u{202e}";
        let safe = escaped(text);
        assert!(!safe.contains(['<', '>', '"', '\'', '\u{202e}']), "{safe}");
        assert!(safe.ends_with("&amp;\u{fffd}"));
    }
}
