//! What differs from board to board: tolerances of values and of parts.

use super::axis::present;
use super::spell::{quantity_value, spelled};
use crate::circuit::{Change, Changes, Circuit, Distribution, Variant, VariantPart};
use crate::device::{Kind, temperature_band};
use crate::quantity::Dimension;

/// The key that a part's `tolerance` is about.
const TOLERANCED: [(&str, &str, Dimension); 6] = [
    ("resistor", "resistance", Dimension::OHM),
    ("capacitor", "capacitance", Dimension::FARAD),
    ("inductor", "inductance", Dimension::HENRY),
    ("reference", "voltage", Dimension::VOLT),
    ("zener", "breakdown_voltage", Dimension::VOLT),
    ("adjustable-shunt", "reference_voltage", Dimension::VOLT),
];

/// The key of a capacitor that says where in the band of its dielectric it lies.
const DRIFT: &str = "temperature_drift";

/// Why something scatters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// `tolerance` of a value.
    Value,
    /// `tolerance` of a part.
    Part,
    /// The temperature characteristic of a capacitor's dielectric: a band, not a curve.
    Band,
}

/// One quantity that scatters.
#[derive(Clone, Debug, PartialEq)]
pub struct Scatter {
    /// What is changed, as `--set` takes it.
    pub path: String,
    /// What it measures.
    pub dimension: Dimension,
    /// With nothing scattered, in SI base units.
    pub nominal: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// How it scatters between them.
    pub distribution: Distribution,
    /// Why.
    pub cause: Cause,
    /// It is a share of something that moves with others that scatter.
    follows: bool,
}

/// Everything in a circuit that scatters.
#[derive(Clone, Debug)]
pub struct Scatters<'a> {
    circuit: &'a Circuit,
    /// What is changed before anything scatters.
    base: Changes,
    /// In the order of the file: values, parts, dielectrics.
    pub list: Vec<Scatter>,
}

impl Scatter {
    /// The quantity at a position: 0 nominal, -1 at the lower limit, 1 at the upper one.
    pub fn at(&self, position: f64) -> f64 {
        let side = if position < 0.0 { self.nominal - self.low } else { self.high - self.nominal };
        self.nominal + position * side
    }

    /// Whether it is a share of something that moves with others that scatter.
    pub fn follows(&self) -> bool {
        self.follows
    }
}

impl<'a> Scatters<'a> {
    /// What scatters in a circuit under some changes (those of a corner of the environment).
    pub fn of(circuit: &'a Circuit, base: &Changes) -> Self {
        let Ok(variant) = circuit.variant(base) else { return Self::none(circuit, base) };
        let mut found = Self::found(circuit, base, &variant);
        let values = found.list.iter().take_while(|s| s.cause == Cause::Value).count();
        found.mark_followers(values, &variant);
        found
    }

    /// The same where it is known beforehand that no part's key follows a value. Parts that cannot
    /// scatter are not looked at: what is wrong with one shows when the circuit is run.
    pub fn unrelated(circuit: &'a Circuit, base: &Changes) -> Self {
        match circuit.variant_with(base, |kind| toleranced(kind).is_some()) {
            Ok(variant) => Self::found(circuit, base, &variant),
            Err(_) => Self::none(circuit, base),
        }
    }

    fn none(circuit: &'a Circuit, base: &Changes) -> Self {
        Self { circuit, base: base.clone(), list: Vec::new() }
    }

    fn found(circuit: &'a Circuit, base: &Changes, variant: &Variant) -> Self {
        let mut found = Self::none(circuit, base);
        for spec in &circuit.values_told {
            let nominal = present(variant, &spec.name).filter(|value| *value != 0.0);
            if let (Some(limits), Some(nominal)) = (spec.tolerance, nominal) {
                let scatter = scatter(&spec.name, spec.dimension, nominal, limits, Cause::Value);
                found.list.push(Scatter { distribution: spec.distribution, ..scatter });
            }
        }
        found.list.extend(parts(variant));
        found
    }

    /// A part's key follows when turning the values moves it.
    fn mark_followers(&mut self, values: usize, variant: &Variant) {
        let turned = self.values_at(|scatter| scatter.at(0.5), values);
        let Ok(turned) = self.circuit.variant(&turned) else { return };
        for scatter in self.list.iter_mut().skip(values) {
            scatter.follows = present(&turned, &scatter.path) != present(variant, &scatter.path);
        }
    }

