//! The table of line shapes: their figures, levels, editions, and where each figure comes from.
//!
//! None of the figures was read in the standard itself; `published_` tests hold them against the
//! secondary sources named here.

use super::Figures;
use super::build;
use super::course::Course;
use super::mark::Mark;
use crate::quantity::{Dimension, trimmed};

/// A figure of a shape.
#[derive(Clone, Copy, Debug)]
pub struct ShapeFigure {
    /// The key.
    pub name: &'static str,
    /// `V`, `s`, `Hz`, or `1` for a share.
    pub unit: &'static str,
    /// In `unit`; infinite: none.
    pub default: f64,
    /// Where the default comes from.
    pub mark: Mark,
    /// What it is.
    pub text: &'static str,
}

/// A level of severity, a system or an edition, with the figures in which it differs.
#[derive(Clone, Copy, Debug)]
pub struct Variety {
    /// As typed behind `level`; empty where the shape has none.
    pub level: &'static str,
    /// As typed behind `edition`; empty where it is not known.
    pub edition: &'static str,
    /// Figures that differ from the shape's defaults.
    pub changes: &'static [(&'static str, f64, Mark)],
}

/// A line shape.
pub struct LineShape {
    /// As typed behind `shape`.
    pub name: &'static str,
    /// One line.
    pub summary: &'static str,
    /// The course in words, and what it leaves out.
    pub text: &'static str,
    /// Whether it stands for what a road vehicle does to its supplies.
    pub automotive: bool,
    /// In the order of the course.
    pub figures: &'static [ShapeFigure],
    /// The first is the default.
    pub varieties: &'static [Variety],
    pub(super) build: Build,
}

/// How a shape is put together from its figures.
#[derive(Clone, Copy)]
pub(super) enum Build {
    /// From any that are sound each by itself.
    Always(fn(&Figures<'_>) -> Course),
    /// From some that fit together; else what is wrong and what to write.
    Checked(fn(&Figures<'_>) -> Result<Course, (String, String)>),
}

impl Build {
    pub(super) fn course(self, figures: &Figures<'_>) -> Result<Course, (String, String)> {
        match self {
            Self::Always(build) => Ok(build(figures)),
            Self::Checked(build) => build(figures),
        }
    }
}

impl std::fmt::Debug for LineShape {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("LineShape").field("name", &self.name).finish_non_exhaustive()
    }
}

impl ShapeFigure {
    /// Of what a test may write.
    pub fn dimension(&self) -> Dimension {
        match self.unit {
            "V" => Dimension::VOLT,
            "s" => Dimension::SECOND,
            "Hz" => Dimension::HERTZ,
            _ => Dimension::NONE,
        }
    }

    pub(super) fn symbol(&self) -> &'static str {
        if self.unit == "1" { "" } else { self.unit }
    }

    /// A value of it in words.
    pub fn told(&self, value: f64) -> String {
        match self.unit {
            _ if value.is_infinite() => "none".to_owned(),
            _ if value.is_nan() => "a fifth of the course".to_owned(),
            "1" => trimmed(100.0 * value, "%", super::DIGITS),
            unit => trimmed(value, unit, super::DIGITS),
        }
    }

    /// What it must be, where a value is not.
    pub(super) fn refuses(&self, value: f64) -> Option<&'static str> {
        let (holds, wanted) = match self.unit {
            "s" => (value.is_finite() && value >= 0.0, "a time of zero or more"),
            "Hz" => (value.is_finite() && value > 0.0, "a frequency above zero"),
            "1" => (value > 0.0 && value <= 1.0, "a share above 0 and up to 100 %"),
            _ => (value.is_finite(), "a voltage"),
        };
        (!holds).then_some(wanted)
    }
}

impl Variety {
    /// `crank, level II`
    pub fn words(&self, shape: &str) -> String {
        let level =
            if self.level.is_empty() { String::new() } else { format!(", level {}", self.level) };
        let edition = if self.edition.is_empty() {
            String::new()
        } else {
            format!(", edition {}", self.edition)
        };
        format!("{shape}{level}{edition}")
    }
}

const RECIPE: Mark = Mark::LookedUp("recipes of test instruments");
const BENCH: Mark = Mark::LookedUp("a bench document that quotes the 2023 edition");
const PAPER: Mark = Mark::LookedUp("a table in the Journal of KIEES");
const EXTRACT: Mark = Mark::LookedUp("an extract of the 2010 edition's text");
const MANUAL: Mark = Mark::LookedUp("a manual of a test instrument");
const OWN: Mark = Mark::OurChoice;
const MEMORY: Mark = Mark::FromMemory;

const fn figure(
    (name, unit): (&'static str, &'static str),
    default: f64,
    mark: Mark,
    text: &'static str,
) -> ShapeFigure {
    ShapeFigure { name, unit, default, mark, text }
}

const fn before(seconds: f64) -> ShapeFigure {
    figure(("before", "s"), seconds, OWN, "time at rest ahead of it")
}

/// Not a number stands for a fifth of the course ahead of it.
const AFTER: ShapeFigure =
    figure(("after", "s"), f64::NAN, OWN, "time that it is watched behind it");

const fn variety(
    level: &'static str,
    edition: &'static str,
    changes: &'static [(&'static str, f64, Mark)],
) -> Variety {
    Variety { level, edition, changes }
}

