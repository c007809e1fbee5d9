//! What a row of the table of measurements says: name, unit, the tests that have it, what it means, its
//! options.
//!
//! Explanations, results and requirement readers all take their words from here.

use super::bench::{Bench, Finding, Options};
use super::figures::Worse;
use super::scene::TestKind;
use crate::quantity::Dimension;

/// What the margin's distance is divided by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// The size of the limit: excursions, times, powers, currents.
    OfLimit,
    /// The distance of the limit from nominal: output levels.
    FromNominal,
    /// The distance of the limit from ambient: temperatures.
    FromAmbient,
}

/// Where a measurement that nothing asks for is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Appears {
    /// In every test of its kinds.
    Always,
    /// In circuits with a heat path.
    WithHeat,
    /// In circuits whose parts have states.
    WithStates,
}

/// An option that a requirement on a measurement may carry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RequirementOption {
    /// Half-width of the band, a voltage or a fraction of nominal; must be given.
    Band,
    /// The level counted from; may be given.
    About {
        /// The words allowed.
        allowed: &'static [super::About],
        /// Taken where none is given.
        default: super::About,
    },
    /// A voltage level; must be given.
    Level,
    /// A frequency; may be given.
    At,
    /// Two frequencies; may be given.
    FrequencyBand,
    /// Which dropout; must be given.
    Definition,
    /// A capacitor; may be given.
    Capacitor,
    /// How far the output has fallen, as a share of nominal; may be given.
    Share,
    /// A heat path or a part that heats one; may be given.
    Junction,
}

impl RequirementOption {
    /// The key in a requirement.
    pub fn key(self) -> &'static str {
        match self {
            Self::Band => "band",
            Self::About { .. } => "about",
            Self::Level => "level",
            Self::At => "at",
            Self::FrequencyBand => "band",
            Self::Definition => "definition",
            Self::Share => "share",
            Self::Capacitor | Self::Junction => "of",
        }
    }

    /// Whether a requirement without it cannot be evaluated.
    pub fn must_be_given(self) -> bool {
        matches!(self, Self::Band | Self::Level | Self::Definition)
    }
}

/// How a measurement reads a waveform.
pub(super) type Reader = for<'a, 'b, 'c> fn(&'a Bench<'b>, Options<'c>) -> Result<Finding, String>;

/// How the value of one measurement is found. Opaque outside this layer.
#[derive(Clone, Copy)]
pub(super) enum Procedure {
    /// Off the waveform.
    Waveform(Reader),
    /// The worst of what was found at all conditions.
    Stations(Worse),
}

/// One measurement.
#[derive(Clone, Copy)]
pub struct Definition {
    /// As in requirements and results.
    pub name: &'static str,
    /// SI symbol; `1` for a plain number, told in %; `count` for one that is counted.
    pub unit: &'static str,
    /// Of the limits that a requirement may give.
    pub dimension: Dimension,
    /// The tests that report it.
    pub kinds: &'static [TestKind],
    /// What a requirement on it may or must say besides the limit.
    pub options: &'static [RequirementOption],
    /// How its margin is scaled.
    pub scale: Scale,
    /// Where it is told though nothing asks for it.
    pub appears: Appears,
    /// What it is, in one sentence.
    pub text: &'static str,
    pub(super) procedure: Procedure,
}

pub(super) const NO_OPTION: &[RequirementOption] = &[];

/// A row: the dimension follows from the unit.
pub(super) const fn row(
    name: &'static str,
    unit: &'static str,
    kinds: &'static [TestKind],
    options: &'static [RequirementOption],
    text: &'static str,
    reader: Reader,
) -> Definition {
    let dimension = dimension_of(unit);
    let (scale, procedure) = (Scale::OfLimit, Procedure::Waveform(reader));
    let appears = Appears::Always;
    Definition { name, unit, dimension, kinds, options, scale, appears, text, procedure }
}

/// A row for a figure of a test that is solved at several conditions.
pub(super) const fn figure(
    (name, unit): (&'static str, &'static str),
    kinds: &'static [TestKind],
    options: &'static [RequirementOption],
    worse: Worse,
    text: &'static str,
) -> Definition {
    let (dimension, procedure) = (dimension_of(unit), Procedure::Stations(worse));
    let (scale, appears) = (Scale::OfLimit, Appears::Always);
    Definition { name, unit, dimension, kinds, options, scale, appears, text, procedure }
}

const fn dimension_of(unit: &str) -> Dimension {
    match unit.as_bytes() {
        b"V" => Dimension::VOLT,
        b"A^2*s" => Dimension::AMPERE_SQUARED_SECOND,
        b"A" => Dimension::AMPERE,
        b"s" => Dimension::SECOND,
        b"W" => Dimension::WATT,
        b"J" => Dimension::JOULE,
        b"Hz" => Dimension::HERTZ,
        b"dB" => Dimension::DECIBEL,
        b"deg" => Dimension::DEGREE,
        b"1/V" => Dimension::PER_VOLT,
        [b'K', ..] => Dimension::KELVIN,
        // Ω and V/√Hz
        [0xce, 0xa9] => Dimension::OHM,
        [b'V', b'/', ..] => Dimension::VOLT_PER_ROOT_HERTZ,
        _ => Dimension::NONE,
    }
}
