//! What was read, told back in a few lines so that a slip shows before the figures do.

mod divider;
mod drives;
mod path;
mod regulators;
#[cfg(test)]
mod tests;

use super::number::{engineering, trimmed};
use super::printable;
use super::wrap::wrap;
use crate::circuit::regulator::{Level, Regulator};
use crate::circuit::{RailFigures, VariantPart};
use crate::device::{HeatPath, Role, dielectric_of, effective};
use crate::plan::Plan;
use crate::system::System;
use crate::trial::Outcome;
use std::fmt::Write as _;

/// Columns of every line.
const WIDTH: usize = 96;
/// Further lines of one statement are set in by this much.
const HANG: &str = "  ";

/// Rail, path, set voltage, capacitors with label and effective values, and what each test drives
/// (those of `outcomes`; all of the file when there are none). At most 100 characters a line; what
/// does not fit goes on in a line that starts with blanks.
pub fn lines(plan: &Plan, outcomes: &[Outcome]) -> Vec<String> {
    let nominal = &plan.nominal;
    let mut told = Vec::new();
    match &nominal.rail {
        None => told.push("rail: none described, so nothing of it is measured".to_owned()),
        Some(rail) => {
            told.push(rail_line(rail));
            told.extend(path::line(nominal, rail));
            let inside = |amplifier: &String| {
                let fixed = |r: &&Regulator| matches!(r.sheet.level, Level::Output(_));
                plan.circuit.regulators.iter().filter(fixed).any(|r| r.amplifier() == *amplifier)
            };
            // A divider inside a regulator is told with the regulator.
            if !rail.amplifier.iter().any(inside) {
                told.extend(divider::line(nominal, rail));
            }
            for (bank, names) in
                [("output bank", &rail.output_capacitors), ("input bank", &rail.input_capacitors)]
            {
                told.extend(bank_lines(bank, names, plan));
            }
        }
    }
    told.extend(plan.circuit.regulators.iter().flat_map(regulators::lines));
    told.extend(heat_lines(plan));
    let ran = |name: &str| outcomes.is_empty() || outcomes.iter().any(|o| o.name == name);
    let tests = plan.tests.iter().filter(|test| ran(&test.name));
    told.extend(tests.map(|test| drives::line(plan, test)));
    told.iter().flat_map(|line| hanging(line)).collect()
}

/// The blocks that stand for regulators, each with the line that uses it in the part's place: text
/// that can be pasted into a circuit file. Uses of one block that several regulators share show once.
pub fn expanded(regulators: &[Regulator]) -> String {
    let mut text = String::new();
    let mut shown: Vec<&str> = Vec::new();
    for regulator in regulators.iter() {
        if shown.contains(&regulator.block.as_str()) {
            continue;
        }
        shown.push(&regulator.block);
        let Regulator { name, line, block, .. } = regulator;
        let _ = writeln!(text, "# In the place of `{name}`:\n# {line}\n\n{block}");
    }
    text
}

/// Where each part with a region works: `Q1 saturated; EA linear`.
pub fn regions(system: &System, z: &[f64]) -> Vec<String> {
    let mut parts: Vec<(String, Vec<&str>)> = Vec::new();
    for (name, region) in system.regions(z) {
        match parts.last_mut().filter(|(last, _)| *last == name) {
            Some((_, regions)) if regions.contains(&region) => {}
            Some((_, regions)) => regions.push(region),
            None => parts.push((name, vec![region])),
        }
    }
    if parts.is_empty() {
        return Vec::new();
    }
    let told = parts.iter().map(|(name, regions)| format!("{name} {}", regions.join(", ")));
    hanging(&format!("regions: {}", told.collect::<Vec<_>>().join("; ")))
}

/// Node voltages at nominal values: `at rest: vin 3.7 V, vout 2.8 V`.
pub fn levels(system: &System, z: &[f64]) -> Vec<String> {
    let nodes = system.unknowns.iter().zip(z).filter(|(u, _)| u.role == Role::Node);
    let told: Vec<String> =
        nodes.map(|(u, volt)| format!("{} {}", u.name, engineering(*volt, "V", 4))).collect();
    hanging(&format!("at rest with nominal values: {}", told.join(", ")))
}

