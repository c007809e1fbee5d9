//! What can be turned in a circuit, and by how much: its named values, and the keys of output
//! capacitors and amplifiers that no name stands for.

use crate::circuit::{Change, Changes, Circuit, Variant};
use crate::device::Form;
use crate::quantity::Dimension;
use crate::trial::{Motion, Reads, RunOptions, Test, excite};

/// Both ways by this share: small against what bends, large against numerical uncertainty.
pub(super) const SHARE: f64 = 0.01;
/// Both ways by this, for temperatures: a share of an absolute temperature says nothing.
const STEP_K: f64 = 1.0;

/// Of an output capacitor.
const CAPACITOR_KEYS: [&str; 3] = [CAPACITANCE, ESR, "esl"];
pub(super) const CAPACITANCE: &str = "capacitance";
pub(super) const ESR: &str = "esr";
/// Of an amplifier, or of what else the loop comes back to: what its gains are made of. A gain in decibels is
/// left out, for a hundredth of it is no hundredth of the gain.
const AMPLIFIER_KEYS: [&str; 7] = [
    "transconductance",
    "lag_resistance",
    "stage_resistance",
    "output_transconductance",
    "gain",
    "bandwidth",
    "first_pole",
];

/// One thing that can be turned.
#[derive(Clone, Debug)]
pub(super) struct Knob {
    /// The path of the change, which is its name too.
    pub(super) path: String,
    value: f64,
    dimension: Dimension,
    /// (part, key) of everything that follows; key empty where it is no plain quantity, part empty
    /// where it is the test's own.
    pub(super) touches: Vec<(String, &'static str)>,
}

/// Knobs, and what cannot be turned with the reason.
#[derive(Clone, Debug, Default)]
pub(super) struct Knobs {
    pub(super) list: Vec<Knob>,
    pub(super) skipped: Vec<(String, &'static str)>,
}

impl Knob {
    fn is_temperature(&self) -> bool {
        self.dimension == Dimension::KELVIN
    }

    /// `+1 %`, or `+1 K`.
    pub(super) fn step_words(&self) -> &'static str {
        if self.is_temperature() { "+1 K" } else { "+1 %" }
    }

    /// The change that turns it by so many steps.
    pub(super) fn turned(&self, steps: f64) -> Change {
        let value = if self.is_temperature() {
            self.value + steps * STEP_K
        } else {
            self.value * (1.0 + steps * SHARE)
        };
        Change::new(self.path.as_str(), format!("{value} {}", self.dimension.symbol()).trim())
    }

    /// Whether it is one key of one part under another name.
    pub(super) fn is_only(&self, part: &str, key: &str) -> bool {
        matches!(self.touches.as_slice(), [(p, k)] if p == part && *k == key)
    }
}

/// All changes of a test, those from outside first.
pub(super) fn changes_of(test: &Test, options: &RunOptions) -> Changes {
    let list = options.changes.list.iter().chain(&test.changes.list).cloned().collect();
    Changes { list }
}

/// Options of one run among many, of which measurements in `units` are asked: one solution, nothing
/// else read off it.
pub(super) fn measuring<'a>(
    options: &RunOptions,
    mut units: impl Iterator<Item = &'a str>,
) -> RunOptions {
    // Volts and seconds are all told by the rail's voltages. Currents between points by the equations took two
    // fifths of a whole run with its sensitivities, and moved none of them by a ten-thousandth of itself.
    let voltages = units.all(|unit| ["V", "s"].contains(&unit));
    let reads = if voltages { Reads::Voltages } else { Reads::Slopes };
    RunOptions { quick: true, reads, cross_check: false, watched: None, ..options.clone() }
}

