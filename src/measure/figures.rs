//! Figures of a test that is solved at several conditions, as they are asked for and found: plain data.

use super::words::quantity;

/// How a dropout voltage is defined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DropoutDefinition {
    /// Input minus output where the output has fallen so many V below its regulated value.
    Below(f64),
    /// The same with a fraction of that value.
    ShareBelow(f64),
    /// Input minus output with the input pin at 95 % of nominal, where the pass device gives all it
    /// can.
    FullyOn,
}

/// Those that every dropout test tells.
pub const DROPOUT_DEFINITIONS: [DropoutDefinition; 3] = [
    DropoutDefinition::Below(0.1),
    DropoutDefinition::ShareBelow(0.02),
    DropoutDefinition::FullyOn,
];

impl DropoutDefinition {
    /// As in files: `100 mV below`, `2 % below`, `fully on`.
    pub fn words(self) -> String {
        match self {
            Self::Below(volt) => format!("{} below", quantity(volt, "V")),
            Self::ShareBelow(share) => format!("{} below", quantity(share, "1")),
            Self::FullyOn => "fully on".to_owned(),
        }
    }
}

/// What a figure is asked with, besides its name.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Asked {
    /// Hz, where it is to be read.
    pub at_hz: Option<f64>,
    /// Hz, between which it is to be summed.
    pub band_hz: Option<[f64; 2]>,
    /// Of a dropout.
    pub definition: Option<DropoutDefinition>,
    /// Of nominal, by which the output has fallen.
    pub share: Option<f64>,
}

/// A figure that a test has to find at each of its conditions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// As in [`DEFINITIONS`](super::DEFINITIONS).
    pub name: &'static str,
    /// With its options.
    pub asked: Asked,
}

/// One figure as it was found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figure {
    /// In the measurement's unit.
    pub value: f64,
    /// Hz, where one frequency decides.
    pub at_hz: Option<f64>,
    /// Said beside it.
    pub note: Option<String>,
    /// A state in which no value satisfies a requirement: a loop that is unstable.
    pub condemned: Option<String>,
}

impl Figure {
    /// A figure that no frequency decides.
    pub fn plain(value: f64) -> Self {
        Self { value, ..Self::default() }
    }

    /// A figure at a frequency in Hz.
    pub fn at(value: f64, at_hz: f64) -> Self {
        Self { value, at_hz: Some(at_hz), ..Self::default() }
    }
}

/// Why there is no figure at a condition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Absence {
    /// There is no such thing there, and that is well: a loop whose gain never reaches 1 has no
    /// phase margin.
    Harmless(String),
    /// It is better than any limit: a loop whose phase never passes -180° has no end to its gain
    /// margin.
    Beyond(String),
    /// It cannot be told.
    Unknown(String),
}

/// What was found at one condition.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Station {
    /// `2 mA, 3.7 V, 25 °C`; empty for what belongs to the whole test.
    pub condition: String,
    /// What was wanted and what came of it.
    pub figures: Vec<(Wanted, Result<Figure, Absence>)>,
}

/// Which of several conditions is the worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Worse {
    /// The one with the lowest value.
    Lower,
    /// The one with the highest value.
    Higher,
}