const CRANK: LineShape = LineShape {
    name: "crank",
    summary: "the starter of a 12 V vehicle pulls the battery down",
    text: "supply, down to lowest in fall, there for lowest_time, up in climb to a plateau on which a \
           sine swings (its lowest value is trough) for plateau_time, back in recovery. The sine is \
           driven as such. Level I: ISO 16750-2, starting profile of the 2003 edition; voltages of \
           levels II to IV from memory",
    automotive: true,
    figures: &[
        before(10e-3),
        figure(("supply", "V"), 12.0, RECIPE, "level ahead of it and behind it"),
        figure(("fall", "s"), 5e-3, RECIPE, "time from supply to lowest"),
        figure(("lowest", "V"), 8.0, RECIPE, "lowest level, as the starter engages"),
        figure(("lowest_time", "s"), 15e-3, RECIPE, "how long it stays there"),
        figure(("climb", "s"), 50e-3, RECIPE, "time from there to the plateau"),
        figure(("trough", "V"), 9.5, RECIPE, "lowest value of the sine on the plateau"),
        figure(("ripple", "V"), 2.0, RECIPE, "its peak to peak"),
        figure(("ripple_frequency", "Hz"), 2.0, RECIPE, "its frequency"),
        figure(("plateau_time", "s"), 1.0, RECIPE, "length of the plateau"),
        figure(("recovery", "s"), 40e-3, RECIPE, "time from the plateau back to supply"),
        AFTER,
    ],
    varieties: &[
        variety("I", "2003", &[]),
        variety(
            "II",
            "",
            &[
                ("lowest", 4.5, MEMORY),
                ("trough", 6.5, MEMORY),
                ("plateau_time", 10.0, MANUAL),
                ("recovery", 0.1, MANUAL),
            ],
        ),
        variety(
            "III",
            "",
            &[
                ("lowest", 3.0, MEMORY),
                ("trough", 5.0, MEMORY),
                ("plateau_time", 1.0, MEMORY),
                ("recovery", 0.1, BENCH),
            ],
        ),
        variety(
            "IV",
            "",
            &[
                ("lowest", 6.0, MEMORY),
                ("trough", 6.5, MEMORY),
                ("plateau_time", 10.0, MANUAL),
                ("recovery", 0.1, MANUAL),
            ],
        ),
    ],
    build: Build::Always(build::crank),
};

const LOAD_DUMP: LineShape = LineShape {
    name: "load-dump",
    summary: "the battery falls off while the alternator charges it",
    text: "supply, straight up to peak in rise, then exponentially back; above a tenth of the excess for \
           duration (how duration counts is from memory); what lies above clamp is cut off. The decay is \
           driven as such. Levels \"unsuppressed\" and \"suppressed\" are tests A and B of ISO 16750-2, \
           peak and duration at the severe end of 79 to 101 V and 40 to 400 ms (24 V: 151 to 202 V, \
           100 to 350 ms). The alternator's inner resistance, 0.5 to 4 Ω (24 V: 1 to 8 Ω), is the \
           source's own `resistance`; one pulse of the several in a row",
    automotive: true,
    figures: &[
        before(10e-3),
        figure(("supply", "V"), 14.0, RECIPE, "level ahead of it"),
        figure(("peak", "V"), 101.0, PAPER, "highest level without clamp"),
        figure(("rise", "s"), 10e-3, PAPER, "time from supply to peak"),
        figure(("duration", "s"), 0.4, PAPER, "time above a tenth of the excess"),
        figure(("clamp", "V"), f64::INFINITY, PAPER, "level at which it is cut off"),
        AFTER,
    ],
    varieties: &[
        variety("unsuppressed", "2010", &[]),
        variety(
            "suppressed",
            "2010",
            &[("peak", 79.0, RECIPE), ("duration", 0.35, RECIPE), ("clamp", 35.0, RECIPE)],
        ),
        variety(
            "unsuppressed 24 V",
            "2010",
            &[("supply", 28.0, MEMORY), ("peak", 202.0, PAPER), ("duration", 0.35, PAPER)],
        ),
        variety(
            "suppressed 24 V",
            "2010",
            &[
                ("supply", 28.0, MEMORY),
                ("peak", 202.0, PAPER),
                ("duration", 0.35, PAPER),
                ("clamp", 58.0, RECIPE),
            ],
        ),
    ],
    build: Build::Checked(build::load_dump),
};

