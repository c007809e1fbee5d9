//! The table of measurements: name, unit, the tests that have it, what it means, its options.
//!
//! Explanations, results and requirement readers all take their words from here.

use super::bench::{Bench, Finding, Options};
use super::families::{
    ALL_AND_SWITCHED, ALL_OR_DOWN, ALL_OR_START, LOAD_STEP, OPERATING_POINT, STEPS, TIME,
    TIME_AND_SWITCHED, TIME_OR_DOWN, TIME_OR_START, WINDOWED,
};
use super::scene::TestKind;
use super::start_rows::START_ROWS;
use super::steady_rows::STEADY_ROWS;
use super::{excursion, stress, supply, timing};
use crate::quantity::Dimension;

/// What the margin's distance is divided by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// The size of the limit: excursions, times, powers, currents.
    OfLimit,
    /// The distance of the limit from nominal: output levels.
    FromNominal,
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
}

/// Which of several conditions is the worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Worse {
    /// The one with the lowest value.
    Lower,
    /// The one with the highest value.
    Higher,
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
            Self::Capacitor => "of",
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
    /// SI symbol; `1` for a plain number, told in %; empty for a count.
    pub unit: &'static str,
    /// Of the limits that a requirement may give.
    pub dimension: Dimension,
    /// The tests that report it.
    pub kinds: &'static [TestKind],
    /// What a requirement on it may or must say besides the limit.
    pub options: &'static [RequirementOption],
    /// How its margin is scaled.
    pub scale: Scale,
    /// What it is, in one sentence.
    pub text: &'static str,
    pub(super) procedure: Procedure,
}

impl std::fmt::Debug for Definition {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Definition")
            .field("name", &self.name)
            .field("unit", &self.unit)
            .finish_non_exhaustive()
    }
}

impl Definition {
    /// The `about` it takes where a requirement gives none; `None` if it has no such option.
    pub fn default_about(&self) -> Option<super::About> {
        self.options.iter().find_map(|option| match option {
            RequirementOption::About { default, .. } => Some(*default),
            _ => None,
        })
    }

    /// Whether a test of that kind reports it.
    pub fn belongs_to(&self, kind: TestKind) -> bool {
        self.kinds.contains(&kind)
    }
}

/// The definition of that name.
pub fn definition(name: &str) -> Option<&'static Definition> {
    DEFINITIONS.iter().find(|d| d.name == name)
}

pub(super) const NO_OPTION: &[RequirementOption] = &[];
const CAPACITOR: &[RequirementOption] = &[RequirementOption::Capacitor];
const LEVEL: &[RequirementOption] = &[RequirementOption::Level];
const BAND_ABOUT: &[RequirementOption] = &[
    RequirementOption::Band,
    RequirementOption::About {
        allowed: &[super::About::Settled, super::About::Nominal],
        default: super::About::Settled,
    },
];
const ABOUT: &[RequirementOption] = &[RequirementOption::About {
    allowed: &[super::About::Before, super::About::Settled, super::About::Nominal],
    default: super::About::Before,
}];

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
    Definition { name, unit, dimension, kinds, options, scale, text, procedure }
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
    Definition { name, unit, dimension, kinds, options, scale: Scale::OfLimit, text, procedure }
}

const fn dimension_of(unit: &str) -> Dimension {
    match unit.as_bytes() {
        b"V" => Dimension::VOLT,
        b"A^2*s" => Dimension::AMPERE_SQUARED_SECOND,
        b"A" => Dimension::AMPERE,
        b"s" => Dimension::SECOND,
        b"W" => Dimension::WATT,
        b"Hz" => Dimension::HERTZ,
        b"dB" => Dimension::DECIBEL,
        b"deg" => Dimension::DEGREE,
        b"1/V" => Dimension::PER_VOLT,
        // Ω and V/√Hz
        [0xce, 0xa9] => Dimension::OHM,
        [b'V', b'/', ..] => Dimension::VOLT_PER_ROOT_HERTZ,
        _ => Dimension::NONE,
    }
}

