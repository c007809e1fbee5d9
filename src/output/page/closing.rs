//! The end of the page: what the figures rest on, what their names mean, what they cost, where they
//! stand.

use super::html::{around, element, escaped, list};
use super::sheet::anchor;
use super::table::{Cell, Table};
use crate::output::number::engineering;
use crate::output::report::{MeasurementReport, Report};
use crate::output::text::closing::uncertainty_notes;
use crate::output::text::definitions as names;
use crate::trial::heat;

/// What no circuit file can say.
const NEVER_MODELLED: [&str; 4] = [
    "inductance and resistance of the layout, except what stands in the file as a part",
    "interference, radiated or picked up, and what one part does to another without a wire",
    "mechanical stress, moisture, ageing, except where a part's own figures say it",
    "damage: parts go on by their laws beyond their ratings, of which only cautions tell",
];

/// What was assumed, and what was not modelled.
pub(super) fn assumptions(report: &Report) -> String {
    let tests = &report.tests;
    let mut assumed = Vec::new();
    assumed.push(match tests.iter().filter(|t| !t.condition.nominal_only).count() {
        0 => "nominal values: tolerances, temperature and supply are those that each test names"
            .to_owned(),
        n if n == tests.len() => {
            "each requirement at its worst corner; curves at nominal values".to_owned()
        }
        n => format!(
            "{n} of {} tests at their worst corners, the others nominal; curves at nominal values",
            tests.len()
        ),
    });
    if tests.iter().any(|t| t.condition.window_v.is_none()) {
        assumed.push(
            "no window is given for the output in some tests, so levels are not held against one"
                .to_owned(),
        );
    }
    if tests.iter().any(|t| t.condition.quick) {
        assumed.push(
            "solved once only (`--quick`): the numerical uncertainty is not known".to_owned(),
        );
    }
    if !tests.iter().any(|t| t.listings.iter().any(|l| l.name == heat::NAME)) {
        assumed.push(
            "parts stay at the ambient temperature of each test: no heat path is described"
                .to_owned(),
        );
    }
    let inside = element("h2", "What this rests on")
        + &element("h3", "Assumed")
        + &list(&assumed)
        + &element("h3", "Not modelled")
        + &list(&NEVER_MODELLED);
    around("section", &inside)
}

/// What the names of required measurements mean.
pub(super) fn definitions(report: &Report) -> String {
    let pair = |(name, definition): (&str, &str)| element("dt", name) + &element("dd", definition);
    let told: String = names::told(report).into_iter().map(pair).collect();
    if told.is_empty() {
        return told;
    }
    around("section", &(element("h2", "Definitions") + &around("dl class=\"facts\"", &told)))
}

/// The largest numerical uncertainty of what was judged, over its value.
fn uncertainty(measurements: &[MeasurementReport]) -> Option<f64> {
    let judged = measurements.iter().filter(|m| m.limit.is_some());
    let shares = judged.filter_map(|m| {
        let (value, uncertainty) = (m.value?, m.numerical_uncertainty?);
        (value != 0.0).then_some((uncertainty / value).abs())
    });
    shares.filter(|s| s.is_finite()).reduce(f64::max)
}

/// Work of the solver, how well its books balance, how certain its numbers are.
pub(super) fn work(report: &Report) -> String {
    let heads = [
        "test",
        "aimed at>",
        "largest uncertainty>",
        "steps>",
        "steps repeated>",
        "Newton iterations>",
        "factorisations>",
        "energy missing>",
        "charge missing>",
    ];
    let mut table = Table::new("work and numerical uncertainty of each test", &heads);
    for (index, test) in report.tests.iter().enumerate() {
        let work = test.work;
        let text = |value: Option<String>| Cell::Number(value.unwrap_or_else(|| "–".to_owned()));
        let balance = test.balance.as_ref();
        let share = |value: f64| if value == 0.0 { "0".to_owned() } else { format!("{value:.1e}") };
        table.row(&[
            Cell::Link { to: anchor(index), text: test.name.clone(), below: String::new() },
            text(test.condition.accuracy_v.map(|v| engineering(v, "V", 2))),
            text(uncertainty(&test.measurements).map(share)),
            Cell::Number(work.steps.to_string()),
            Cell::Number((work.rejected_error + work.rejected_newton).to_string()),
            Cell::Number(work.newton_iterations.to_string()),
            Cell::Number(work.factorisations.to_string()),
            text(balance.map(|b| share(b.energy_residual))),
            text(balance.map(|b| share(b.charge_residual))),
        ]);
    }
    let mut notes = uncertainty_notes(report);
    notes.push(
        "the largest uncertainty is that of a judged measurement over its value; energy and charge \
         missing are what the books of a record lack, over what passed"
            .to_owned(),
    );
    around(
        "section",
        &(element("h2", "Work and numerical uncertainty") + &table.html() + &list(&notes)),
    )
}

/// What else was written, beside this page.
pub(super) fn files(report: &Report) -> String {
    let others = report.files.iter().filter(|f| *f != super::REPORT);
    let link = |file: &String| {
        let file = escaped(file);
        around("li", &format!("<a href=\"{file}\">{file}</a>"))
    };
    let links: String = others.map(link).collect();
    if links.is_empty() {
        return links;
    }
    let told = "every point of every curve (CSV), the pictures by themselves (SVG), all figures for programs (JSON)";
    let inside = element("h2", "Files beside this page") + &element("p", told);
    around("section", &(inside + &around("ul class=\"files\"", &links)))
}
