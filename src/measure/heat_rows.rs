//! Junction temperatures: their rows, and how they are read off the signals.

use super::bench::{Bench, Finding, Options};
use super::definition::{Appears, Definition, RequirementOption, Scale, row};
use super::families::ALL;
use super::scene::signal;
use crate::waveform::{Extreme, Instant, Signal};

const JUNCTION: &[RequirementOption] = &[RequirementOption::Junction];

pub(super) const HEAT_ROWS: &[Definition] = &[
    Definition {
        scale: Scale::FromAmbient,
        appears: Appears::WithHeat,
        ..row(
            "junction_temperature",
            "K",
            ALL,
            JUNCTION,
            "highest junction temperature over the whole record: of the heat path (or heated part) \
             named in `of`, else of the hottest",
            junction_temperature,
        )
    },
    Definition {
        appears: Appears::WithHeat,
        ..row(
            "junction_rise",
            RISE_UNIT,
            ALL,
            JUNCTION,
            "highest rise of a junction above its ambient over the whole record: of the heat path \
             (or heated part) named in `of`, else of the one that rises most",
            junction_rise,
        )
    },
];

/// A difference of temperatures, told apart from a temperature, which people read in °C.
pub(super) const RISE_UNIT: &str = "K above ambient";

fn junction_temperature(bench: &Bench, options: Options) -> Result<Finding, String> {
    highest(bench, options, signal::JUNCTION)
}

fn junction_rise(bench: &Bench, options: Options) -> Result<Finding, String> {
    highest(bench, options, signal::RISE)
}

fn highest(bench: &Bench, options: Options, family: &str) -> Result<Finding, String> {
    let own = options.of.map(|path| format!("{family}{path}"));
    let wanted = |s: &&Signal| match &own {
        Some(name) => s.name == *name,
        None => s.name.starts_with(family),
    };
    let mut found: Vec<(Instant, &str)> = Vec::new();
    for signal in bench.waveform().signals.iter().filter(wanted) {
        let most = bench.extreme(signal, bench.scene.record()?, Extreme::Highest)?;
        found.push((most, &signal.name[family.len()..]));
    }
    let hottest = found.iter().max_by(|a, b| a.0.value.total_cmp(&b.0.value));
    match (hottest, options.of) {
        (Some((most, path)), None) if found.len() > 1 => {
            let note = format!("hottest of all: `{path}`");
            Ok(Finding::at(most.value, most.time_s).note(Some(note)))
        }
        (Some((most, _)), _) => Ok(Finding::at(most.value, most.time_s)),
        (None, Some(path)) => Err(format!("`{path}` was not looked at")),
        (None, None) => Err("the circuit has no heat path".to_owned()),
    }
}
