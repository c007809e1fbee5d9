//! Whether the loop around the error amplifier feeds back with the right sign.
//!
//! The wire at the amplifier's sensing terminal is opened in the linear network at rest: the slope
//! of the input stage over that terminal is taken out, J0 = J − s·u·eᵀ, where e picks the terminal
//! and u is the current that the stage puts into the internal node and takes out of ground. The
//! loop gain at DC is then T = s·eᵀ·J0⁻¹·u (the return ratio of Bode, Network Analysis and Feedback
//! Amplifier Design, 1945, from memory): above zero it holds the output, below zero it drives it
//! away. T is taken with the stage's full transconductance, since a loop of the wrong sign may have
//! come to rest with its input stage at its limit. Where it has come to rest with the pass device
//! off nothing is left of T; then the amplifier's sign is turned round and the loop looked at where
//! it comes to rest so.

use super::network::Network;
use super::{Plan, Rest};
use crate::circuit::{Variant, VariantPart};
use crate::diagnostic::Diagnostic;
use nalgebra::DVector;

/// A loop gain below this is told. Rounding leaves some 1e-9 where nothing feeds back.
const LEAST_NEGATIVE: f64 = -1e-3;
/// A rail this near to its nominal voltage is regulated.
const NEAR_NOMINAL: f64 = 0.1;

pub(super) fn doubt(plan: &Plan, rest: &Rest, network: &Network) -> Option<Diagnostic> {
    let rail = plan.nominal.rail.as_ref()?;
    let named = rail.feedback.as_deref().and_then(|f| f.rsplit_once('.'));
    let (name, terminal) = match (named, rail.amplifier.as_slice()) {
        (Some(named), _) => named,
        (None, [only]) => (only.as_str(), "sense"),
        (None, _) => return None,
    };
    let amplifier = plan.nominal.part(name).filter(|p| p.kind.name == "error-amplifier")?;
    let gain = loop_gain(amplifier, terminal, rest, network)?;
    let wrong = gain < LEAST_NEGATIVE
        || (gain < 1.0 && would_hold_if_inverted(&plan.nominal, name, terminal));
    if !wrong {
        return None;
    }
    let other = inverted(amplifier.parameters.word("inverting"));
    let span = plan.circuit.part_span(name)?;
    let message = format!("the loop around `{name}` feeds back positively");
    Some(
        Diagnostic::warning(span, message)
            .label(format!("a rise at `{name}.{terminal}` comes back as a further rise"))
            .hint(format!("write `inverting = \"{other}\"`, or swap `reference` and `sense`")),
    )
}

fn inverted(word: &str) -> &'static str {
    if word == "sense" { "reference" } else { "sense" }
}

/// Whether the loop comes to rest near the nominal voltage, and holds it, once the amplifier's sign
/// is turned round: then the sign it has drives the output away from there.
fn would_hold_if_inverted(variant: &Variant, name: &str, terminal: &str) -> bool {
    let mut turned = variant.clone();
    let Some(amplifier) = turned.parts.iter_mut().find(|p| p.name == name) else { return false };
    let word = inverted(amplifier.parameters.word("inverting"));
    amplifier.parameters.words.insert("inverting", word);
    let amplifier = amplifier.clone();
    let holds = || {
        let rail = turned.rail.as_ref()?;
        let rest = Rest::find(&turned, &[])?;
        let output_v = rest.volt(rail.output.as_deref()?)? - rest.volt(&rail.ground)?;
        let off = output_v / rail.nominal_v? - 1.0;
        let network = Network::around(&rest)?;
        let gain = loop_gain(&amplifier, terminal, &rest, &network)?;
        Some(gain > 1.0 && off.abs() < NEAR_NOMINAL)
    };
    holds().unwrap_or(false)
}

/// T at DC; `None` where the terminal is no input of the amplifier or nothing can be opened.
fn loop_gain(
    amplifier: &VariantPart,
    terminal: &str,
    rest: &Rest,
    network: &Network,
) -> Option<f64> {
    let node = |terminal: &str| {
        let at = amplifier.terminals.iter().position(|t| *t == terminal)?;
        rest.net.find_node(amplifier.nodes.get(at)?)
    };
    let (sense, reference, ground) = (node("sense")?, node("reference")?, node("ground")?);
    let opened = match terminal {
        "sense" => sense,
        "reference" => reference,
        _ => return None,
    };
    let internal_name = format!("{}.internal", amplifier.name);
    let internal = rest.net.unknowns.iter().position(|u| u.name == internal_name)?;
    if sense == reference || opened == 0 {
        return None;
    }
    // f of the internal node rises with the terminal that is inverting, and falls with the other.
    let sign = if amplifier.parameters.word("inverting") == terminal { 1.0 } else { -1.0 };
    let siemens = amplifier.parameters.number("transconductance");
    let across_v = rest.z.get(reference)? - rest.z.get(sense)?;
    let bend = (siemens * across_v / amplifier.parameters.number("stage_current")).cosh().powi(-2);
    let mut open = network.statics.clone();
    let mut pushed = DVector::zeros(open.nrows());
    for (row, share) in [(internal, 1.0), (ground, -1.0)] {
        if let Some(row) = row.checked_sub(1) {
            open[(row, opened - 1)] -= share * sign * siemens * bend;
            pushed[row] += share;
        }
    }
    let moved = open.lu().solve(&pushed)?;
    Some(sign * siemens * moved[opened - 1]).filter(|gain| gain.is_finite())
}
