//! What capacitors bear, over what they may.

use super::bench::{Bench, Finding, Options};
use super::scene::signal;
use crate::waveform::{Extreme, Instant, Signal};

/// The peak of |v| over what is allowed: of the capacitor asked for, else of the worst.
pub(super) fn capacitor_stress(bench: &Bench, options: Options) -> Result<Finding, String> {
    let own = options.of.map(signal::stress);
    let wanted = |s: &&Signal| match &own {
        Some(name) => s.name == *name,
        None => s.name.starts_with(signal::STRESS),
    };
    let mut worst: Option<(Instant, &str)> = None;
    for signal in bench.waveform().signals.iter().filter(wanted) {
        let record = bench.scene.record()?;
        for which in [Extreme::Highest, Extreme::Lowest] {
            let found = bench.extreme(signal, record, which)?;
            let share = Instant { value: found.value.abs(), ..found };
            if worst.is_none_or(|(most, _)| share.value > most.value) {
                worst = Some((share, &signal.name[signal::STRESS.len()..]));
            }
        }
    }
    match (worst, options.of) {
        (Some((most, part)), None) => {
            Ok(Finding::at(most.value, most.time_s).note(Some(format!("worst of all: `{part}`"))))
        }
        (Some((most, _)), Some(_)) => Ok(Finding::at(most.value, most.time_s)),
        (None, Some(part)) => Err(format!("`{part}` has no `rated_voltage`")),
        (None, None) => Err("no output or input capacitor has a `rated_voltage`".to_owned()),
    }
}
