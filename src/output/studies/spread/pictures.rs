//! What the two pictures of a spread show.

use super::Told;
use super::words::{label, percent, value, yield_words};
use crate::measure::{Bound, Limit, Verdict};
use crate::output::number::{difference, engineering};
use crate::output::plot::envelope::{Envelopes, Row, Stretch};
use crate::output::plot::histogram::{Edge, Histogram, Histograms};
use crate::study::Sheet;
use crate::study::spread::{TestSpread, Window};
use crate::study::worst::badness;

/// Histograms on a page.
const MOST_PANELS: usize = 15;

/// The requirements that are nearest to their limits, or beyond.
pub(super) fn histograms(told: &Told<'_>) -> Histograms {
    let mut all: Vec<(f64, usize, usize)> = Vec::new();
    for (which, test) in told.spread.tests.iter().enumerate() {
        let Some(sheet) = told.sheet(test.test) else { continue };
        for (k, row) in sheet.rows.iter().enumerate() {
            let has_values = test.rows.get(k).is_some_and(|found| found.figures.is_some());
            let is_again = (0..k).any(|before| is_same(test, sheet, before, k));
            if let Some((_, line, _)) = test.worst_of_row(k)
                && has_values
                && !row.advisory
                && !is_again
            {
                all.push((badness(line), which, k));
            }
        }
    }
    let count = all.len();
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.truncate(MOST_PANELS);
    // In the order of the file, so that a test's panels stand together.
    all.sort_by_key(|(_, which, k)| (*which, *k));
    let panels = all.into_iter().filter_map(|(_, which, k)| {
        let test = told.spread.tests.get(which)?;
        Some(histogram(test, told.sheet(test.test)?, k))
    });
    let panels: Vec<Histogram> = panels.collect();
    let mut caption = conditions(told);
    if count > panels.len() {
        caption.push(format!(
            "Shown are the {} requirements nearest to their limits, of {count}; the others stand in \
             spread.json.",
            panels.len()
        ));
    }
    Histograms {
        title: format!("Spread — {}", told.plan.circuit.title),
        subtitle: format!("whole file: {}", yield_words(told.spread.share)),
        caption,
        panels,
    }
}

/// The same figures against the same limit: two windows, a measurement named twice.
fn is_same(test: &TestSpread, sheet: &Sheet, before: usize, k: usize) -> bool {
    let figures = |k: usize| test.rows.get(k).map(|row| &row.figures);
    sheet.rows[before].unit == sheet.rows[k].unit
        && !sheet.rows[before].advisory
        && figures(before) == figures(k)
        && test.limits.get(before) == test.limits.get(k)
}

fn conditions(told: &Told<'_>) -> Vec<String> {
    let spread = told.spread;
    let paths: Vec<&str> = spread.drawn.iter().map(|d| d.path.as_str()).collect();
    let drawn = if paths.is_empty() { "nothing".to_owned() } else { paths.join(", ") };
    vec![
        format!(
            "{} runs a test from seed {}; drawn: {drawn}. What has no tolerance was not varied.",
            spread.asked.runs, spread.asked.seed
        ),
        "Calculated, not measured.".to_owned(),
    ]
}

fn histogram(test: &TestSpread, sheet: &Sheet, k: usize) -> Histogram {
    let row = &sheet.rows[k];
    let found = &test.rows[k];
    let edge = |at: f64, forbids_above: bool| {
        let text = engineering(at, row.unit, 3);
        Edge {
            at,
            forbids_above,
            text: format!("{} {text}", if forbids_above { "≤" } else { "≥" }),
        }
    };
    let limits = match test.limits.get(k).copied().flatten() {
        Some(Limit::AtMost(high)) => vec![edge(high, true)],
        Some(Limit::AtLeast(low)) => vec![edge(low, false)],
        Some(Limit::Between(low, high)) => vec![edge(low, false), edge(high, true)],
        None => Vec::new(),
    };
    let figures = found.figures.as_ref();
    let [low, high] = found.share.interval();
    let yield_line =
        format!("yield {} ({} to {})", percent(found.share.holding()), percent(low), percent(high));
    let figures_line = figures.map_or_else(String::new, |f| {
        format!(
            "nominal {}, {} … {}, σ {}",
            value(row.value, row.unit),
            engineering(f.minimum, row.unit, 3),
            engineering(f.maximum, row.unit, 3),
            difference(f.deviation, row.unit, 2)
        )
    });
    let values = test.readings.iter().filter_map(|r| r.lines.get(k)?.value).collect();
    Histogram {
        heading: label(row),
        test: sheet.outcome.name.clone(),
        lines: [yield_line, figures_line],
        unit: row.unit,
        values,
        limits,
        nominal: row.value,
        percentiles: figures.map(|f| [f.percentiles[0], f.percentiles[4]]),
        vertex: test.extremes.get(k).and_then(|e| e.line.value),
    }
}

/// Tests in time; `None` where there are none.
pub(super) fn envelopes(told: &Told<'_>) -> Option<Envelopes> {
    let rows: Vec<Row> =
        told.spread.tests.iter().filter_map(|test| row(test, told.sheet(test.test)?)).collect();
    let runs = told.spread.tests.iter().filter_map(|t| Some(t.envelope.as_ref()?.runs)).max()?;
    Some(Envelopes {
        title: format!("Output over the spread — {}", told.plan.circuit.title),
        subtitle: format!("the first {runs} drawn runs of each test, edges magnified"),
        caption: conditions(told),
        rows,
    })
}

fn row(test: &TestSpread, sheet: &Sheet) -> Option<Row> {
    let envelope = test.envelope.as_ref()?;
    let band = match sheet.outcome.condition.rail.every_instant() {
        Bound::Within { low_v, high_v } => Some([low_v, high_v]),
        Bound::NotGiven | Bound::Off => None,
    };
    let stretch = |window: &Window| Stretch {
        label: window.label.clone(),
        times_s: window.times_s.clone(),
        nominal_v: window.nominal_v.clone(),
        worst_v: window.worst_v.clone(),
        outer_v: [window.lowest_v.clone(), window.highest_v.clone()],
        inner_v: [window.low_v.clone(), window.high_v.clone()],
    };
    let worst = test.worst_of_all(sheet).and_then(|(k, _)| {
        let (run, line, _) = test.worst_of_row(k)?;
        let what = run.map_or_else(|| "vertex".to_owned(), |run| format!("run {run}"));
        let found = value(line.value, sheet.rows[k].unit);
        let limit = sheet.rows[k].limit.clone().unwrap_or_default();
        let word = if line.verdict == Verdict::Fail { ", fails" } else { "" };
        Some(format!("worst: {what}, {} {found} ({limit}{word})", label(&sheet.rows[k])))
    });
    Some(Row {
        heading: sheet.outcome.name.clone(),
        worst: worst.unwrap_or_default(),
        band,
        windows: envelope.windows.iter().map(stretch).collect(),
    })
}
