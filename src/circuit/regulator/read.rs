//! From the keys of a regulator and of its model to a datasheet. Whether what the sheet says can be
//! true is told by `doubts`.

use super::draft::{Draft, Entry, Given, from_to, number, tell_missing, word};
use super::rows::rows_of;
use super::sheet::{At, Compensation, Datasheet, GroundCurrent, Level, Limit, Shutdown, Topology};
use crate::device::{Kind, Rule};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};

/// The datasheet that a draft makes; `what` and `place` say in messages whose it is. `None` if
/// something was wrong with it, now or before.
pub(super) fn read_sheet(
    kind: &'static Kind,
    draft: &Draft,
    (what, place): (&str, Span),
    told: &mut Diagnostics,
) -> Option<Datasheet> {
    let mut own = Diagnostics::new();
    tell_missing(kind.keys, draft, (what, place), &mut own);
    for rule in kind.rules {
        check(rule, draft, (what, place), &mut own);
    }
    let sheet = put_together(draft, &mut own);
    let wrong = own.has_errors();
    told.append(own);
    let spoilt = draft.values().any(|given| matches!(given.entry, Entry::Spoilt));
    sheet.filter(|_| !wrong && !spoilt)
}

/// Conditions between keys, as far as the row of the kind has any.
fn check(rule: &Rule, draft: &Draft, (what, place): (&str, Span), told: &mut Diagnostics) {
    let given = |key: &&&str| draft.contains_key(**key);
    match rule {
        Rule::ExactlyOne(keys) => {
            let here: Vec<&str> = keys.iter().filter(given).copied().collect();
            let all = keys.iter().map(|k| format!("`{k}`")).collect::<Vec<_>>().join(" and ");
            if here.is_empty() {
                let message = format!("{what} has none of {all}");
                let hint = format!("add `{} = \"…\"`", keys.first().copied().unwrap_or_default());
                told.push(Diagnostic::error(place, message).hint(hint));
            } else if let [_, second, ..] = here.as_slice() {
                let span = draft.get(second).map_or(place, |given| given.span);
                let message = format!("{what} has more than one of {all}");
                told.push(Diagnostic::error(span, message).hint("take all but one out"));
            }
        }
        Rule::Together(keys) => {
            let missing = keys.iter().find(|key| !draft.contains_key(**key));
            let here = keys.iter().find_map(|key| Some((key, draft.get(*key)?)));
            if let (Some(missing), Some((here, given))) = (missing, here) {
                let message = format!("`{here}` needs `{missing}` beside it");
                let mistake = Diagnostic::error(given.span, message);
                told.push(mistake.hint(format!("add `{missing} = \"…\"`")));
            }
        }
        Rule::Below(low, high) => order(draft, [low, high], true, told),
        Rule::NotAbove(low, high) => order(draft, [low, high], false, told),
        _ => {}
    }
}

fn order(draft: &Draft, [low, high]: [&str; 2], strictly: bool, told: &mut Diagnostics) {
    let (Some(below), Some(above)) = (number(draft, low), number(draft, high)) else { return };
    if below < above || (!strictly && below <= above) {
        return;
    }
    let verb = if strictly { "must be below" } else { "must not be above" };
    let message = format!("`{low}` {verb} `{high}`");
    if let (Some(here), Some(other)) = (draft.get(low), draft.get(high)) {
        let mistake = Diagnostic::error(here.span, message).also(other.span, "the other");
        told.push(mistake.hint("swap the two, if they are meant so"));
    }
}

// The methods belong to one lifetime of a row each, the closures to any.
#[allow(clippy::redundant_closure_for_method_calls)]
fn put_together(draft: &Draft, told: &mut Diagnostics) -> Option<Datasheet> {
    let topology = match word(draft, "topology")? {
        "npn" => Topology::Npn,
        "darlington" => Topology::Darlington,
        "pnp" => Topology::Pnp,
        "pmos" => Topology::Pmos,
        _ => Topology::NmosBias,
    };
    let compensation = match word(draft, "compensation") {
        Some("lag") => Compensation::Lag,
        Some(_) => Compensation::SinglePole,
        None => topology.usual_compensation(),
    };
    let number = |key: &str| number(draft, key);
    let level = match (number("output_voltage"), number("reference_voltage")) {
        (Some(volt), _) => Level::Output(volt),
        (None, Some(volt)) => Level::Reference(volt),
        (None, None) => return None,
    };
    Some(Datasheet {
        topology,
        compensation,
        level,
        accuracy: number("accuracy").unwrap_or(0.0),
        temperature_coefficient: number("temperature_coefficient").unwrap_or(0.0),
        rated_current_a: number("rated_current")?,
        dropouts: rows_of(draft, "dropouts", told, |row| row.dropout()),
        ground: GroundCurrent {
            no_load_a: number("quiescent_current"),
            full_load_a: number("ground_current"),
            in_dropout_a: number("ground_current_in_dropout"),
        },
        limit: limit(draft, told),
        rise_s: number("rise_time"),
        thermal_resistance: number("thermal_resistance"),
        shutdown: number("shutdown_temperature")
            .zip(number("restart_temperature"))
            .map(|(trips_k, restarts_k)| Shutdown { trips_k, restarts_k }),
        enable_v: number("enable_on").zip(number("enable_off")).map(|(on, off)| [on, off]),
        load_regulations: rows_of(draft, "load_regulations", told, |row| row.load_regulation()),
        line_regulations: rows_of(draft, "line_regulations", told, |row| row.line_regulation()),
        transients: rows_of(draft, "transients", told, |row| row.transient()),
        rejections: rows_of(draft, "rejections", told, |row| row.rejection()),
        impedances: rows_of(draft, "impedances", told, |row| row.impedance()),
        noise_densities: rows_of(draft, "noise_densities", told, |row| row.noise_density()),
        noises: rows_of(draft, "noises", told, |row| row.noise()),
        capacitor_f: from_to(draft, "capacitor_range"),
        esr_ohm: from_to(draft, "esr_range"),
        test: At {
            input_v: number("test_input"),
            capacitor_f: number("test_capacitor"),
            esr_ohm: number("test_esr"),
            esl_h: number("test_esl"),
        },
        test_output_v: number("test_output"),
        test_bias_v: number("test_bias"),
    })
}

fn limit(draft: &Draft, told: &mut Diagnostics) -> Option<Limit> {
    let [short_a, fold_v] = ["short_current", "fold_voltage"].map(|key| number(draft, key));
    match (number(draft, "current_limit"), draft.get("short_current")) {
        (Some(limit_a), _) => Some(Limit { limit_a, short_a, fold_v }),
        (None, Some(Given { span, .. })) if !draft.contains_key("current_limit") => {
            let message = "`short_current` needs `current_limit` beside it";
            let hint = "add `current_limit = \"…\"`, the current that it folds back from";
            told.push(Diagnostic::error(*span, message).hint(hint));
            None
        }
        (None, _) => None,
    }
}
