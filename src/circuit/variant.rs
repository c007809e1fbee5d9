//! A circuit worked out: every value, every key of every part, ready to be laid into a net.

use super::change::{Changes, Overrides};
use super::parameter::{Merged, Settled, Settling, What, driven_key, merged_of};
use super::rail::RailFigures;
use super::values::{AMBIENT, Figures, NOMINAL};
use super::{Circuit, Window};
use crate::device::{Break, Drive, HeatPath, HeatedBy, Kind, Net, Parameters, Pin, Wanted};
use crate::diagnostic::{Diagnostic, Diagnostics};
use crate::quantity::{Dimension, Program};

/// The kind whose parts are laid before all others, since these read their temperatures.
const HEAT_PATH: &str = "heat-path";

/// One variant of a circuit.
#[derive(Clone, Debug, Default)]
pub struct Variant {
    /// The rail, if the file describes one.
    pub rail: Option<RailFigures>,
    /// Values of the file, and of blocks under names such as `U1.r_top`.
    pub values: Vec<NamedFigure>,
    /// Parts in file order, blocks taken apart.
    pub parts: Vec<VariantPart>,
    figures: Figures,
}

/// A value worked out.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedFigure {
    /// Its name.
    pub name: String,
    /// In SI base units.
    pub value: f64,
    /// What it measures.
    pub dimension: Dimension,
}

/// A part worked out.
#[derive(Clone, Debug)]
pub struct VariantPart {
    /// `Q1`, or `U1.R2` inside a block.
    pub name: String,
    /// Its kind.
    pub kind: &'static Kind,
    /// Names of its terminals.
    pub terminals: Vec<&'static str>,
    /// The node at each.
    pub nodes: Vec<String>,
    /// Its keys in SI base units; pins and unknowns are filled in when it is laid.
    pub parameters: Parameters,
    /// The nodes of its `input` or of its law's inputs.
    pub input_nodes: Vec<[String; 2]>,
    /// The part whose current it follows.
    pub sensed: Option<String>,
    /// The key whose level a test moves, and what it measures.
    pub driven: Option<(&'static str, Dimension)>,
}

impl Circuit {
    /// Works out the circuit with some changes.
    ///
    /// # Errors
    /// Everything wrong with the changes and with what the circuit comes to under them.
    pub fn variant(&self, changes: &Changes) -> Result<Variant, Vec<Diagnostic>> {
        self.variant_with(changes, |_| true)
    }

    /// The same with no other parts than those of some kinds.
    ///
    /// # Errors
    /// Everything wrong with the changes, and with the values and these parts under them.
    pub fn variant_with(
        &self,
        changes: &Changes,
        is_wanted: impl Fn(&Kind) -> bool,
    ) -> Result<Variant, Vec<Diagnostic>> {
        let mut told = Diagnostics::new();
        let variant = self.work_out(changes, is_wanted, &mut told);
        if told.has_errors() { Err(told.sorted()) } else { Ok(variant) }
    }

    /// Works out what can be, of parts of the wanted kinds, and records the rest.
    pub(super) fn work_out(
        &self,
        changes: &Changes,
        is_wanted: impl Fn(&Kind) -> bool,
        told: &mut Diagnostics,
    ) -> Variant {
        let overrides = self.overrides(changes, told);
        let figures = self.values.evaluate(&overrides.values, told);
        let ambient_k = figures.numbers[AMBIENT];
        if figures.is_known(AMBIENT) && ambient_k <= 0.0 {
            let message = "`rail.ambient` must be above absolute zero";
            let hint = "write it in °C, such as `\"25 °C\"`";
            told.push(Diagnostic::error(self.values.slots[AMBIENT].span, message).hint(hint));
        }
        if figures.is_known(NOMINAL) && figures.numbers[NOMINAL] == 0.0 {
            let hint = "write the voltage the rail should have, such as `\"3.3 V\"`";
            let span = self.values.slots[NOMINAL].span;
            told.push(Diagnostic::error(span, "`rail.nominal` must not be zero").hint(hint));
        }
        let figure = |slot: usize| {
            let (name, value) = (self.values.slots[slot].name.clone(), figures.numbers[slot]);
            Some(NamedFigure { name, value, dimension: self.values.dimension(slot)? })
        };
        let values = self.values.visible().filter_map(figure).collect();
        let mut parts = Vec::with_capacity(self.parts.len());
        parts.extend(
            (0..self.parts.len())
                .filter(|&index| is_wanted(self.parts[index].kind))
                .filter_map(|index| self.part_figures(index, &overrides, &figures, told)),
        );
        let rail = self.rail.as_ref().map(|rail| rail.figures(&figures, &self.parts, told));
        Variant { rail, values, parts, figures }
    }

