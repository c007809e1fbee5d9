//! Figures that look off by a power of a thousand.

use super::Plan;
use crate::circuit::{RailFigures, VariantPart};
use crate::device::outside_temperature;
use crate::diagnostic::Diagnostic;
use crate::quantity::{Dimension, engineering};

/// Banks of a regulator's output reach some mF; farads are backup stores or a missing prefix.
const LARGE_CAPACITANCE_F: f64 = 0.1;
/// Small aluminium electrolytics at -40 °C reach some 100 Ω; kiloohms are milliohms mistyped.
const LARGE_ESR_OHM: f64 = 1e3;
/// Chokes beside a linear regulator reach some 10 mH.
const LARGE_INDUCTANCE_H: f64 = 1.0;
/// Leads and windings of capacitors lie between 0.1 nH and 100 nH.
const LARGE_ESL_H: f64 = 1e-3;
/// No linear regulator feeds a kiloampere.
const LARGE_CURRENT_A: f64 = 1e3;
/// Dividers lie between some 100 Ω and some MΩ: below an ohm `m` was typed for `M`.
const SMALL_DIVIDER_OHM: f64 = 1.0;

pub(super) fn doubts(plan: &Plan) -> Vec<Diagnostic> {
    let parts = plan.nominal.parts.iter();
    parts.flat_map(|part| of_part(plan, part)).collect()
}

fn of_part(plan: &Plan, part: &VariantPart) -> Vec<Diagnostic> {
    let rail = plan.nominal.rail.as_ref();
    let at_output = rail.is_some_and(|r| r.output_capacitors.contains(&part.name));
    let most: &[(&str, Dimension, f64)] = match part.kind.name {
        "capacitor" if at_output => &[
            ("capacitance", Dimension::FARAD, LARGE_CAPACITANCE_F),
            ("esr", Dimension::OHM, LARGE_ESR_OHM),
            ("esl", Dimension::HENRY, LARGE_ESL_H),
        ],
        "capacitor" => {
            &[("esr", Dimension::OHM, LARGE_ESR_OHM), ("esl", Dimension::HENRY, LARGE_ESL_H)]
        }
        "inductor" => &[("inductance", Dimension::HENRY, LARGE_INDUCTANCE_H)],
        "load" | "current-source" => &[("current", Dimension::AMPERE, LARGE_CURRENT_A)],
        _ => &[],
    };
    let large = most.iter().filter_map(|&(key, unit, most)| {
        let value = part.parameters.optional(key)?;
        (value.abs() >= most).then(|| doubt(plan, part, key, value, unit))?
    });
    let mut told: Vec<Diagnostic> = large.collect();
    told.extend(outside_limits(plan, part));
    let ohm = part.parameters.optional("resistance");
    let in_divider = part.kind.name == "resistor" && rail.is_some_and(|r| divides(plan, r, part));
    if let Some(ohm) = ohm.filter(|ohm| in_divider && *ohm < SMALL_DIVIDER_OHM) {
        told.extend(doubt(plan, part, "resistance", ohm, Dimension::OHM));
    }
    told
}

/// A capacitor at a temperature that its dielectric is not made for.
fn outside_limits(plan: &Plan, part: &VariantPart) -> Option<Diagnostic> {
    let why = outside_temperature(&part.parameters)?;
    let span = plan.circuit.key_span(&part.name, "dielectric")?;
    let doubt = Diagnostic::warning(span, format!("`{}`: {why}", part.name));
    Some(doubt.label("says nothing there").hint("take a dielectric made for this temperature"))
}

/// Whether a resistor lies at the node an amplifier senses, that node not being the output itself.
fn divides(plan: &Plan, rail: &RailFigures, resistor: &VariantPart) -> bool {
    let sensed = |name: &String| {
        let amplifier = plan.nominal.part(name)?;
        let at = amplifier.terminals.iter().position(|t| *t == "sense")?;
        amplifier.nodes.get(at)
    };
    let at = |node: &String| Some(node) != rail.output.as_ref() && resistor.nodes.contains(node);
    rail.amplifier.iter().filter_map(sensed).any(at)
}

fn doubt(
    plan: &Plan,
    part: &VariantPart,
    key: &str,
    value: f64,
    unit: Dimension,
) -> Option<Diagnostic> {
    let span = plan.circuit.key_span(&part.name, key)?;
    let shown = engineering(value, &unit.symbol(), 3);
    let message = format!("`{key}` of `{}` is {shown}", part.name);
    Some(
        Diagnostic::warning(span, message)
            .label("a factor of a thousand or more beyond what is usual")
            .hint(format!("look at the prefix: `m` is milli, `M` is mega, {}", examples(unit))),
    )
}

fn examples(unit: Dimension) -> &'static str {
    match unit {
        Dimension::FARAD => "`µF` micro and `nF` nano",
        Dimension::HENRY => "`µH` micro and `nH` nano",
        Dimension::AMPERE => "`mA` and `µA` are small currents",
        _ => "`kΩ` kilo and `mΩ` milli",
    }
}

/// Whether a test's level of a load is beyond all use; the doubt at the key that gives it.
pub(super) fn test_level(
    plan: &Plan,
    test: &crate::trial::Test,
    level: f64,
    unit: Dimension,
) -> Option<Diagnostic> {
    if unit != Dimension::AMPERE || level.abs() < LARGE_CURRENT_A {
        return None;
    }
    let own = plan.nominal.part(&test.load.as_ref()?.part)?.parameters.optional("current");
    if own.is_some_and(|own| own.abs() >= LARGE_CURRENT_A) {
        // Told at the part.
        return None;
    }
    let key = ["to", "from", "load_points", "load_file", "load_level"];
    let key = key.into_iter().find(|key| test.keys.iter().any(|(name, _)| name == key))?;
    let shown = engineering(level, &unit.symbol(), 3);
    let message = format!("test `{}` draws {shown}", test.name);
    Some(
        Diagnostic::warning(test.place(key), message)
            .label("a factor of a thousand or more beyond what is usual")
            .hint("look at the prefix: `mA` and `µA` are small currents"),
    )
}
