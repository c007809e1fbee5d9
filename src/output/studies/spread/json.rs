//! `spread.json`: everything but the single runs.

use super::Told;
use super::words::{command, contributors_words};
use crate::circuit::Change;
use crate::measure::{Limit, Measurement};
use crate::study::Line;
use crate::study::spread::{
    CONFIDENCE, Contributors, Drawn, Figures, Law, ModelShare, On, PERCENTS, Reach, RowSpread,
    Share, Sort, StaticBudget, TestSpread,
};
use serde_json::{Map, Value, json};

/// Version of the layout.
const FORMAT: u32 = 1;

/// The file.
pub(super) fn json(told: &Told<'_>, files: &[String], cautions: &[String]) -> Vec<u8> {
    let spread = told.spread;
    let fixed: Vec<Value> = spread.fixed.iter().map(change).collect();
    let mut whole = json!({
        "format": FORMAT,
        "command": "spread",
        "file": told.file,
        "title": told.plan.circuit.title,
        "verdict": spread.verdict(told.runner).word(),
        "runs": spread.asked.runs,
        "seed": spread.asked.seed,
        "quick": spread.asked.quick,
        "drawn": spread.drawn.iter().map(drawn).collect::<Vec<_>>(),
        "set_in_every_run": fixed,
        "without_tolerance": {
            "values": spread.without.values,
            "parts": spread.without.parts,
        },
        "yield": share(spread.share),
        "nothing_to_judge": told.idle(),
        "tests": spread.tests.iter().map(|test| test_value(told, test)).collect::<Vec<_>>(),
        "files": files,
        "cautions": cautions,
    });
    if let Some(models) = &told.runner.models {
        let names: Vec<&str> = models.list.iter().map(|model| model.name.as_str()).collect();
        whole["models"] =
            json!({ "regulator": models.regulator, "names": names, "drawn": "each as likely" });
    }
    let mut bytes = serde_json::to_vec_pretty(&whole).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

fn change(change: &Change) -> Value {
    json!({ "path": change.path, "text": change.text })
}

fn drawn(drawn: &Drawn) -> Value {
    let law = match drawn.law {
        Law::Between => "uniform between the lowest and the highest level",
        Law::OneOf(_) => "one of the levels, each as likely",
        Law::Uniform => "uniform between the limits",
        Law::Normal => "normal about nominal, each limit at three standard deviations of its side",
    };
    json!({
        "path": drawn.path,
        "unit": drawn.dimension.symbol(),
        "nominal": drawn.nominal,
        "low": drawn.low,
        "high": drawn.high,
        "distribution": law,
        "of": if drawn.nominal.is_none() {
            "environment"
        } else if drawn.is_band {
            "dielectric"
        } else {
            "tolerance"
        },
    })
}

fn share(share: Share) -> Value {
    json!({
        "runs": share.of,
        "failing": share.failing,
        "yield": share.holding(),
        "interval": share.interval(),
        "confidence": CONFIDENCE,
        "failing_at_most": share.rule_of_three(),
    })
}

fn test_value(told: &Told<'_>, test: &TestSpread) -> Value {
    let of = told.plan.tests.get(test.test);
    let sheet = told.sheet(test.test);
    let rows = sheet.map(|s| s.rows.as_slice()).unwrap_or_default();
    let unsolved = test.unsolved.iter().map(|(why, runs)| json!({ "reason": why, "runs": runs }));
    let envelope = test.envelope.as_ref().map(|envelope| {
        let window = |w: &crate::study::spread::Window| {
            json!({
                "label": w.label,
                "from_s": w.times_s.first(),
                "to_s": w.times_s.last(),
                "lowest_v": w.lowest_v.iter().copied().reduce(f64::min),
                "highest_v": w.highest_v.iter().copied().reduce(f64::max),
            })
        };
        json!({
            "runs": envelope.runs,
            "windows": envelope.windows.iter().map(window).collect::<Vec<_>>(),
        })
    });
    let measurement = |(k, row): (usize, &Measurement)| row_value(told, test, k, row);
    let mut value = json!({
        "name": of.map(|t| t.name.as_str()),
        "kind": of.map(|t| t.kind.word()),
        "verdict": sheet.map(|sheet| test.verdict(sheet).word()),
        "yield": share(test.share),
        "unsolved": unsolved.collect::<Vec<_>>(),
        "searched_runs": test.searched,
        "measurements": rows.iter().enumerate().map(measurement).collect::<Vec<_>>(),
        "static_error_budget": test.budget.as_ref().map(budget),
        "envelope": envelope,
    });
    if let Some(worst) = test.worst_model() {
        let of = |of: &ModelShare| json!({ "model": of.name, "yield": share(of.share) });
        value["yield_by_model"] = test.models.iter().map(of).collect::<Vec<_>>().into();
        value["worst_model"] = json!(worst.name);
    }
    value
}

fn row_value(told: &Told<'_>, test: &TestSpread, k: usize, row: &Measurement) -> Value {
    let (low, high) = match test.limits.get(k).copied().flatten() {
        Some(Limit::AtMost(high)) => (None, Some(high)),
        Some(Limit::AtLeast(low)) => (Some(low), None),
        Some(Limit::Between(low, high)) => (Some(low), Some(high)),
        None => (None, None),
    };
    let mut value = json!({
        "name": row.name,
        "unit": row.unit,
        "settings": row.settings,
        "limit": row.limit,
        "limit_low": low,
        "limit_high": high,
        "advisory": row.advisory,
        "nominal": { "value": row.value, "verdict": row.verdict.word() },
    });
    let Value::Object(map) = &mut value else { return value };
    if let Some(found) = test.rows.get(k) {
        map.extend(figures(found));
        let run = found.worst.as_ref().and_then(|worst| {
            let changes = &test.draws.get(worst.run - 1)?.changes;
            let mut value = line(told, test, &worst.line, changes);
            value.insert("run".to_owned(), json!(worst.run));
            Some(Value::Object(value))
        });
        map.insert("worst_run".to_owned(), json!(run));
    }
    let extreme = test.extremes.get(k).map(|e| line(told, test, &e.line, &e.changes));
    map.insert("worst_vertex".to_owned(), json!(extreme));
    let worse = test.worst_of_row(k).map(|(run, ..)| if run.is_some() { "run" } else { "vertex" });
    map.insert("worse".to_owned(), json!(worse));
    let found = test.contributors.get(k).and_then(Option::as_ref);
    map.insert("contributors".to_owned(), json!(found.map(|c| contributors(told, test, c))));
    if !test.models.is_empty() {
        let between = test.between_models.get(k).copied().flatten();
        map.insert("variance_between_models".to_owned(), json!(between));
    }
    map.insert("definition".to_owned(), json!(row.definition));
    value
}

fn figures(row: &RowSpread) -> Map<String, Value> {
    let mut map = Map::new();
    let mut put = |key: &str, value: Value| {
        map.insert(key.to_owned(), value);
    };
    put("runs_with_value", json!(row.figures.as_ref().map_or(0, |f| f.count)));
    let of = |get: fn(&Figures) -> f64| json!(row.figures.as_ref().map(get));
    put("mean", of(|f| f.mean));
    put("standard_deviation", of(|f| f.deviation));
    put("minimum", of(|f| f.minimum));
    put("maximum", of(|f| f.maximum));
    let percentiles: Vec<Value> = row
        .figures
        .iter()
        .flat_map(|f| PERCENTS.iter().zip(f.percentiles))
        .map(|(percent, value)| json!({ "percent": percent, "value": value }))
        .collect();
    put("percentiles", json!(percentiles));
    put("yield", share(row.share));
    let reasons = row.reasons.iter().map(|(why, runs)| json!({ "reason": why, "runs": runs }));
    put("reasons", json!(reasons.collect::<Vec<_>>()));
    map
}

fn line(told: &Told<'_>, test: &TestSpread, line: &Line, changes: &[Change]) -> Map<String, Value> {
    let value = json!({
        "value": line.value,
        "slack": line.slack,
        "verdict": line.verdict.word(),
        "reason": line.reason,
        "set": changes.iter().map(change).collect::<Vec<_>>(),
        "command_line": command(told, test.test, changes),
    });
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}

fn contributors(told: &Told<'_>, test: &TestSpread, found: &Contributors) -> Value {
    let list = found.list.iter().map(|c| {
        let drawn = test.columns.get(c.quantity).and_then(|at| told.spread.drawn.get(*at));
        json!({
            "path": drawn.map(|d| d.path.as_str()),
            "share": c.share,
            "standardised_coefficient": c.coefficient,
        })
    });
    json!({
        "on": match found.on { On::Values => "values", On::Ranks => "ranks" },
        "explained": found.explained,
        "explained_linearly": found.linear,
        "list": list.collect::<Vec<_>>(),
        "told": contributors_words(told.spread, test, found),
    })
}

fn budget(budget: &StaticBudget) -> Value {
    let line = |line: &crate::study::spread::BudgetLine| {
        json!({
            "cause": line.name,
            "sort": sort_word(line.sort),
            "at_low": line.at_low_v,
            "at_high": line.at_high_v,
            "unit": "V",
        })
    };
    let reach = |reach: &Reach| {
        json!({
            "before": reach.before_v,
            "settled": reach.settled_v,
            "left_for_droop": reach.left_below_v,
            "left_for_overshoot": reach.left_above_v,
            "unit": "V",
        })
    };
    json!({
        "level": budget.level,
        "value": budget.level_v,
        "unit": "V",
        "rail_nominal": budget.nominal_v,
        "window": budget.window_v,
        "transient_window": budget.transient_window_v,
        "lines": budget.lines.iter().map(line).collect::<Vec<_>>(),
        "below_a_millionth": budget.unseen,
        "not_solved": budget.unsolved,
        "extreme": reach(&budget.extreme),
        "root_sum_square": reach(&budget.root_sum_square),
    })
}

/// The sort of a cause in a word.
pub(super) fn sort_word(sort: Sort) -> &'static str {
    match sort {
        Sort::Systematic => "systematic",
        Sort::Change => "change",
        Sort::Environment => "environment",
        Sort::Tolerance => "tolerance",
    }
}
