//! `model.json`: the models for programs, SI units, the unit beside each value.

use super::{Report, words};
use crate::output::report::FORMAT;
use crate::study::compare::Ended;
use crate::study::model::{Contradiction, Line, Modelled, Rests, Told, Value as Inner};
use serde_json::{Value, json};

pub(super) fn json(report: &Report<'_>, files: &[String], cautions: &[String]) -> Vec<u8> {
    let modelled = report.modelled;
    let whole = json!({
        "format": FORMAT,
        "command": "model",
        "file": report.file,
        "title": report.title,
        "regulator": modelled.regulator,
        "meets_all_points": modelled.meets_all(),
        "is_consistent": modelled.is_consistent(),
        "points": modelled.points.iter().map(point).collect::<Vec<_>>(),
        "values": modelled.values.iter().map(value).collect::<Vec<_>>(),
        "not_told_apart": modelled.ties.iter().map(|tie| json!({
            "names": tie.names,
            "correlation": tie.correlation,
            "words": tie.words(),
        })).collect::<Vec<_>>(),
        "undetermined": words::undetermined(modelled).iter().map(|v| &v.name).collect::<Vec<_>>(),
        "contradiction": modelled.contradiction.as_ref().map(|it| contradiction(modelled, it)),
        "recommended_range": modelled.range_ends.iter().map(|end| json!({
            "test": end.name,
            "phase_margin_deg": end.best.as_ref().ok(),
            "reason": end.best.as_ref().err(),
            "unstable_models": end.unstable,
            "models": end.models,
        })).collect::<Vec<_>>(),
        "consequences": modelled.lines.iter().map(line).collect::<Vec<_>>(),
        "models": modelled.ensemble.models.len(),
        "misfit": modelled.misfit,
        "ended": match modelled.ended {
            Ended::Settled => "settled",
            Ended::NothingLower => "nothing-lower",
            Ended::OutOfSteps => "out-of-steps",
        },
        "starts": modelled.starts,
        "starts_agreed": modelled.agreed,
        "seed": report.seed,
        "runs": modelled.runs,
        "assumed": modelled.assumed,
        "written": report.written,
        "files": files,
        "cautions": cautions,
    });
    // A tree made here of finite and missing numbers can always be written.
    let mut bytes = serde_json::to_vec_pretty(&whole).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

fn point(told: &Told) -> Value {
    let point = &told.point;
    let (list, row) = point.row;
    let (within, within_unit) = words::within_in_units(point.within);
    json!({
        "list": list,
        "row": (row > 0).then_some(row),
        "measurement": point.measurement,
        "condition": point.condition,
        "unit": point.unit.symbol(),
        "asked": point.asked,
        "got": told.got.as_ref().ok(),
        "reason": told.got.as_ref().err(),
        "residual": told.got.is_ok().then_some(told.residual),
        "within": within,
        "within_unit": within_unit,
        "met": told.is_met(),
        "lowest": told.range.map(|r| r[0]),
        "highest": told.range.map(|r| r[1]),
    })
}

fn value(value: &Inner) -> Value {
    json!({
        "name": value.name,
        "unit": value.knob.dimension.symbol(),
        "value": value.value,
        "expected": value.expected,
        "origin": words::origin(value.origin),
        "lowest": value.interval.map(|i| i.low),
        "highest": value.interval.map(|i| i.high),
        "at_bound": value.interval.map(|i| i.at_bound),
        "undetermined": value.interval.map(|i| i.is_undetermined()),
        "bounds": [value.knob.low, value.knob.high],
        "of_bench": value.of_bench,
        "text": value.text,
    })
}

fn contradiction(modelled: &Modelled, it: &Contradiction) -> Value {
    let named = |points: &[usize]| -> Vec<String> {
        points.iter().filter_map(|k| Some(modelled.points.get(*k)?.point.words())).collect()
    };
    json!({
        "points": named(&it.points),
        "against": named(&it.against),
        "instead": it.instead,
        "resolves": it.resolves,
        "words": words::contradiction(modelled, it),
    })
}

fn line(line: &Line) -> Value {
    json!({
        "test": line.test,
        "measurement": line.measurement,
        "settings": line.settings,
        "unit": line.unit,
        "limit": line.limit,
        "best": line.best,
        "lowest": line.range.map(|r| r[0]),
        "highest": line.range.map(|r| r[1]),
        "verdicts": line.verdicts.iter().map(|v| v.word()).collect::<Vec<_>>(),
        "rests_on": match line.rests {
            Rests::OnSheet => Some("datasheet"),
            Rests::OnModels => Some("models"),
            Rests::OnAssumed => Some("inside"),
            Rests::Unasked => None,
        },
        "goes_with": line.goes_with.as_ref().map(|(name, correlation)| json!({
            "name": name,
            "correlation": correlation,
        })),
        "without_number": line.without.as_ref().map(|(count, why)| json!({
            "models": count,
            "reason": why,
        })),
    })
}