/// Everything that can be turned in a test; what has no influence on it is left out.
pub(super) fn knobs(circuit: &Circuit, test: &Test, options: &RunOptions) -> Knobs {
    let changes = changes_of(test, options);
    let Ok(base) = circuit.variant(&changes) else { return Knobs::default() };
    let mut found = Knobs::default();
    let try_one = |mut knob: Knob, found: &mut Knobs| {
        if knob.value == 0.0 && !knob.is_temperature() {
            found.skipped.push((knob.path, "it is zero"));
            return;
        }
        let both = [1.0, -1.0].map(|steps| {
            let mut changes = changes.clone();
            changes.list.push(knob.turned(steps));
            circuit.variant(&changes).ok()
        });
        let [Some(above), Some(_)] = both else {
            found.skipped.push((knob.path, "it must not be turned both ways"));
            return;
        };
        knob.touches = touched(test, &base, &above);
        if !knob.touches.is_empty() {
            found.list.push(knob);
        }
    };
    for value in &base.values {
        let (path, touches) = (value.name.clone(), Vec::new());
        let knob = Knob { path, value: value.value, dimension: value.dimension, touches };
        try_one(knob, &mut found);
    }
    // The values of a regulator known by its datasheet stand for all keys inside it.
    let inside = |part: &str| {
        let own = |name: &str| part.strip_prefix(name).is_some_and(|rest| rest.starts_with('.'));
        circuit.regulators.iter().any(|regulator| own(&regulator.name))
    };
    for (part, key) in keys(&base).into_iter().filter(|(part, _)| !inside(part)) {
        if !found.list.iter().any(|knob| knob.is_only(part, key)) {
            found_key(&base, part, key).into_iter().for_each(|knob| try_one(knob, &mut found));
        }
    }
    found
}

/// (part, key) of output capacitors and of what amplifies, whether given or not.
fn keys(variant: &Variant) -> Vec<(&str, &'static str)> {
    let Some(rail) = &variant.rail else { return Vec::new() };
    let fed = rail.feedback.as_deref().and_then(|terminal| terminal.split('.').next());
    let fed = fed.filter(|part| !rail.amplifier.iter().any(|name| name == part));
    let capacitors = rail.output_capacitors.iter().map(|name| (name.as_str(), &CAPACITOR_KEYS[..]));
    let amplifiers = rail.amplifier.iter().map(String::as_str).chain(fed);
    let amplifiers = amplifiers.map(|name| (name, &AMPLIFIER_KEYS[..]));
    let all = capacitors.chain(amplifiers);
    all.flat_map(|(name, keys)| keys.iter().map(move |key| (name, *key))).collect()
}

/// A key that is given and not zero.
pub(super) fn found_key(variant: &Variant, part: &str, key: &'static str) -> Option<Knob> {
    let part = variant.part(part)?;
    let value = part.parameters.optional(key).filter(|v| *v != 0.0)?;
    let Form::Quantity(dimension, _) = part.kind.key(key)?.form else { return None };
    let path = format!("{}.{key}", part.name);
    Some(Knob { path, value, dimension, touches: vec![(part.name.clone(), key)] })
}

/// Whether a change moves anything in a test, which runs under `base` (its own changes come last);
/// `true` where that cannot be told.
pub(super) fn moves(circuit: &Circuit, test: &Test, base: &[Change], change: &Change) -> bool {
    let own_ambients = matches!(&test.motion, Motion::Steady(m) if !m.ambients.is_empty());
    if change.path == "rail.ambient" && own_ambients {
        return false;
    }
    let with = |changes: &[Change]| {
        let list = base.iter().chain(changes).chain(&test.changes.list).cloned().collect();
        circuit.variant(&Changes { list }).ok()
    };
    let (Some(one), Some(other)) = (with(&[]), with(std::slice::from_ref(change))) else {
        return true;
    };
    // The level of a part that the test drives is the test's.
    let driven = excite(test, &one).map(|e| e.drives).unwrap_or_default();
    touched(test, &one, &other).iter().any(|(part, key)| {
        let level = other.part(part).and_then(|p| p.driven).map(|(key, _)| key);
        !(driven.iter().any(|(name, _)| name == part) && (key.is_empty() || level == Some(key)))
    })
}

/// What differs between two variants, as this test sees them.
fn touched(test: &Test, one: &Variant, other: &Variant) -> Vec<(String, &'static str)> {
    let mut found = Vec::new();
    for (a, b) in one.parts.iter().zip(&other.parts).filter(|(a, b)| a.parameters != b.parameters) {
        let numbers = &b.parameters.numbers;
        let differing = a.parameters.numbers.iter().filter(|(key, v)| numbers.get(*key) != Some(v));
        let before = found.len();
        found.extend(differing.map(|(key, _)| (a.name.clone(), *key)));
        if found.len() == before {
            found.push((a.name.clone(), ""));
        }
    }
    let drives = |variant| excite(test, variant).map(|e| e.drives).ok();
    if drives(one) != drives(other) {
        found.push((String::new(), ""));
    }
    found
}
