//! What of a regulator came from its datasheet, and what is assumed inside it.

use crate::circuit::regulator::{Compensation, InnerValue, Level, Regulator};
use crate::output::number::{counted, trimmed};
use crate::quantity;

/// Digits of assumed values: they are estimates.
const DIGITS: usize = 3;

/// For one regulator: what its sheet says, what is assumed, and how to do better.
pub(super) fn lines(regulator: &Regulator) -> Vec<String> {
    let Regulator { name, sheet, inside, .. } = regulator;
    let level = match sheet.level {
        Level::Output(volt) => trimmed(volt, "V"),
        Level::Reference(volt) => format!("reference {}", trimmed(volt, "V")),
    };
    let compensation = match sheet.compensation {
        Compensation::Lag => "a lag",
        Compensation::SinglePole => "a single pole",
    };
    let mut told = vec![format!(
        "{name}: a {} of {level}, {}, with {compensation} in its amplifier; from its datasheet: {}",
        sheet.topology.word(),
        trimmed(sheet.rated_current_a, "A"),
        points(regulator)
    )];
    let (free, held): (Vec<_>, Vec<_>) = inside.iter().partition(|value| value.free);
    if !free.is_empty() {
        told.push(format!(
            "{name}: assumed inside, estimated by rule and not fitted: {}; `railstep model FILE --part \
             {name}` fits them to the datasheet",
            figures(&free)
        ));
    }
    if !held.is_empty() {
        told.push(format!(
            "{name}: given, held, or told by no point of the datasheet: {}",
            figures(&held)
        ));
    }
    told
}

fn figures(values: &[&InnerValue]) -> String {
    let figure = |v: &&InnerValue| {
        let unit = v.unit.symbol();
        format!("{} {}", v.name, quantity::trimmed(v.value, &unit, DIGITS))
    };
    values.iter().map(figure).collect::<Vec<_>>().join(", ")
}

/// How many points of each sort the sheet has.
fn points(regulator: &Regulator) -> String {
    let sheet = &regulator.sheet;
    let ground = sheet.ground;
    let currents = [ground.no_load_a, ground.full_load_a, ground.in_dropout_a];
    let counts = [
        (sheet.dropouts.len(), "dropout"),
        (currents.iter().flatten().count(), "ground current"),
        (usize::from(sheet.limit.is_some()), "current limit"),
        (sheet.load_regulations.len(), "load regulation"),
        (sheet.line_regulations.len(), "line regulation"),
        (sheet.transients.len(), "load step"),
        (sheet.rejections.len(), "ripple rejection"),
        (sheet.impedances.len(), "output impedance"),
        (sheet.noise_densities.len() + sheet.noises.len(), "noise figure"),
    ];
    let told: Vec<String> = counts
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| counted(*count, what))
        .collect();
    if told.is_empty() { "nothing but its level and rating".to_owned() } else { told.join(", ") }
}
