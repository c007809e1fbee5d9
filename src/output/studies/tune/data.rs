//! `tune.json`, in SI base units.

use super::{FILES, View, fate_word};
use crate::output::report::FORMAT;
use crate::study::tune::{Bound, Fate, NotCured, Region, SideEnd, Spot, Standing};
use serde_json::{Map, Value, json};

pub(super) fn json(view: &View<'_>) -> Vec<u8> {
    let tuning = view.tuning;
    let present = tuning.present.and_then(|k| view.standing(k));
    let place = tuning.present.and_then(|k| tuning.ranking.iter().position(|&r| r == k));
    let what_if = view
        .scope
        .what_if
        .iter()
        .map(|(test, path)| json!({ "test": view.test_name(*test), "sets": path }));
    let names = |tests: &[usize]| {
        tests.iter().map(|&t| view.test_name(t).to_owned()).collect::<Vec<String>>()
    };
    let ranking = tuning.ranking.iter().enumerate();
    let told = json!({
        "format": FORMAT,
        "command": "tune",
        "file": view.file,
        "title": view.plan.circuit.title,
        "verdict": view.verdict(),
        "tuned": tuning.tuned.iter().map(|t| json!({
            "name": t.path,
            "unit": t.dimension.symbol(),
            "from": t.from,
            "values": t.choices.iter().map(|c| c.1).collect::<Vec<f64>>(),
            "present": t.present,
            "tolerance": t.tolerance,
        })).collect::<Vec<Value>>(),
        "nominal_only": tuning.nominal,
        "tests": {
            "held_against": names(&view.scope.moved),
            "judged_once": names(&view.scope.at_rest),
            "left_out": what_if.collect::<Vec<Value>>(),
        },
        "ended": view.ended(),
        "runs": tuning.runs,
        "rule": view.rule(),
        "enough_margin": tuning.enough,
        "alike_margin": tuning.alike.map(|(_, margin)| margin).filter(|m| m.is_finite()),
        "choice": tuning.choice.and_then(|k| view.standing(k)).map(|s| standing(view, s)),
        "present": present.map(|s| standing(view, s)),
        "present_rank": place.map(|place| place + 1),
        "ranking": ranking.filter_map(|(place, &k)| {
            let mut told = standing(view, view.standing(k)?);
            told.insert("rank".to_owned(), json!(place + 1));
            Some(told)
        }).collect::<Vec<_>>(),
        "rejected": tuning.standings.iter().filter(|s| s.fate != Fate::Meets)
            .map(|s| standing(view, s)).collect::<Vec<_>>(),
        "not_cured": tuning.not_cured.iter().map(|n| not_cured(view, n)).collect::<Vec<_>>(),
        "allowed_region": tuning.regions.iter().map(|r| region(view, r)).collect::<Vec<_>>(),
        "files": FILES,
        "cautions": view.cautions(),
    });
    let mut bytes = serde_json::to_vec_pretty(&told).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

fn standing(view: &View<'_>, standing: &Standing) -> Map<String, Value> {
    let candidate = &standing.candidate;
    let mut told = Map::new();
    let values = candidate.values.iter().zip(&view.tuning.tuned);
    let values: Map<String, Value> = values.map(|(v, t)| (t.path.clone(), json!(v))).collect();
    told.insert("values".to_owned(), Value::Object(values));
    told.insert("set".to_owned(), json!(View::arguments(standing, &[])));
    told.insert("present".to_owned(), json!(candidate.is_present));
    told.insert("verdict".to_owned(), json!(fate_word(standing)));
    told.insert("size".to_owned(), json!({ "value": candidate.size_fv, "unit": "F·V" }));
    told.insert("count".to_owned(), json!(candidate.count));
    told.insert("searched".to_owned(), json!(standing.searched.word()));
    let edge = standing.edge.and_then(|(k, ratio)| {
        Some(json!({ "name": view.tuning.tuned.get(k)?.path, "ratio": ratio }))
    });
    told.insert("nearest_rejected".to_owned(), json!(edge));
    let (key, row, at) = match (&standing.fate, &standing.nearest) {
        (Fate::Misses { row, spot }, _) => ("misses", *row, spot),
        (Fate::Meets, Some((row, spot))) => ("nearest_limit", *row, spot),
        (Fate::Meets, None) => return told,
    };
    let arguments = View::arguments(standing, &at.over);
    told.insert(key.to_owned(), spot(view, view.row(row), at, &arguments));
    told
}

fn spot(view: &View<'_>, row: crate::study::tune::Row, spot: &Spot, arguments: &str) -> Value {
    json!({
        "test": view.test_name(row.test),
        "measurement": view.measurement(row).map(|m| m.name.clone()),
        "settings": view.measurement(row).map(|m| m.settings.clone()),
        "value": spot.line.value,
        "unit": view.unit(row),
        "limit": view.limit(row),
        "margin": spot.line.slack,
        "verdict": spot.line.verdict.word(),
        "reason": spot.failure.clone().or_else(|| spot.line.reason.clone()),
        "stage": spot.stage.words(),
        "set": arguments,
        "command": view.command(row, arguments),
    })
}

fn not_cured(view: &View<'_>, not: &NotCured) -> Value {
    let by = not.by.and_then(|k| view.standing(k));
    let arguments = match by {
        Some(standing) => View::arguments(standing, &not.best.over),
        None => crate::study::spell::set_arguments(&not.best.over),
    };
    let mut told = spot(view, not.row, &not.best, &arguments);
    told["why"] = json!(View::why_not(not));
    told
}

fn region(view: &View<'_>, region: &Region) -> Value {
    let raised = region.raised.iter().map(|(test, [c, r])| {
        json!({ "test": view.test_name(*test), "capacitance_times": c, "esr_times": r })
    });
    let ends = |bound: &Bound| json!([bound.low.value, bound.high.value]);
    let stops = |end: &SideEnd| {
        end.stopped_by.map(|k| {
            let row = view.row(k);
            json!({ "test": view.test_name(row.test), "requirement": view.name(row),
                    "limit": view.limit(row) })
        })
    };
    let more = |bound: &Bound| {
        json!({
            "choice": bound.choice,
            "effective_over_label": bound.of_label,
            "label": bound.label,
            "looked_at": bound.reach,
            "low_stopped_by": stops(&bound.low),
            "high_stopped_by": stops(&bound.high),
        })
    };
    json!({
        "part": region.part,
        "capacitance": ends(&region.capacitance),
        "capacitance_unit": "F",
        "esr": ends(&region.esr),
        "esr_unit": "Ω",
        "esr_frequency": 100e3,
        "esr_frequency_unit": "Hz",
        "conditions": super::text::region_conditions(view, region),
        "verified": region.is_verified,
        "places": region.places,
        "raised_by_tests": raised.collect::<Vec<Value>>(),
        "capacitance_detail": more(&region.capacitance),
        "esr_detail": more(&region.esr),
    })
}