/// `line` in lines of limited length, broken after commas, semicolons and arrows so that a number
/// stays with its unit.
fn hanging(line: &str) -> Vec<String> {
    let room = WIDTH - HANG.len();
    let mut lines: Vec<String> = vec![String::new()];
    let mut clause = String::new();
    let mut words = wrap(&printable(line), room).join(" ");
    words.push(' ');
    for word in words.split_inclusive(' ') {
        clause.push_str(word);
        if !word.trim_end().ends_with([',', ';', '→']) {
            continue;
        }
        add(&mut lines, &std::mem::take(&mut clause), room);
    }
    add(&mut lines, &clause, room);
    let lines = lines.iter().map(|l| l.trim_end()).filter(|l| !l.is_empty()).enumerate();
    lines.map(|(k, l)| if k == 0 { l.to_owned() } else { format!("{HANG}{l}") }).collect()
}

/// Adds a clause to the last line, or starts another; a clause longer than a line is broken
/// anywhere.
fn add(lines: &mut Vec<String>, clause: &str, room: usize) {
    let length = |text: &str| text.trim_end().chars().count();
    if let Some(last) =
        lines.last_mut().filter(|last| last.chars().count() + length(clause) <= room)
    {
        last.push_str(clause);
        return;
    }
    lines.extend(wrap(clause, room).into_iter().map(|line| line + " "));
}

fn rail_line(rail: &RailFigures) -> String {
    let mut line = match (&rail.output, rail.nominal_v) {
        (Some(output), Some(nominal)) => {
            format!("rail: output {output}, nominal {}", trimmed(nominal, "V"))
        }
        (Some(output), None) => format!("rail: output {output}"),
        (None, _) => "rail: no output named".to_owned(),
    };
    let range = |[low, high]: [f64; 2]| format!("{} to {}", trimmed(low, "V"), trimmed(high, "V"));
    if let Some(window) = rail.window {
        let _ = write!(line, ", window {}", range(window));
    } else {
        line += ", no window given";
    }
    if let Some(window) = rail.transient_window.filter(|w| Some(*w) != rail.window) {
        let _ = write!(line, ", window for transients {}", range(window));
    }
    format!("{line}, ambient {}", trimmed(rail.ambient_k, "K"))
}

/// Each heat path: which parts, over what resistance, to where.
fn heat_lines(plan: &Plan) -> Vec<String> {
    let net = plan.nominal.net(&[]);
    let name = |part: usize| net.parts[part].name.as_str();
    let line = |path: &HeatPath| {
        let parts = if path.heated.is_empty() {
            "no part of its own".to_owned()
        } else {
            path.heated.join(", ")
        };
        let end = match path.sink {
            Some(sink) => format!("by way of {} ", name(net.heat_paths[sink].part)),
            None => String::new(),
        };
        let mut told = format!(
            "heat: {parts} → {} ({} {end}to ambient) → {}",
            name(path.part),
            trimmed(path.resistance_k_per_w, "K/W"),
            trimmed(path.ambient_k, "K")
        );
        if let Some(held) = path.held_k {
            let _ = write!(told, ", junction held at {}", trimmed(held, "K"));
        }
        told
    };
    net.heat_paths.iter().map(line).collect()
}

fn bank_lines(bank: &str, names: &[String], plan: &Plan) -> Vec<String> {
    let parts = names.iter().filter_map(|name| plan.nominal.part(name));
    let lines: Vec<String> =
        parts.map(|part| format!("{bank}: {}", capacitor(part, plan.bias_v(&part.name)))).collect();
    if lines.is_empty() { vec![format!("{bank}: no capacitor")] } else { lines }
}

/// As the laid-out part has it at its bias: what is left of the label, and why.
fn capacitor(part: &VariantPart, bias_v: Option<f64>) -> String {
    // Without a rest it is told as it is without bias.
    let found = effective(&part.parameters, bias_v.unwrap_or(0.0));
    let label = trimmed(found.label_f, "F");
    let why = found.why();
    let name = match dielectric_of(&part.parameters) {
        Some(dielectric) => format!("{} {}", part.name, dielectric.word),
        None => part.name.clone(),
    };
    let mut told = if why.is_empty() {
        format!("{name} {label}, all of it effective")
    } else {
        let left = trimmed(found.farad, "F");
        format!("{name} {label} on the label, {left} effective: {why}")
    };
    let _ = write!(told, ", ESR {}", trimmed(found.esr_ohm, "Ω"));
    if found.esr_low_ohm > found.esr_ohm {
        let _ = write!(told, " ({} at low frequencies)", trimmed(found.esr_low_ohm, "Ω"));
    }
    let _ = write!(told, ", ESL {}", trimmed(found.esl_henry, "H"));
    told
}
