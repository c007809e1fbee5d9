//! What a test must keep: a measurement's name, a limit, and the options its definition takes.

use super::figures::DropoutDefinition;
use super::words::quantity;

/// The values that satisfy a requirement, ends included, in the measurement's SI unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Limit {
    /// `<= x`
    AtMost(f64),
    /// `>= x`
    AtLeast(f64),
    /// `low .. high`
    Between(f64, f64),
}

impl Limit {
    /// How far a value lies inside each bound (negative = outside), each with the bound.
    pub(super) fn distances(self, value: f64) -> Vec<(f64, f64)> {
        match self {
            Self::AtMost(high) => vec![(high - value, high)],
            Self::AtLeast(low) => vec![(value - low, low)],
            Self::Between(low, high) => vec![(value - low, low), (high - value, high)],
        }
    }

    /// The largest value it allows, if it bounds from above.
    pub(super) fn highest(self) -> Option<f64> {
        match self {
            Self::AtMost(high) | Self::Between(_, high) => Some(high),
            Self::AtLeast(_) => None,
        }
    }

    /// In figures with the unit.
    pub fn text(self, unit: &str) -> String {
        match self {
            Self::AtMost(high) => format!("<= {}", quantity(high, unit)),
            Self::AtLeast(low) => format!(">= {}", quantity(low, unit)),
            Self::Between(low, high) => {
                format!("{} .. {}", quantity(low, unit), quantity(high, unit))
            }
        }
    }
}

/// The level that an excursion or a recovery is counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum About {
    /// The settled level ahead of the edge.
    Before,
    /// The settled level of the dwell after the edge.
    Settled,
    /// The rail's nominal voltage.
    Nominal,
}

impl About {
    /// As written in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Before => "before",
            Self::Settled => "settled",
            Self::Nominal => "nominal",
        }
    }

    /// From the word in a file.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Before, Self::Settled, Self::Nominal].into_iter().find(|a| a.word() == word)
    }
}

/// One requirement of a test.
#[derive(Clone, Debug, PartialEq)]
pub struct Requirement {
    /// The measurement, as in [`super::DEFINITIONS`].
    pub name: String,
    /// In the measurement's SI unit.
    pub limit: Limit,
    /// As the file has it, for reports.
    pub limit_text: String,
    /// V, absolute; a fraction in a file is of nominal and converted before.
    pub band: Option<f64>,
    /// See [`About`].
    pub about: Option<About>,
    /// V, for times below or above a level.
    pub level: Option<f64>,
    /// Hz, where it is to be read.
    pub at: Option<f64>,
    /// Hz, between which it is to be summed.
    pub band_hz: Option<[f64; 2]>,
    /// Of a dropout.
    pub definition: Option<DropoutDefinition>,
    /// The part it is asked of.
    pub of: Option<String>,
    /// By which share of nominal the output has fallen there.
    pub share: Option<f64>,
    /// Told, never counted.
    pub advisory: bool,
}