const MOMENTARY_DROP: LineShape = LineShape {
    name: "momentary-drop",
    summary: "another circuit's fuse blows and pulls the supply down for a moment",
    text: "supply, to level_then in edge, there for stays, back in edge; supply code C (9 V). ISO 16750-2, \
           values said to be read off its figure",
    automotive: true,
    figures: &[
        before(10e-3),
        figure(("supply", "V"), 9.0, BENCH, "level ahead of it and behind it"),
        figure(("level_then", "V"), 4.5, BENCH, "level to which it drops"),
        figure(("edge", "s"), 10e-3, BENCH, "duration of each edge, the longest allowed"),
        figure(("stays", "s"), 0.1, BENCH, "how long it stays there"),
        AFTER,
    ],
    varieties: &[
        variety("12 V", "2023", &[]),
        variety("24 V", "2023", &[("supply", 10.0, BENCH), ("level_then", 9.0, BENCH)]),
    ],
    build: Build::Always(build::excursion),
};

const JUMP_START: LineShape = LineShape {
    name: "jump-start",
    summary: "a 12 V vehicle is started from a 24 V one",
    text: "supply, to level_then in edge, there for stays, back in edge. ISO 16750-2",
    automotive: true,
    figures: &[
        before(10e-3),
        figure(("supply", "V"), 10.8, BENCH, "level ahead of it and behind it"),
        figure(("level_then", "V"), 26.0, BENCH, "level to which it jumps"),
        figure(("edge", "s"), 10e-3, BENCH, "duration of each edge, the longest allowed"),
        figure(("stays", "s"), 60.0, BENCH, "how long it stays there"),
        AFTER,
    ],
    varieties: &[
        variety("", "2023", &[]),
        variety(
            "",
            "2012",
            &[
                ("supply", 12.0, OWN),
                ("level_then", 24.0, MEMORY),
                ("edge", 10e-3, OWN),
                ("stays", 60.0, MEMORY),
            ],
        ),
    ],
    build: Build::Always(build::excursion),
};

const OVERVOLTAGE: LineShape = LineShape {
    name: "overvoltage",
    summary: "the alternator's regulator lets its voltage rise for a moment",
    text: "supply, to level_then in edge, there for stays, back in edge. ISO 16750-2, transient \
           overvoltage; level \"lasting\" is that of a failed regulator, 60 min",
    automotive: true,
    figures: &[
        before(10e-3),
        figure(("supply", "V"), 16.0, BENCH, "level ahead of it and behind it"),
        figure(("level_then", "V"), 18.0, BENCH, "level to which it rises"),
        figure(("edge", "s"), 1e-3, BENCH, "duration of each edge"),
        figure(("stays", "s"), 0.4, BENCH, "how long it stays there"),
        AFTER,
    ],
    varieties: &[
        variety("momentary", "2023", &[]),
        variety("lasting", "", &[("level_then", 18.0, MEMORY), ("stays", 3600.0, MEMORY)]),
    ],
    build: Build::Always(build::excursion),
};

const REVERSED: LineShape = LineShape {
    name: "reversed",
    summary: "the battery is connected the wrong way round",
    text: "0 V, to level_then in edge, there for stays, back to 0 V in edge. Level 1 and 2 are cases 1 and \
           2 of ISO 16750-2",
    automotive: true,
    figures: &[
        before(10e-3),
        figure(("level_then", "V"), -14.0, BENCH, "level the wrong way round"),
        figure(("edge", "s"), 1e-3, OWN, "duration of each edge"),
        figure(("stays", "s"), 60.0, BENCH, "how long it stays there"),
        AFTER,
    ],
    varieties: &[variety("2", "2023", &[]), variety("1", "2023", &[("level_then", -4.0, BENCH)])],
    build: Build::Always(build::reversed),
};

