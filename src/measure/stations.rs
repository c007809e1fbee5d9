//! Figures of a test that is solved at several conditions: which are wanted, and which is worst.

use super::bench::{Bench, Finding, Number, Options};
use super::definition::{DEFINITIONS, RequirementOption, Worse};
use super::requirement::Requirement;
use super::scene::TestKind;
use super::words::quantity;

/// How a dropout voltage is defined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DropoutDefinition {
    /// Input minus output where the output has fallen so many V below its regulated value.
    Below(f64),
    /// The same with a fraction of that value.
    ShareBelow(f64),
    /// Input minus output with the input pin at 95 % of nominal, where the pass device gives all it
    /// can.
    FullyOn,
}

/// Those that every dropout test tells.
pub const DROPOUT_DEFINITIONS: [DropoutDefinition; 3] = [
    DropoutDefinition::Below(0.1),
    DropoutDefinition::ShareBelow(0.02),
    DropoutDefinition::FullyOn,
];

impl DropoutDefinition {
    /// As in files: `100 mV below`, `2 % below`, `fully on`.
    pub fn words(self) -> String {
        match self {
            Self::Below(volt) => format!("{} below", quantity(volt, "V")),
            Self::ShareBelow(share) => format!("{} below", quantity(share, "1")),
            Self::FullyOn => "fully on".to_owned(),
        }
    }
}

/// What a figure is asked with, besides its name.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Asked {
    /// Hz, where it is to be read.
    pub at_hz: Option<f64>,
    /// Hz, between which it is to be summed.
    pub band_hz: Option<[f64; 2]>,
    /// Of a dropout.
    pub definition: Option<DropoutDefinition>,
    /// Of nominal, by which the output has fallen.
    pub share: Option<f64>,
}

/// A figure that a test has to find at each of its conditions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// As in [`DEFINITIONS`].
    pub name: &'static str,
    /// With its options.
    pub asked: Asked,
}

/// One figure as it was found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figure {
    /// In the measurement's unit.
    pub value: f64,
    /// Hz, where one frequency decides.
    pub at_hz: Option<f64>,
    /// Said beside it.
    pub note: Option<String>,
    /// A state in which no value satisfies a requirement: a loop that is unstable.
    pub condemned: Option<String>,
}

impl Figure {
    /// A figure that no frequency decides.
    pub fn plain(value: f64) -> Self {
        Self { value, ..Self::default() }
    }

    /// A figure at a frequency in Hz.
    pub fn at(value: f64, at_hz: f64) -> Self {
        Self { value, at_hz: Some(at_hz), ..Self::default() }
    }
}

/// Why there is no figure at a condition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Absence {
    /// There is no such thing there, and that is well: a loop whose gain never reaches 1 has no
    /// phase margin.
    Harmless(String),
    /// It is better than any limit: a loop whose phase never passes -180° has no end to its gain
    /// margin.
    Beyond(String),
    /// It cannot be told.
    Unknown(String),
}

/// What was found at one condition.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Station {
    /// `2 mA, 3.7 V, 25 °C`; empty for what belongs to the whole test.
    pub condition: String,
    /// What was wanted and what came of it.
    pub figures: Vec<(Wanted, Result<Figure, Absence>)>,
}

/// The figures that a test of this kind has to find.
pub fn wanted(kind: TestKind, requirements: &[Requirement]) -> Vec<Wanted> {
    let mut found: Vec<Wanted> = Vec::new();
    for definition in DEFINITIONS.iter().filter(|d| d.belongs_to(kind)) {
        for (_, asked) in asked_of(definition, requirements) {
            let wanted = Wanted { name: definition.name, asked };
            if !found.contains(&wanted) {
                found.push(wanted);
            }
        }
    }
    found
}

/// The rows of one measurement: each requirement's, then what is told in any case.
pub(super) fn asked_of<'a>(
    definition: &super::Definition,
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