/// A row for a level of the output.
const fn level(
    name: &'static str,
    kinds: &'static [TestKind],
    text: &'static str,
    procedure: Reader,
) -> Definition {
    Definition { scale: Scale::FromNominal, ..row(name, "V", kinds, NO_OPTION, text, procedure) }
}

/// Rows by family, in the order of every report.
const FAMILIES: &[&[Definition]] = &[TIME_ROWS, START_ROWS, STEADY_ROWS];

/// All measurements, in the order of every report.
pub static DEFINITIONS: &[Definition] = &joined::<{ how_many() }>();

const fn how_many() -> usize {
    let (mut count, mut family) = (0, 0);
    while family < FAMILIES.len() {
        count += FAMILIES[family].len();
        family += 1;
    }
    count
}

const fn joined<const N: usize>() -> [Definition; N] {
    let mut all = [TIME_ROWS[0]; N];
    let (mut filled, mut family) = (0, 0);
    while family < FAMILIES.len() {
        let mut k = 0;
        while k < FAMILIES[family].len() {
            all[filled] = FAMILIES[family][k];
            filled += 1;
            k += 1;
        }
        family += 1;
    }
    all
}

const TIME_ROWS: &[Definition] = &[
    level(
        "before_level",
        STEPS,
        "mean of the output over the last 10 % of the first dwell, ahead of the first edge; not \
         evaluated if the straight line through that tenth, carried over the whole dwell, drifts \
         by more than 10 % of the band (the smallest recovery band asked for, else half the \
         window, else 0.1 % of nominal)",
        excursion::before_level,
    ),
    level(
        "loaded_level",
        STEPS,
        "mean of the output over the last 10 % of the dwell after the first edge (of the last \
         repetition), by order, whichever way the first edge goes; not evaluated while it drifts",
        excursion::loaded_level,
    ),
    level(
        "released_level",
        STEPS,
        "mean of the output over the last 10 % of the dwell after the second edge (of the last \
         repetition); not evaluated while it drifts",
        excursion::released_level,
    ),
    row(
        "droop",
        "V",
        STEPS,
        NO_OPTION,
        "before_level minus the lowest output from the start of the loading edge to the next \
         edge, the worst of all repetitions; in a line step after either edge; in a load step \
         that starts loaded, counted from the settled level ahead of the loading edge",
        excursion::droop,
    ),
    row(
        "ring_back",
        "V",
        LOAD_STEP,
        NO_OPTION,
        "highest output between the lowest instant after the loading edge and the next edge, \
         minus the settled level of that dwell; the worst of all repetitions",
        excursion::ring_back,
    ),
    row(
        "overshoot",
        "V",
        STEPS,
        ABOUT,
        "highest output from the start of the releasing edge to the next edge (line step: after \
         either edge), minus the settled level ahead of it (`before`), of the dwell after it \
         (`settled`) or the nominal voltage (`nominal`); the worst of all repetitions",
        excursion::overshoot,
    ),
    row(
        "recovery",
        "s",
        STEPS,
        BAND_ABOUT,
        "time from the start of the loading edge to the last entry into the band around the \
         settled level of that dwell (or nominal), the longest of all repetitions; in a line \
         step the longer of both edges; 0 if it never leaves the band",
        timing::recovery,
    ),
    row(
        "release_recovery",
        "s",
        LOAD_STEP,
        BAND_ABOUT,
        "time from the start of the releasing edge to the last entry into the band around the \
         settled level of that dwell (or nominal), the longest of all repetitions; 0 if it never \
         leaves the band",
        timing::release_recovery,
    ),
    row(
        "static_change",
        "V",
        STEPS,
        NO_OPTION,
        "loaded_level minus before_level",
        excursion::static_change,
    ),
    level(
        "output_minimum",
        TIME_OR_DOWN,
        "lowest output over the whole record",
        excursion::output_minimum,
    ),
    level(
        "output_maximum",
        TIME_AND_SWITCHED,
        "highest output over the whole record",
        excursion::output_maximum,
    ),
    row(
        "longest_below",
        "s",
        TIME,
        LEVEL,
        "longest single time that the output stays below the level",
        timing::longest_below,
    ),
    row(
        "longest_above",
        "s",
        TIME_AND_SWITCHED,
        LEVEL,
        "longest single time that the output stays above the level",
        timing::longest_above,
    ),
    row(
        "total_below",
        "s",
        TIME,
        LEVEL,
        "total time that the output spends below the level",
        timing::total_below,
    ),
    row(
        "late_ripple",
        "V",
        TIME_OR_START,
        NO_OPTION,
        "peak to peak of the output over the last 20 % of the last dwell (profile: of the \
         record); more than 0.1 % of nominal is called not settling",
        excursion::late_ripple,
    ),
    row(
        "headroom_minimum",
        "V",
        ALL_OR_DOWN,
        NO_OPTION,
        "lowest difference between regulator input and output over the whole record",
        supply::headroom_minimum,
    ),
    row(
        "input_minimum",
        "V",
        TIME_OR_DOWN,
        NO_OPTION,
        "lowest voltage at the regulator input over the whole record",
        supply::input_minimum,
    ),
    row(
        "input_maximum",
        "V",
        TIME_AND_SWITCHED,
        NO_OPTION,
        "highest voltage at the regulator input over the whole record",
        supply::input_maximum,
    ),
    row(
        "pass_power_peak",
        "W",
        ALL_AND_SWITCHED,
        NO_OPTION,
        "highest power absorbed by the pass devices together over the whole record",
        supply::pass_power_peak,
    ),
    row(
        "pass_power_mean",
        "W",
        ALL_OR_START,
        NO_OPTION,
        "mean power absorbed by the pass devices together over the last 10 % of the dwell that \
         loaded_level is taken from (start-up: behind the edge; profile: of the record)",
        supply::pass_power_mean,
    ),
    row(
        "source_current_peak",
        "A",
        TIME_OR_DOWN,
        NO_OPTION,
        "highest current delivered by the source over the whole record",
        supply::source_current_peak,
    ),
    row(
        "efficiency",
        "1",
        ALL_OR_START,
        NO_OPTION,
        "energy taken by the load over energy delivered by the source and the further supplies, \
         over the last 10 % of the dwell that loaded_level is taken from (profile: of the record)",
        supply::efficiency,
    ),
    row(
        "ground_current",
        "A",
        ALL_OR_START,
        NO_OPTION,
        "mean of the current delivered by the source and the further supplies minus the load's, \
         over the last 10 % of the dwell that loaded_level is taken from (profile: of the record)",
        supply::ground_current,
    ),
    row(
        "capacitor_stress",
        "1",
        ALL_AND_SWITCHED,
        CAPACITOR,
        "highest size of the voltage across a capacitor over the whole record, over its rated_voltage \
         times its derating: of the capacitor named in `of`, else of the worst of the output and \
         input capacitors that have a rating",
        stress::capacitor_stress,
    ),
    level("output_level", OPERATING_POINT, "the output's steady voltage", excursion::output_level),
    row(
        "output_error",
        "1",
        OPERATING_POINT,
        NO_OPTION,
        "(output minus nominal) over nominal",
        excursion::output_error,
    ),
    row(
        "headroom",
        "V",
        OPERATING_POINT,
        NO_OPTION,
        "regulator input minus output",
        supply::headroom,
    ),
    row(
        "window",
        "V",
        WINDOWED,
        NO_OPTION,
        "distance of the worst settled level (of every dwell; in a profile the mean over the \
         last 10 % of the record; in a start-up that of the dwell behind the edge, in a power-down \
         that of the dwell ahead of it; in a test at several conditions the rest at each) inside the \
         static window, negative outside",
        excursion::window,
    ),
    row(
        "transient_window",
        "V",
        ALL_OR_START,
        NO_OPTION,
        "distance of the worst instant of the whole record inside the window for transients, \
         negative outside; in a start-up only the side away from 0 V counts, in a power-down there \
         is none",
        excursion::transient_window,
    ),
];
