//! What a test at rest or over frequency says of itself.

use crate::diagnostic::Span;
use crate::quantity::{Dimension, Program};

/// A test that is solved at rest, at every combination of its levels.
#[derive(Clone, Debug)]
pub struct SteadyMotion {
    /// Loads; its steady one when empty.
    pub load_levels: Vec<Program>,
    /// Levels of the source; its steady one when empty.
    pub source_levels: Vec<Program>,
    /// Ambient temperatures in K; the rail's when empty.
    pub ambients: Vec<Program>,
    /// What is looked for there.
    pub quest: Quest,
}

/// What a steady test looks for.
#[derive(Clone, Debug)]
pub enum Quest {
    /// Loop gain.
    LoopGain {
        /// Over these frequencies.
        frequencies: Frequencies,
        /// Whether the complex plane is drawn too.
        nyquist: bool,
    },
    /// Output impedance.
    OutputImpedance {
        /// Over these frequencies.
        frequencies: Frequencies,
        /// (Hz, Ω) that it must stay below.
        mask: Vec<(Program, Program)>,
        /// Whether the load's own conductance counts.
        include_load: bool,
    },
    /// Ripple rejection.
    RippleRejection {
        /// Over these frequencies.
        frequencies: Frequencies,
        /// Whether source impedance and input capacitor count.
        from_source: bool,
    },
    /// Noise.
    Noise {
        /// Over these frequencies.
        frequencies: Frequencies,
        /// Hz; the default when `None`.
        band: Option<[Program; 2]>,
    },
    /// Output against load.
    LoadRegulation {
        /// From this load,
        from: Program,
        /// to this one,
        to: Program,
        /// in so many levels.
        points: usize,
        /// Whether the input pin is held, not the source.
        hold_pin: bool,
    },
    /// Output against source.
    LineRegulation {
        /// From this level,
        from: Program,
        /// to this one,
        to: Program,
        /// in so many levels.
        points: usize,
    },
    /// The limit characteristic: what the regulator delivers at any output.
    Overload(OverloadAsk),
    /// Output against a falling and rising source.
    Dropout {
        /// From this level,
        from: Option<Program>,
        /// to this one,
        to: Option<Program>,
        /// in so many levels.
        points: usize,
        /// How far above nominal the input pin stands for the reference value of the output.
        reference_headroom: Option<Program>,
        /// Tests that must hold, and where they are named.
        usable_for: Vec<(String, Span)>,
    },
}

/// What an overload test asks.
#[derive(Clone, Debug)]
pub struct OverloadAsk {
    /// V where the output is forced first; a bit above what is regulated when left out.
    pub highest: Option<Program>,
    /// V where it is forced last, which may lie below ground; -0.3 V when left out.
    pub lowest: Option<Program>,
    /// So many levels between.
    pub points: usize,
    /// Loads that the rail is to start into; its own when empty.
    pub loads: Vec<OverloadLoad>,
}

/// A load of an overload test.
#[derive(Clone, Debug)]
pub struct OverloadLoad {
    /// `resistance`, `current` or `power`.
    pub key: &'static str,
    /// Ω, A or W.
    pub level: Program,
    /// V: `fade` of a current, `minimum_voltage` of a power.
    pub bend: Option<Program>,
}

impl OverloadLoad {
    /// The unit of its level.
    pub fn dimension(&self) -> Dimension {
        match self.key {
            "resistance" => Dimension::OHM,
            "power" => Dimension::WATT,
            _ => Dimension::AMPERE,
        }
    }
}

/// Where the output is forced last when nothing is said: below ground, as another rail may pull it.
pub(super) const LOWEST_V: f64 = -0.3;

/// Frequencies of a test, spaced evenly in the logarithm.
#[derive(Clone, Debug)]
pub struct Frequencies {
    /// Hz; 10 Hz when left out.
    pub lowest: Option<Program>,
    /// Hz; 100 MHz when left out.
    pub highest: Option<Program>,
    /// So many a decade.
    pub per_decade: usize,
}

/// Where a test over frequency begins when it does not say.
pub(super) const LOWEST_HZ: f64 = 10.0;
/// Where it ends.
pub(super) const HIGHEST_HZ: f64 = 100e6;
/// How many frequencies a decade it has.
pub(super) const PER_DECADE: usize = 25;