    fn values_at(&self, at: impl Fn(&Scatter) -> f64, values: usize) -> Changes {
        let mut changes = self.base.clone();
        let list = self.list.iter().take(values);
        changes.list.extend(list.map(|s| spelled(&s.path, at(s), s.dimension).0));
        changes
    }

    /// To which side of what it is about these changes turn each of [`Scatters::list`]: -1 or 1, or 0
    /// where they leave it. What follows others is about where those have taken it.
    pub fn sides(&self, turned: &[Change]) -> Vec<f64> {
        let follows = |path: &str| self.list.iter().any(|s| s.follows && s.path == path);
        let mut base = self.base.clone();
        base.list.extend(turned.iter().filter(|change| !follows(&change.path)).cloned());
        let variant = self.circuit.variant(&base).ok();
        let side = |scatter: &Scatter| {
            let change = turned.iter().rev().find(|change| change.path == scatter.path)?;
            let value = quantity_value(&change.text, scatter.dimension)?;
            let about = match &variant {
                Some(variant) if scatter.follows => present(variant, &scatter.path)?,
                _ => scatter.nominal,
            };
            Some((value - about).signum())
        };
        self.list.iter().map(|scatter| side(scatter).unwrap_or(0.0)).collect()
    }

    /// The changes that put each of [`Scatters::list`] at its position (see [`Scatter::at`]); one at
    /// zero is left as it is.
    pub fn changes(&self, positions: &[f64]) -> Vec<Change> {
        let moved = self.list.iter().zip(positions).filter(|(_, position)| **position != 0.0);
        let mut changes = Vec::new();
        let mut late = Vec::new();
        for (scatter, position) in moved {
            if scatter.follows {
                late.push((scatter, position));
            } else {
                changes.push(spelled(&scatter.path, scatter.at(*position), scatter.dimension).0);
            }
        }
        if late.is_empty() {
            return changes;
        }
        let mut base = self.base.clone();
        base.list.extend(changes.iter().cloned());
        if let Ok(variant) = self.circuit.variant(&base) {
            for (scatter, position) in late {
                let Some(now) = present(&variant, &scatter.path) else { continue };
                let value = now * scatter.at(*position) / scatter.nominal;
                changes.push(spelled(&scatter.path, value, scatter.dimension).0);
            }
        }
        changes
    }
}

fn scatter(
    path: &str,
    dimension: Dimension,
    nominal: f64,
    [minus, plus]: [f64; 2],
    cause: Cause,
) -> Scatter {
    let (a, b) = (nominal * (1.0 - minus), nominal * (1.0 + plus));
    let (low, high) = if a <= b { (a, b) } else { (b, a) };
    let distribution = Distribution::Uniform;
    Scatter {
        path: path.to_owned(),
        dimension,
        nominal,
        low,
        high,
        distribution,
        cause,
        follows: false,
    }
}

/// Where in the band of its dielectric a capacitor may lie at its temperature.
fn band(part: &VariantPart) -> Option<Scatter> {
    if part.kind.name != "capacitor" || part.parameters.optional(DRIFT) != Some(0.0) {
        return None;
    }
    let [low, high] = temperature_band(&part.parameters)?;
    let path = format!("{}.{DRIFT}", part.name);
    let tolerance = scatter(&path, Dimension::NONE, 0.0, [0.0; 2], Cause::Band);
    (low < high).then_some(Scatter { low, high, ..tolerance })
}

/// The row of a kind whose parts may scatter.
fn toleranced(kind: &Kind) -> Option<&'static (&'static str, &'static str, Dimension)> {
    TOLERANCED.iter().find(|(name, ..)| *name == kind.name)
}

fn parts(variant: &Variant) -> Vec<Scatter> {
    let mut found = Vec::new();
    for part in &variant.parts {
        let Some((_, key, dimension)) = toleranced(part.kind) else { continue };
        let tolerance = part.parameters.optional("tolerance").filter(|share| *share > 0.0);
        let nominal = part.parameters.optional(key);
        if let (Some(share), Some(nominal)) = (tolerance, nominal) {
            let path = format!("{}.{key}", part.name);
            found.push(scatter(&path, *dimension, nominal, [share; 2], Cause::Part));
        }
        found.extend(band(part));
    }
    found
}