const RESET_STEPS: LineShape = LineShape {
    name: "reset-steps",
    summary: "the supply drops by one stair more each time, to find where things reset wrongly",
    text: "supply for before, then down by step of it for low_time, up for high_time, down by two steps, \
           and so on to 0 V. Levels A to D are the supply codes of ISO 16750-2; the recipe seen is \
           of code B",
    automotive: true,
    figures: &[
        figure(("before", "s"), 10.0, RECIPE, "time at rest ahead of it"),
        figure(("supply", "V"), 8.0, RECIPE, "level between the drops"),
        figure(("step", "1"), 0.05, RECIPE, "share of supply by which each drop is deeper"),
        figure(("edge", "s"), 10e-3, OWN, "duration of each edge"),
        figure(("low_time", "s"), 5.0, RECIPE, "length of each drop"),
        figure(("high_time", "s"), 10.0, RECIPE, "time between drops"),
        AFTER,
    ],
    varieties: &[
        variety("B", "2012", &[]),
        variety("A", "2012", &[("supply", 6.0, EXTRACT)]),
        variety("C", "2012", &[("supply", 9.0, EXTRACT)]),
        variety("D", "2012", &[("supply", 10.5, EXTRACT)]),
    ],
    build: Build::Checked(build::reset_steps),
};

const SLOW_FALL: LineShape = LineShape {
    name: "slow-fall",
    summary: "the battery runs down to nothing and is charged again, slowly",
    text: "supply, straight down to 0 V in fall_time, there for low_time, up in rise_time: 0.5 V/min. \
           Levels A to D are the supply codes of ISO 16750-2; an older draft has 3 V/min",
    automotive: true,
    figures: &[
        before(1.0),
        figure(("supply", "V"), 6.0, MANUAL, "level ahead of it and behind it"),
        figure(("fall_time", "s"), 720.0, MANUAL, "time down to 0 V"),
        figure(("low_time", "s"), 0.0, OWN, "time at 0 V"),
        figure(("rise_time", "s"), 720.0, MANUAL, "time up again"),
        AFTER,
    ],
    varieties: &[
        variety("A", "2010", &[]),
        variety(
            "B",
            "2010",
            &[("supply", 8.0, EXTRACT), ("fall_time", 960.0, MANUAL), ("rise_time", 960.0, MANUAL)],
        ),
        variety(
            "C",
            "2010",
            &[
                ("supply", 9.0, EXTRACT),
                ("fall_time", 1080.0, MANUAL),
                ("rise_time", 1080.0, MANUAL),
            ],
        ),
        variety(
            "D",
            "2010",
            &[
                ("supply", 10.5, MANUAL),
                ("fall_time", 1260.0, MANUAL),
                ("rise_time", 1260.0, MANUAL),
            ],
        ),
    ],
    build: Build::Always(build::slow_fall),
};

const HOT_PLUG: LineShape = LineShape {
    name: "hot-plug",
    summary: "a contact closes: the source jumps onto its own inductance and the input capacitor",
    text: "0 V, to supply in edge. What rings is the circuit: the source's `resistance`, the inductance of \
           its leads and the input capacitors, which may see up to twice the supply; input_maximum and \
           capacitor_stress judge it. No standard's figures",
    automotive: false,
    figures: &[
        before(10e-6),
        figure(("supply", "V"), f64::NAN, Mark::PartsOwn, "level behind the edge"),
        figure(("edge", "s"), 100e-9, OWN, "time in which the contact closes"),
        figure(("after", "s"), 1e-3, OWN, "time that it is watched behind it"),
    ],
    varieties: &[variety("", "", &[])],
    build: Build::Always(build::hot_plug),
};

const RIPPLE: LineShape = LineShape {
    name: "ripple",
    summary: "a sine on the supply",
    text: "supply, with a sine of `ripple` peak to peak at one frequency for ripple_time; driven as such. \
           Levels 1 to 3 are the severities of the superimposed alternating voltage of ISO 16750-2, \
           which sweeps from 50 Hz to 25 kHz at 16 V (all from memory): ripple-rejection tests look at \
           all frequencies",
    automotive: true,
    figures: &[
        before(1e-3),
        figure(("supply", "V"), f64::NAN, Mark::PartsOwn, "level it is put on"),
        figure(("ripple", "V"), 1.0, MEMORY, "its peak to peak"),
        figure(("frequency", "Hz"), 1e3, OWN, "its frequency"),
        figure(("ripple_time", "s"), 20e-3, OWN, "how long it is there"),
        AFTER,
    ],
    varieties: &[
        variety("1", "", &[]),
        variety("2", "", &[("ripple", 2.0, MEMORY)]),
        variety("3", "", &[("ripple", 4.0, MEMORY)]),
    ],
    build: Build::Always(build::ripple),
};

/// All line shapes.
pub static LINE_SHAPES: &[LineShape] = &[
    CRANK,
    LOAD_DUMP,
    MOMENTARY_DROP,
    JUMP_START,
    OVERVOLTAGE,
    REVERSED,
    RESET_STEPS,
    SLOW_FALL,
    HOT_PLUG,
    RIPPLE,
];