    /// What stands behind each key of a part: a change, the part itself, a changed model, or the
    /// model.
    pub(super) fn merged<'a>(&'a self, index: usize, overrides: &'a Overrides) -> Merged<'a> {
        let part = &self.parts[index];
        let mut merged = Merged::new();
        if let Some(name) = &part.model {
            if let Some(model) = self.models.get(name) {
                merged.extend(merged_of(&model.settings));
            }
            for ((changed, key), (span, setting)) in &overrides.models {
                if changed == name {
                    merged.insert(key, (*span, setting));
                }
            }
        }
        merged.extend(merged_of(&part.settings));
        for (&(of, key), (span, setting)) in overrides.parts.range((index, "")..(index + 1, "")) {
            if of == index {
                merged.insert(key, (*span, setting));
            }
        }
        merged
    }

    fn part_figures(
        &self,
        index: usize,
        overrides: &Overrides,
        figures: &Figures,
        told: &mut Diagnostics,
    ) -> Option<VariantPart> {
        let part = &self.parts[index];
        if part.unused {
            return None;
        }
        let own = part.temperature.as_ref().map(|(span, program)| (Some(*span), program));
        let changed = overrides.temperatures.get(&index).map(|(span, program)| (*span, program));
        let temperature_k = match changed.or(own) {
            Some((span, program)) => {
                let kelvin = figures.get(program)?;
                if !(kelvin > 0.0 && kelvin.is_finite()) {
                    let message = format!(
                        "`temperature` of part `{}` must be above absolute zero",
                        part.name
                    );
                    let hint = "write it in °C, such as `\"25 °C\"`";
                    told.push(Diagnostic::error(span.unwrap_or(part.span), message).hint(hint));
                    return None;
                }
                kelvin
            }
            None => figures.numbers[AMBIENT],
        };
        let merged = self.merged(index, overrides);
        let mut settling = Settling {
            kind: part.kind,
            what: What::Part(&part.name),
            span: part.span,
            ends: (&part.terminals, &part.nodes),
            temperature_k,
            figures,
            told,
        };
        let Settled { parameters, inputs, sensed } = settling.run(&merged, part.spoilt)?;
        Some(VariantPart {
            name: part.name.clone(),
            kind: part.kind,
            terminals: part.terminals.clone(),
            nodes: part.nodes.clone(),
            parameters,
            input_nodes: inputs,
            sensed,
            driven: driven_key(part.kind, |key| merged.contains_key(key)),
        })
    }
}

impl Variant {
    /// What a compiled expression comes to in this variant, in SI base units.
    pub fn evaluate(&self, program: &Program) -> f64 {
        program.evaluate(&self.figures.numbers)
    }

    /// What every name comes to, by the slots of [`Circuit::names`].
    pub fn slots(&self) -> &[f64] {
        &self.figures.numbers
    }

    /// `rail.ambient` in K; NaN in a variant of nothing.
    pub fn ambient_k(&self) -> f64 {
        self.figures.numbers.get(AMBIENT).copied().unwrap_or(f64::NAN)
    }

    /// Whether it has a heat path.
    pub fn has_heat(&self) -> bool {
        self.parts.iter().any(|part| part.kind.name == HEAT_PATH)
    }

    /// The limits of a window in V.
    ///
    /// # Errors
    /// A window that is empty or wider than the nominal voltage.
    pub fn window(&self, window: &Window) -> Result<[f64; 2], Vec<Diagnostic>> {
        let mut told = Diagnostics::new();
        window.limits(&self.figures, &mut told).ok_or_else(|| told.sorted())
    }

    /// A part by its name.
    pub fn part(&self, name: &str) -> Option<&VariantPart> {
        self.parts.iter().find(|part| part.name == name)
    }

    /// The same circuit with the junctions of some heat paths held, each at a temperature in K.
    #[must_use]
    pub fn with_junctions_held(&self, at: &[(String, f64)]) -> Variant {
        let mut held = self.clone();
        for part in &mut held.parts {
            if let Some((_, kelvin)) = at.iter().find(|(name, _)| *name == part.name) {
                part.parameters.numbers.insert("held_at", *kelvin);
            }
        }
        held
    }

    /// All parts laid into a net. A drive given here (by part name) stands in for the part's own.
    /// Parts that sense a current are laid after all others.
    pub fn net(&self, drives: &[(String, Drive)]) -> Net {
        let mut net = Net::new();
        self.lay(drives, None, &mut net);
        net.wanted = self.wanted(&net);
        net
    }

