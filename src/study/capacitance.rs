//! Which change of a capacitor helps against a droop, by trying it.

use super::knobs::{CAPACITANCE, ESR, Knob, changes_of, found_key};
use super::sensitivity::{AllTurned, Effect, Pair, effect, pair};
use crate::circuit::{Circuit, Variant};
use crate::measure::TestKind;
use crate::quantity::engineering;
use crate::trial::{Outcome, RunOptions, Test};
use std::fmt::Write as _;

/// +1 % of capacitance that lowers a droop by less than this share of it does not help. A droop that
/// is all charge falls by 1 %; below a third of that, doubling the capacitance saves less than a
/// fifth, which is within what a capacitor loses by its bias.
const HELPS: f64 = 0.003;
/// Significant digits of a share.
const DIGITS: usize = 2;
const VOLT_DIGITS: usize = 3;

/// What the output capacitors do to the droop of a load step, in words; `None` for other tests,
/// where no loop is named, and where the rail is out of headroom, which no capacitor cures.
pub(super) fn note(
    circuit: &Circuit,
    test: &Test,
    options: &RunOptions,
    outcome: &Outcome,
    turned: &AllTurned,
) -> Option<String> {
    let explanation = outcome.explanation.as_ref().filter(|_| test.kind == TestKind::LoadStep)?;
    let estimate = explanation.estimate.as_ref()?;
    let limit = explanation.limit_of_loading().unwrap_or_default();
    if limit.starts_with("source") || limit.starts_with("dropout") {
        return None;
    }
    let variant = circuit.variant(&changes_of(test, options)).ok()?;
    let droop = outcome.measurements.iter().position(|m| m.name == "droop")?;
    let names = &variant.rail.as_ref()?.output_capacitors;
    let together = |key| {
        let knobs: Vec<Knob> = names.iter().filter_map(|n| found_key(&variant, n, key)).collect();
        let pair = match (knobs.as_slice(), names.as_slice()) {
            ([], _) => return None,
            ([_], [name]) => known(turned, name, key),
            _ => None,
        };
        let all = |steps: f64| knobs.iter().map(|knob| knob.turned(steps)).collect();
        let pair = pair.unwrap_or_else(|| self::pair(circuit, test, options, &all));
        effect(&pair, outcome, droop)
    };
    let capacitance = together(CAPACITANCE)?;
    let by_charge = -capacitance.relative?;
    let names = names.join(" and ");
    let told = |effect: &Effect| told(effect, outcome, droop);
    if by_charge < HELPS
        && let Some(plateau) = estimate.plateau.filter(|_| estimate.plateau_decides())
    {
        let raise = if limit.starts_with("amplifier drive current") {
            "raise the amplifier's drive"
        } else {
            "raise the amplifier's mid-band gain or its drive"
        };
        return Some(format!(
            "adding capacitance will not help: +1 % of {names} changes the droop by {}, the drive \
             plateau of {} decides; {raise}",
            told(&capacitance),
            engineering(plateau.volt, "V", VOLT_DIGITS),
        ));
    }
    let esr = together(ESR);
    let mut note =
        format!("+1 % of the capacitance of {names} changes the droop by {}", told(&capacitance));
    if let Some(esr) = &esr {
        let _ = write!(note, ", +1 % of the ESR by {}", told(esr));
    }
    note += ": ";
    note += &advice(by_charge, esr.and_then(|e| e.relative).unwrap_or(0.0));
    note += &strongest(&variant, outcome, turned, droop).unwrap_or_default();
    Some(note)
}

/// The pair of runs that turned one key of one part alone.
fn known(turned: &AllTurned, part: &str, key: &str) -> Option<Pair> {
    turned.list.iter().find(|t| t.knob.is_only(part, key)).map(|t| t.pair.clone())
}

fn advice(by_charge: f64, by_esr: f64) -> String {
    let mut helps = Vec::new();
    if by_charge >= HELPS {
        helps.push("more capacitance");
    }
    if by_esr >= HELPS {
        helps.push("less ESR");
    } else if by_esr <= -HELPS {
        helps.push("more ESR");
    }
    match helps.as_slice() {
        [] => "neither helps much".to_owned(),
        [one] => format!("{one} helps"),
        several => format!("{} help", several.join(" and ")),
    }
}

/// The one of several capacitors that counts most.
fn strongest(
    variant: &Variant,
    outcome: &Outcome,
    turned: &AllTurned,
    droop: usize,
) -> Option<String> {
    let names = &variant.rail.as_ref()?.output_capacitors;
    (names.len() > 1).then_some(())?;
    let alone = turned.list.iter().filter_map(|t| {
        let name =
            names.iter().find(|n| [CAPACITANCE, ESR].iter().any(|k| t.knob.is_only(n, k)))?;
        let effect = effect(&t.pair, outcome, droop).filter(|e| e.seen)?;
        Some((name, &t.knob, effect))
    });
    let (_, knob, effect) = alone.max_by(|a, b| a.2.change.abs().total_cmp(&b.2.change.abs()))?;
    Some(format!("; alone, {} counts most: {}", knob.path, told(&effect, outcome, droop)))
}

/// `-0.043 %`, or less than what can be seen.
fn told(effect: &Effect, outcome: &Outcome, droop: usize) -> String {
    let here = outcome.measurements.get(droop);
    let blur = here.and_then(|m| Some(m.numerical_uncertainty? / m.value?.abs()));
    match (effect.relative, blur) {
        (Some(relative), _) if effect.seen => {
            let sign = if relative > 0.0 { "+" } else { "" };
            format!("{sign}{}", engineering(100.0 * relative, "%", DIGITS))
        }
        (_, Some(blur)) => format!("less than {}", engineering(100.0 * blur, "%", DIGITS)),
        _ => "nothing that can be seen".to_owned(),
    }
}
