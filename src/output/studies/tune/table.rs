//! `tune.csv`: one row a candidate.

use super::{View, fate_word};
use crate::study::tune::{Fate, Spot};

pub(super) fn csv(view: &View<'_>) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut head: Vec<String> = Vec::new();
    for tuned in &view.tuning.tuned {
        head.push(heading(&tuned.path, &tuned.dimension.symbol()));
    }
    for name in ["size [F·V]", "count", "present", "rank", "verdict", "least_margin", "requirement"]
    {
        head.push(name.to_owned());
    }
    for name in ["test", "value", "unit", "limit", "where", "stage", "searched", "reason"] {
        head.push(name.to_owned());
    }
    // Memory takes every write, and every row has as many cells as the head.
    let mut written = writer.write_record(&head);
    for k in 0..view.tuning.standings.len() {
        written = written.and_then(|()| writer.write_record(row(view, k)));
    }
    debug_assert!(written.is_ok(), "{written:?}");
    writer.into_inner().unwrap_or_default()
}

fn heading(name: &str, unit: &str) -> String {
    if unit.is_empty() { name.to_owned() } else { format!("{name} [{unit}]") }
}

fn row(view: &View<'_>, k: usize) -> Vec<String> {
    let Some(standing) = view.standing(k) else { return Vec::new() };
    let candidate = &standing.candidate;
    let rank = view.tuning.ranking.iter().position(|&r| r == k);
    let told: Option<(usize, &Spot)> = match &standing.fate {
        Fate::Misses { row, spot } => Some((*row, spot)),
        Fate::Meets => standing.nearest.as_ref().map(|(row, spot)| (*row, spot)),
    };
    let mut cells: Vec<String> = candidate.values.iter().map(|v| number(*v)).collect();
    cells.push(number(candidate.size_fv));
    cells.push(number(candidate.count));
    cells.push(if candidate.is_present { "yes" } else { "no" }.to_owned());
    cells.push(rank.map_or_else(String::new, |rank| (rank + 1).to_string()));
    cells.push(fate_word(standing).to_owned());
    let Some((row, spot)) = told else {
        cells.extend((0..8).map(|_| String::new()));
        cells.push(standing.searched.word().to_owned());
        cells.push(String::new());
        return cells;
    };
    let at = view.row(row);
    cells.push(spot.line.slack.map_or_else(String::new, number));
    cells.push(view.name(at));
    cells.push(view.test_name(at.test).to_owned());
    cells.push(spot.line.value.map_or_else(String::new, number));
    cells.push(view.unit(at).to_owned());
    cells.push(view.limit(at).to_owned());
    cells.push(View::arguments(standing, &spot.over));
    cells.push(spot.stage.words().to_owned());
    cells.push(standing.searched.word().to_owned());
    let reason = spot.failure.clone().or_else(|| spot.line.reason.clone());
    cells.push(reason.unwrap_or_default());
    cells
}

/// The shortest digits that read back the same.
fn number(value: f64) -> String {
    let (plain, power) = (format!("{value}"), format!("{value:e}"));
    if !value.is_finite() {
        String::new()
    } else if power.len() < plain.len() {
        power
    } else {
        plain
    }
}