    /// The output at its nominal voltage, where the rail has one.
    fn wanted(&self, net: &Net) -> Option<Wanted> {
        let rail = self.rail.as_ref()?;
        let output = net.find_node(rail.output.as_deref()?)?;
        let between = [output, net.find_node(&rail.ground)?];
        let volt = rail.nominal_v.filter(|volt| *volt != 0.0)?;
        Some(Wanted { between, volt })
    }

    /// As [`Variant::net`], with the wire at a terminal (`EA.sense`) cut and bridged so that signals
    /// can be put into it; `None` if there is no such terminal.
    pub fn net_with_break(&self, drives: &[(String, Drive)], at: &str) -> Option<(Net, Break)> {
        let (part, terminal) = at.rsplit_once('.')?;
        let found = self.part(part)?;
        let terminal = found.terminals.iter().position(|t| *t == terminal)?;
        let mut net = Net::new();
        self.lay(drives, Some((part, terminal, at)), &mut net);
        let bridge = net.bridge(at, &found.nodes[terminal]);
        net.wanted = self.wanted(&net);
        Some((net, bridge))
    }

    /// Lays all parts; `cut` gives one terminal (part, which, name) a node of its own.
    fn lay(&self, drives: &[(String, Drive)], cut: Option<(&str, usize, &str)>, net: &mut Net) {
        let (heat, electric): (Vec<&VariantPart>, Vec<&VariantPart>) =
            self.parts.iter().partition(|part| part.kind.name == HEAT_PATH);
        let (sensing, others): (Vec<&VariantPart>, Vec<&VariantPart>) =
            electric.into_iter().partition(|part| part.sensed.is_some());
        for part in sinks_first(heat).into_iter().chain(others).chain(sensing) {
            let cut = cut.filter(|(name, ..)| *name == part.name);
            let sensed = part.sensed.as_ref().and_then(|name| self.part(name));
            part.lay(drives, cut.map(|(_, terminal, node)| (terminal, node)), sensed, net);
        }
    }
}

impl VariantPart {
    /// Whether a test that does not drive it still sees it do something.
    pub fn moves_by_itself(&self) -> bool {
        matches!(self.kind.name, "capacitor-connect" | "pulse-load")
            || self.parameters.drive.as_ref().is_some_and(|drive| drive.shape.is_some())
    }

    fn lay(
        &self,
        drives: &[(String, Drive)],
        cut: Option<(usize, &str)>,
        sensed: Option<&Self>,
        net: &mut Net,
    ) {
        let mut nodes: Vec<&str> = self.nodes.iter().map(String::as_str).collect();
        if let Some((terminal, node)) = cut {
            nodes[terminal] = node;
        }
        let pins = net.begin_part(&self.name, &self.terminals, &nodes);
        let mut parameters = self.parameters.clone();
        let mut pin = |node: &String| Pin { unknown: net.node(node), terminal: None };
        parameters.inputs = self.input_nodes.iter().map(|[c, d]| [pin(c), pin(d)]).collect();
        parameters.sensed = sensed.and_then(|other| {
            let of_current = net.find_part(&other.name).and_then(|k| net.parts.get(k)?.branch);
            let junction = format!("{}.junction", other.name);
            of_current.or_else(|| net.unknowns.iter().position(|u| u.name == junction))
        });
        if let Some((_, drive)) = drives.iter().rev().find(|(name, _)| *name == self.name) {
            parameters.drive = Some(drive.clone());
        }
        if let Some(path) = net.heat_path_of(&self.name) {
            // A junction that is held is a plain temperature, and the part a plain part.
            parameters.temperature_k = path.held_k.unwrap_or(path.ambient_k);
            let HeatPath { junction, ambient_k, .. } = *path;
            parameters.heated_by =
                path.held_k.is_none().then_some(HeatedBy { junction, ambient_k });
        }
        (self.kind.lay)(&parameters, &pins, net);
    }
}

/// Heat paths in an order in which each follows the one that it ends in.
fn sinks_first(mut waiting: Vec<&VariantPart>) -> Vec<&VariantPart> {
    let mut sorted: Vec<&VariantPart> = Vec::with_capacity(waiting.len());
    while !waiting.is_empty() {
        let ready = |part: &&VariantPart| match part.parameters.names.get("sink").map(Vec::as_slice)
        {
            Some([name, ..]) => sorted.iter().any(|done| done.name == *name),
            _ => true,
        };
        // Reading refuses circles.
        let next = waiting.iter().position(ready).unwrap_or(0);
        sorted.push(waiting.remove(next));
    }
    sorted
}
