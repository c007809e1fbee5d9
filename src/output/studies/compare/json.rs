//! `compare.json`: the comparison for programs, SI units, the unit beside each value.

use super::{Report, Substitution, TraceReport};
use crate::circuit::Change;
use crate::output::report::FORMAT;
use crate::study::compare::substitution::{Held, Missed};
use crate::study::compare::{
    Agreement, Bound, Comparison, Ended, Fitted, Known, Lost, NoiseSource, Only, Shift,
};
use serde_json::{Value, json};

pub(super) fn json(report: &Report<'_>, files: &[String], cautions: &[String]) -> Vec<u8> {
    let whole = json!({
        "format": FORMAT,
        "command": "compare",
        "file": report.file,
        "title": report.title,
        "comparison": report.trace.as_ref().map(compared),
        "substitution": report.substitution.as_ref().map(checked),
        "files": files,
        "cautions": cautions,
    });
    // A tree made here of finite and missing numbers can always be written.
    let mut bytes = serde_json::to_vec_pretty(&whole).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

fn compared(told: &TraceReport<'_>) -> Value {
    let comparison = told.comparison;
    let condition = &comparison.outcome.condition;
    json!({
        "measured": told.file,
        "time_column": told.trace.time_head,
        "value_column": told.trace.volt_head,
        "test": comparison.outcome.name,
        "node": comparison.node,
        "condition": {
            "source_v": condition.source_v,
            "source": condition.source,
            "load": condition.load,
            "ambient_c": condition.ambient_c,
            "values": condition.values.iter().map(|(n, v)| json!({ "name": n, "value": v })).collect::<Vec<_>>(),
        },
        "samples": comparison.rows.len(),
        "samples_left_out": comparison.left_out,
        "shift": {
            "value": comparison.shift_s,
            "unit": "s",
            "half_width_95": comparison.worth.shift_s,
            "found": told.ask.shift == Shift::Free,
        },
        "offset": {
            "value": comparison.offset_v,
            "unit": "V",
            "half_width_95": comparison.worth.offset_v,
            "found": told.ask.offset_free,
        },
        "values": comparison.values.iter().map(fitted).collect::<Vec<_>>(),
        "not_told_apart": comparison.worth.lost.iter().map(lost).collect::<Vec<_>>(),
        "tied": comparison.worth.tied.iter().map(|(a, b, tie)| json!({ "names": [a, b], "correlation": tie })).collect::<Vec<_>>(),
        "changes": changes(&comparison.changes),
        "residual": residual(comparison),
        "compared": comparison.compared.iter().map(|row| json!({
            "name": row.name,
            "unit": row.unit,
            "measured": row.measured,
            "simulated": row.simulated,
            "settings": row.settings.iter().cloned().map(|(k, v)| (k, Value::from(v))).collect::<serde_json::Map<_, _>>(),
        })).collect::<Vec<_>>(),
        "ended": comparison.ended.map(|ended| match ended {
            Ended::Settled => "settled",
            Ended::NothingLower => "nothing-lower",
            Ended::OutOfSteps => "out-of-steps",
        }),
        "other_values": comparison.others.iter().map(|(list, rms)| json!({ "changes": changes(list), "rms_v": rms })).collect::<Vec<_>>(),
        "solutions": comparison.runs,
    })
}

fn residual(comparison: &Comparison) -> Value {
    let left = &comparison.remainder;
    let source = match left.noise.source {
        NoiseSource::Given => "given",
        NoiseSource::BeforeEdge { .. } => "before-edge",
        NoiseSource::Neighbours => "neighbours",
    };
    json!({
        "rms": left.rms_v,
        "rms_at_file_values": left.present_rms_v,
        "largest": left.largest_v,
        "unit": "V",
        "largest_at_s": left.largest_at_s,
        "noise": { "value": left.noise.volt, "unit": "V", "source": source },
        "correlation": comparison.worth.correlation,
        "independent_samples": comparison.worth.independent,
        "agreement": match left.agreement {
            Agreement::WithinNoise => "within-noise",
            Agreement::AboveNoise => "above-noise",
            Agreement::BelowNoise => "below-noise",
        },
    })
}

fn fitted(one: &Fitted) -> Value {
    let (state, low, high, rise) = match &one.known {
        Known::Within { low, high, rise } => ("known", Some(*low), Some(*high), Some(*rise)),
        Known::OnBound(Bound::Lower) => ("on-lower-bound", None, None, None),
        Known::OnBound(Bound::Upper) => ("on-upper-bound", None, None, None),
        Known::Lost => ("cannot-be-told", None, None, None),
    };
    json!({
        "name": one.knob.path,
        "value": one.value,
        "unit": one.knob.dimension.symbol(),
        "in_the_file": one.knob.present,
        "low_95": low,
        "high_95": high,
        "rise_at_ends": rise,
        "bounds": [one.knob.low, one.knob.high],
        "state": state,
    })
}

fn lost(one: &Lost) -> Value {
    json!({
        "names": one.names,
        "only": match one.only {
            Only::Sum => "sum",
            Only::Product => "product",
            Only::Ratio => "ratio",
            Only::Parallel => "parallel",
            Only::Combination => "combination",
            Only::Nothing => "nothing",
        },
        "value": one.figure.map(|f| f[0]),
        "low_95": one.figure.map(|f| f[1]),
        "high_95": one.figure.map(|f| f[2]),
        "words": one.words(),
    })
}

fn changes(list: &[Change]) -> Value {
    list.iter().map(|change| json!({ "path": change.path, "value": change.text })).collect()
}

fn checked(told: &Substitution) -> Value {
    json!({
        "part": told.substitute.part,
        "passes": told.passes(),
        "region": told.region.as_ref().map(|(file, held)| json!({
            "file": file,
            "held": held.iter().map(limits).collect::<Vec<_>>(),
        })),
        "verified": told.verified.as_ref().map(|verified| json!({
            "tests": verified.tests,
            "runs": verified.runs,
            "missed": verified.missed.iter().map(missed).collect::<Vec<_>>(),
        })),
    })
}

fn limits(held: &Held) -> Value {
    json!({
        "key": held.key,
        "value": held.value,
        "unit": held.unit,
        "min": held.limits.low,
        "max": held.limits.high,
        "outside_by": held.outside,
        "words": held.words(),
    })
}

fn missed(missed: &Missed) -> Value {
    json!({
        "test": missed.test,
        "measurement": missed.measurement,
        "value": missed.value,
        "unit": missed.unit,
        "limit": missed.limit,
        "reason": missed.reason,
        "changes": changes(&missed.changes),
    })
}
