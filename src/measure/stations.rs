//! Figures of a test that is solved at several conditions: what they are asked with, and which is worst.

use super::bench::{Bench, Finding, Number, Options};
use super::definition::{Definition, RequirementOption};
use super::figures::{Absence, Asked, DROPOUT_DEFINITIONS, Figure, Worse};
use super::requirement::Requirement;

/// The rows of one measurement: each requirement's, then what is told in any case.
pub(super) fn asked_of<'a>(
    definition: &Definition,
    requirements: &'a [Requirement],
) -> Vec<(Option<&'a Requirement>, Asked)> {
    let mut rows: Vec<(Option<&Requirement>, Asked)> = requirements
        .iter()
        .filter(|r| r.name == definition.name)
        .map(|r| {
            let (at_hz, band_hz) = (r.at, r.band_hz);
            (Some(r), Asked { at_hz, band_hz, definition: r.definition, share: r.share })
        })
        .collect();
    if definition.options.contains(&RequirementOption::Definition) {
        for standard in DROPOUT_DEFINITIONS {
            if !rows.iter().any(|(_, asked)| asked.definition == Some(standard)) {
                rows.push((None, Asked { definition: Some(standard), ..Asked::default() }));
            }
        }
    } else if rows.is_empty() {
        rows.push((None, Asked::default()));
    }
    rows
}

/// The worst figure over all conditions.
pub(super) fn worst(bench: &Bench, name: &str, options: &Options, worse: Worse) -> Finding {
    let mut found: Option<(&str, &Figure)> = None;
    let (mut harmless, mut beyond): (Option<String>, Option<String>) = (None, None);
    for station in bench.scene.stations {
        let here = station.figures.iter().find(|(w, _)| w.name == name && w.asked == options.asked);
        match here.map(|(_, result)| result) {
            None => {}
            Some(Err(Absence::Unknown(why))) => {
                return Finding::Missing(placed(why, &station.condition));
            }
            Some(Err(Absence::Harmless(why))) => {
                harmless.get_or_insert_with(|| placed(why, &station.condition));
            }
            Some(Err(Absence::Beyond(why))) => {
                beyond.get_or_insert_with(|| placed(why, &station.condition));
            }
            Some(Ok(figure)) => {
                let beats = found.is_none_or(|(_, best)| {
                    match (figure.condemned.is_some(), best.condemned.is_some(), worse) {
                        (true, false, _) => true,
                        (false, true, _) => false,
                        (_, _, Worse::Lower) => figure.value < best.value,
                        (_, _, Worse::Higher) => figure.value > best.value,
                    }
                });
                if beats {
                    found = Some((&station.condition, figure));
                }
            }
        }
    }
    match (found, beyond, harmless) {
        (Some((condition, figure)), ..) => Finding::Value(Number {
            value: figure.value,
            at_hz: figure.at_hz,
            condition: (!condition.is_empty()).then(|| condition.to_owned()),
            note: figure.note.clone(),
            condemned: figure.condemned.clone(),
            ..Number::default()
        }),
        (None, Some(why), _) => Finding::Beyond(why, worse),
        (None, None, Some(why)) => Finding::Missing(why),
        (None, None, None) => Finding::Missing("this test did not look for it".to_owned()),
    }
}

fn placed(why: &str, condition: &str) -> String {
    if condition.is_empty() { why.to_owned() } else { format!("{why} (at {condition})") }
}
