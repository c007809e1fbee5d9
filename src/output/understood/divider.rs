//! The voltage that reference and divider set, where both are plain to see.

use crate::circuit::{RailFigures, Variant, VariantPart};
use crate::device::Drive;
use crate::device::temperature::linear_factor;
use crate::output::number::trimmed;

/// Resistors in series behind one another, and parallel branches, are followed this far.
const MOST_IN_SERIES: usize = 16;

/// `set voltage: 2.8 V = V_REF 1.2 V · (1 + R_TOP 160 kΩ / R_BOT 120 kΩ)`; `None` where there is
/// no amplifier that could set it.
pub(super) fn line(variant: &Variant, rail: &RailFigures) -> Option<String> {
    if rail.amplifier.is_empty() {
        return None;
    }
    Some(found(variant, rail).unwrap_or_else(|| "set voltage not recognised".to_owned()))
}

fn found(variant: &Variant, rail: &RailFigures) -> Option<String> {
    let [amplifier] = rail.amplifier.as_slice() else { return None };
    let amplifier = variant.part(amplifier)?;
    let node = |terminal: &str| {
        let at = amplifier.terminals.iter().position(|t| *t == terminal)?;
        amplifier.nodes.get(at).map(String::as_str)
    };
    let (output, sense) = (rail.output.as_deref()?, node("sense").or(node("minus"))?);
    let circuit = Circuit { variant, amplifier, ground: &rail.ground };
    let (source, reference_v) = circuit.reference(node("reference").or(node("plus"))?)?;
    let reference = format!("{source} {}", trimmed(reference_v, "V"));
    if sense == output {
        return Some(format!("set voltage: {reference}, sensed without a divider"));
    }
    let (top, bottom) = circuit.divider(sense, output)?;
    let set_v = reference_v * (1.0 + top.ohm / bottom.ohm);
    let off = rail.nominal_v.map(|nominal| (set_v - nominal) / nominal);
    let off = off.filter(|off| off.abs() > 1e-3).map(|off| {
        let side = if off > 0.0 { "above" } else { "below" };
        format!(", {} {side} nominal", trimmed(off.abs(), "1"))
    });
    Some(format!(
        "set voltage: {} = {reference} · (1 + {} / {}){}",
        trimmed(set_v, "V"),
        top.told(),
        bottom.told(),
        off.unwrap_or_default(),
    ))
}

/// Resistors as one.
struct Resistance {
    names: Vec<String>,
    ohm: f64,
}

impl Resistance {
    fn told(&self) -> String {
        format!("{} {}", self.names.join(" + "), trimmed(self.ohm, "Ω"))
    }
}

struct Circuit<'a> {
    variant: &'a Variant,
    amplifier: &'a VariantPart,
    ground: &'a str,
}

impl<'a> Circuit<'a> {
    fn is_ground(&self, node: &str) -> bool {
        node == self.ground || node == "gnd"
    }

    /// Parts at a node that carry current at rest, the amplifier's own inputs left out.
    fn carrying(&self, node: &str) -> Vec<&'a VariantPart> {
        let touches = |p: &&VariantPart| p.nodes.iter().any(|n| n == node);
        let parts = self.variant.parts.iter().filter(touches);
        parts.filter(|p| p.kind.name != "capacitor" && p.name != self.amplifier.name).collect()
    }

    /// The source that holds a node at rest, perhaps through one resistor of a filter.
    fn reference(&self, node: &str) -> Option<(String, f64)> {
        let direct = |node: &str| {
            self.carrying(node).into_iter().find(|p| {
                ["voltage-source", "reference"].contains(&p.kind.name)
                    && p.nodes.first().is_some_and(|n| n == node)
                    && p.nodes.get(1).is_some_and(|n| self.is_ground(n))
            })
        };
        let source = direct(node).or_else(|| match self.carrying(node).as_slice() {
            [filter] if filter.kind.name == "resistor" => direct(other_end(filter, node)?),
            _ => None,
        })?;
        let drive = source.parameters.drive.as_ref();
        let level = drive.map_or(source.parameters.number("voltage"), Drive::initial);
        let factor = linear_factor(&source.parameters, "temperature_coefficient");
        Some((source.name.clone(), level * factor))
    }

    /// From the output to the sense node, and from there to ground: each one chain of resistors.
    fn divider(&self, sense: &str, output: &str) -> Option<(Resistance, Resistance)> {
        let (mut top, mut bottom) = (None, None);
        let parts = self.carrying(sense);
        for part in &parts {
            let (chain, end) = self.chain(part, sense, output)?;
            let side = if end == output { &mut top } else { &mut bottom };
            // A second branch would make the plain formula wrong.
            if side.replace(chain).is_some() {
                return None;
            }
        }
        Some((top?, bottom?))
    }

    /// Resistors in series from a node until the output or ground.
    fn chain(
        &self,
        first: &'a VariantPart,
        from: &str,
        output: &str,
    ) -> Option<(Resistance, &'a str)> {
        let mut sum = Resistance { names: Vec::new(), ohm: 0.0 };
        let (mut part, mut node) = (first, other_end(first, from)?);
        for _ in 0..MOST_IN_SERIES {
            if part.kind.name != "resistor" {
                return None;
            }
            let p = &part.parameters;
            sum.names.push(part.name.clone());
            sum.ohm += p.number("resistance") * linear_factor(p, "temperature_coefficient");
            if node == output || self.is_ground(node) {
                return Some((sum, node));
            }
            let others = self.carrying(node);
            let mut next = others.into_iter().filter(|p| p.name != part.name);
            let (following, None) = (next.next()?, next.next()) else { return None };
            node = other_end(following, node)?;
            part = following;
        }
        None
    }
}

/// The other node of a two-ended part.
fn other_end<'a>(part: &'a VariantPart, node: &str) -> Option<&'a str> {
    match part.nodes.as_slice() {
        [a, b] if a == node => Some(b),
        [a, b] if b == node => Some(a),
        _ => None,
    }
}
