//! Reads a circuit: gathers the files, takes blocks apart, compiles, checks.

use super::Circuit;
use super::block::{Expander, Instance, read_blocks};
use super::change::Changes;
use super::gather::{Gathered, Gatherer};
use super::heat::check_heat;
use super::naming::name_mistake;
use super::nodes::NodeUses;
use super::part::{Part, Shelf, read_models, read_part};
use super::rail_section::{RailDraft, read_rail};
use super::regulator::{Regulator, Regulators, TakenApart, take_apart};
use super::setting::Setting;
use super::value::{read_specs, value_formula};
use super::values::{ROOT, Values};
use crate::device::Form;
use crate::diagnostic::{Diagnostic, Diagnostics, Sources, nearest};
use crate::document::Files;
use std::collections::BTreeMap;

/// What reading gave.
#[derive(Debug)]
pub struct Reading {
    /// The circuit, if no mistake was found.
    pub circuit: Option<Circuit>,
    /// The circuit as far as it could be read, if mistakes were found: good only for finding more
    /// of them elsewhere in the file.
    pub unfinished: Option<Circuit>,
    /// All files read, for showing places.
    pub sources: Sources,
    /// All mistakes and doubts.
    pub diagnostics: Diagnostics,
}

/// Reads the circuit file `text`; `name` is as the user typed it, and other files are reached
/// through `files`, relative to its folder.
pub fn read(name: &str, text: &str, files: &dyn Files) -> Reading {
    let mut gatherer = Gatherer::new(files);
    let gathered = gatherer.root(name, text);
    let mut told = std::mem::take(&mut gatherer.diagnostics);
    let circuit = gathered.map(|mut gathered| {
        let apart = take_apart(&mut gathered, &mut gatherer.sources, &mut told);
        build(gathered, &apart, &gatherer, &mut told)
    });
    let (circuit, unfinished) = if told.has_errors() { (None, circuit) } else { (circuit, None) };
    Reading { circuit, unfinished, sources: gatherer.sources, diagnostics: told }
}

fn build(
    gathered: Gathered,
    apart: &Regulators,
    gatherer: &Gatherer<'_>,
    told: &mut Diagnostics,
) -> Circuit {
    let mut values = root_values(&gathered, told);
    let draft =
        gathered.rail.as_ref().map(|(span, table)| read_rail(table, *span, &mut values, told));
    let blocks = read_blocks(&gathered.blocks, |name| apart.blocks.contains_key(name), told);
    let mut nodes = NodeUses::default();
    let expander = Expander::new(&blocks, &mut values, &mut nodes, told);
    let (pending, instances) = expander.run(&gathered.parts);
    values.settle(told);
    let read = read_models(&gathered.models, gatherer, &values, told);
    let regulators = &apart.models;
    let shelf = Shelf { gatherer, values: &values, models: &read, regulators };
    let mut parts = Vec::with_capacity(pending.len());
    let mut unread = Vec::new();
    for part in &pending {
        let read = if told.is_full() { None } else { read_part(part, &shelf, &mut nodes, told) };
        match read {
            Some(part) => parts.push(part),
            None => unread.push(part.inside.part(&part.key.text)),
        }
    }
    for instance in instances.iter().filter(|_| !nodes.incomplete) {
        nodes.check_ports(&instance.inside, &instance.ports, told);
    }
    let regulators = regulators_of(&instances, &apart.blocks);
    nodes.check(gathered.parts_span, told);
    check_sensed(&parts, &unread, told);
    check_heat(&parts, &unread, told);
    let draft = draft.map(|draft: RailDraft| draft.look_inside(&regulators));
    let rail = draft.map(|draft| draft.finish(&values, &nodes, &parts, &unread, told));
    let broken = read.iter().filter(|(_, model)| model.is_none());
    unread.extend(broken.map(|(name, _)| format!("models.{name}")));
    let models = read.into_iter().filter_map(|(name, model)| Some((name, model?))).collect();
    let mut circuit = Circuit {
        title: gathered.title.map(|word| word.text).unwrap_or_default(),
        rail,
        tests: gathered.tests,
        values_told: Vec::new(),
        corners: Vec::new(),
        regulators,
        values,
        models,
        parts,
        unread,
        paths: gatherer.paths.clone(),
    };
    circuit.work_out(&Changes::default(), |_| true, told);
    // Mistakes of values were told while the variant was worked out.
    let figures = circuit.values.evaluate(&BTreeMap::new(), &mut Diagnostics::new());
    circuit.values_told = read_specs(&gathered.values, &circuit.values, &figures, told);
    if let Some(table) = &gathered.corners {
        circuit.corners = circuit.read_corners(table, told);
    }
    circuit
}

/// The regulators of the circuit: each use of a block that stands for one.
fn regulators_of(instances: &[Instance], apart: &BTreeMap<String, TakenApart>) -> Vec<Regulator> {
    let regulator = |instance: &Instance| {
        let TakenApart { span, sheet, inside, block, line } = apart.get(&instance.block)?.clone();
        let name = instance.inside.prefix.trim_end_matches('.').to_owned();
        Some(Regulator { name, span, sheet, inside, block, line })
    };
    instances.iter().filter(|instance| !instance.unused).filter_map(regulator).collect()
}

fn root_values(gathered: &Gathered, told: &mut Diagnostics) -> Values {
    let mut values = Values::new();
    for (key, node) in &gathered.values {
        if let Some(mistake) = name_mistake("value", &key.text, key.span) {
            told.push(mistake);
        }
        let formula = value_formula(&key.text, node, told);
        values.add(&key.text, key.text.clone(), key.span, ROOT, formula, ROOT);
    }
    values
}

/// Kinds whose current can be sensed.
const SENSIBLE: [&str; 2] = ["voltage-source", "inductor"];
/// The kind whose junction can be watched.
const HEAT_PATH: [&str; 1] = ["heat-path"];

fn check_sensed(parts: &[Part], unread: &[String], told: &mut Diagnostics) {
    let by_name: BTreeMap<&str, &Part> = parts.iter().map(|p| (p.name.as_str(), p)).collect();
    for part in parts {
        if told.is_full() {
            return;
        }
        for (key, (span, setting)) in &part.settings {
            let Setting::Sensed(name) = setting else { continue };
            let watches_heat = matches!(part.kind.key(key).map(|k| &k.form), Some(Form::HeatPath));
            let (kinds, what, verb): (&[&str], &str, &str) = if watches_heat {
                (&HEAT_PATH, "a heat path", "the junction of `NAME` cannot be watched")
            } else {
                let what = "a voltage source or an inductor";
                (&SENSIBLE, what, "the current of `NAME` cannot be sensed")
            };
            let found = by_name.get(name.as_str()).copied();
            let fit = |other: &&Part| kinds.contains(&other.kind.name);
            if found.is_some_and(|other| fit(&other)) {
                continue;
            }
            let hint = match nearest(name, parts.iter().filter(fit).map(|p| p.name.as_str())) {
                Some(near) => format!("write `\"{near}\"`"),
                None => format!("name {what}"),
            };
            let message = match found {
                Some(other) => {
                    format!("{}: it is of kind `{}`", verb.replace("NAME", name), other.kind.name)
                }
                None if unread.contains(name) => continue,
                None => format!("there is no part `{name}`"),
            };
            let label = format!("expected {what}");
            told.push(Diagnostic::error(*span, message).label(label).hint(hint));
        }
    }
}
