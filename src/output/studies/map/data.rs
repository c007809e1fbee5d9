//! A map for programs: a row a point, and the summary.

use super::words::command;
use super::{About, FILES, Tally, extremes};
use crate::circuit::Spacing;
use crate::output::report::FORMAT;
use crate::study::Models;
use crate::study::axis::Axis;
use crate::study::map::{Along, Edge, Map, Place, Point};
use crate::study::spell::set_arguments;
use serde_json::{Value, json};

/// `c_out [F],esr_out [Ω],droop [V],slack,verdict,reason,kind`, then a row a point.
pub(super) fn csv(map: &Map) -> Vec<u8> {
    let mut bytes = Vec::new();
    // Memory takes every write and all rows are equally long: nothing can fail.
    let written = write(map, &mut bytes);
    debug_assert!(written.is_ok(), "{written:?}");
    bytes
}

fn write(map: &Map, bytes: &mut Vec<u8>) -> Result<(), csv::Error> {
    let mut writer = csv::Writer::from_writer(bytes);
    let with_unit = |name: &str, unit: &str| match unit {
        "" | "1" => name.to_owned(),
        unit => format!("{name} [{unit}]"),
    };
    let axes = map.axes.iter().map(|axis| with_unit(&axis.path, &axis.dimension.symbol()));
    let mut heading: Vec<String> = axes.collect();
    heading.push(with_unit(&map.row.name, map.row.unit));
    heading.extend(["slack", "verdict", "reason", "kind"].map(str::to_owned));
    if map.models.is_some() {
        heading.extend(["models passing", "worst model"].map(str::to_owned));
    }
    writer.write_record(&heading)?;
    let number = |value: Option<f64>| {
        value.filter(|v| v.is_finite()).map_or_else(String::new, |v| {
            let (plain, power) = (format!("{v}"), format!("{v:e}"));
            if power.len() < plain.len() { power } else { plain }
        })
    };
    for point in &map.points {
        let mut row: Vec<String> = point.at.iter().map(|at| number(Some(*at))).collect();
        row.extend([number(point.value), number(point.slack)]);
        let reason = point.reason.clone().unwrap_or_default();
        row.extend([point.verdict.word().to_owned(), reason, point.kind.word().to_owned()]);
        if let Some(models) = &point.models {
            row.extend([models.passing.to_string(), models.worst.clone()]);
        }
        writer.write_record(&row)?;
    }
    writer.flush()?;
    Ok(())
}

/// The summary.
pub(super) fn json(map: &Map, about: &About<'_>, cautions: &[String]) -> Vec<u8> {
    let tally = Tally::of(map);
    let row = &map.row;
    let base: Vec<Value> =
        about.base.iter().map(|c| json!({ "path": c.path, "value": c.text })).collect();
    let line = |line: &Vec<Place>| -> Vec<Vec<f64>> {
        let values = |place: &Place| map.axes.iter().zip(place).map(|(a, f)| a.at(*f)).collect();
        line.iter().map(values).collect()
    };
    let (worst, best) = extremes(map).unzip();
    let names = if row.limit_text.is_some() { ["worst", "best"] } else { ["lowest", "highest"] };
    let mut summary = json!({
        "format": FORMAT,
        "command": "map",
        "file": about.file,
        "title": about.title,
        "test": about.test,
        "measurement": {
            "name": row.name,
            "unit": row.unit,
            "limit": row.limit_text,
            "settings": row.settings,
            "definition": row.definition,
        },
        "conditions": {
            "load": map.condition.load,
            "source": map.condition.source,
            "source_v": map.condition.source_v,
            "ambient_c": map.condition.ambient_c,
            "values": map.condition.values.iter().map(|(k, v)| json!({ "path": k, "value": v })).collect::<Vec<_>>(),
            "set": base,
        },
        "axes": map.axes.iter().map(axis).collect::<Vec<_>>(),
        "places": { "asked": tally.places, "hold": tally.holds },
        "present": present(map),
        "nearest_edge": map.nearest.as_ref().map(|e| edge(map, e)),
        "along": map.along.iter().map(|a| along(map, a)).collect::<Vec<_>>(),
        "edges": map.edges.iter().map(|e| edge(map, e)).collect::<Vec<_>>(),
        "boundary": map.boundary.iter().map(line).collect::<Vec<_>>(),
    });
    for (name, found) in names.into_iter().zip([worst, best]) {
        let told = found.map(|p| {
            let mut told = point(map, p);
            told["command"] = command(about, &p.changes).into();
            told
        });
        summary[name] = told.into();
    }
    if let Some(models) = &map.models {
        let names: Vec<&str> = models.list.iter().map(|model| model.name.as_str()).collect();
        summary["models"] = json!({ "regulator": models.regulator, "names": names });
        summary["places"]["hold_with_some_models_only"] = json!(tally.open);
    }
    summary["rows"] = map.points.iter().map(|p| point(map, p)).collect::<Vec<_>>().into();
    summary["work"] = json!({ "runs": map.points.len() * map.models.as_ref().map_or(1, Models::count), "steps": map.steps });
    summary["notes"] = json!(map.notes);
    summary["files"] = json!(FILES);
    summary["cautions"] = json!(cautions);
    let mut bytes = serde_json::to_vec_pretty(&summary).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

fn axis(axis: &Axis) -> Value {
    json!({
        "path": axis.path,
        "label": axis.label,
        "unit": axis.dimension.symbol(),
        "low": axis.low,
        "high": axis.high,
        "count": axis.count,
        "spacing": match axis.spacing { Spacing::Linear => "linear", Spacing::Logarithmic => "log" },
        "present": axis.present,
    })
}

fn point(map: &Map, point: &Point) -> Value {
    let mut told = json!({
        "at": point.at,
        "value": point.value,
        "unit": map.row.unit,
        "slack": point.slack,
        "verdict": point.verdict.word(),
        "reason": point.reason,
        "kind": point.kind.word(),
        "set": set_arguments(&point.changes),
    });
    if let Some(models) = &point.models {
        told["models_passing"] = json!(models.passing);
        told["worst_model"] = json!(models.worst);
    }
    told
}

fn edge(map: &Map, edge: &Edge) -> Value {
    json!({
        "holds": point(map, &map.points[edge.holds]),
        "misses": point(map, &map.points[edge.misses]),
        "changes": edge.shares,
        "distance": edge.distance,
    })
}

fn along(map: &Map, along: &Along) -> Value {
    json!({
        "path": map.axes[along.axis].path,
        "direction": if along.up { "up" } else { "down" },
        "edge": along.edge.as_ref().map(|e| edge(map, e)),
    })
}

fn present(map: &Map) -> Value {
    let Some(present) = &map.present else { return Value::Null };
    let mut told = point(map, &map.points[present.point]);
    told["tolerance_limits"] = json!(present.limits);
    told["tolerances_cross_the_boundary"] = json!(present.is_crossed);
    told
}
