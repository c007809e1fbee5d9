//! One test on one variant of a circuit: excite, solve, measure, judge.
//!
//! The main flow is [`run`]; the table of test kinds, from which reading, `explain` and the
//! schema come, is [`TEST_KINDS`].

mod abreast;
mod at_rest;
mod books;
mod budget;
mod capacitors;
mod curves;
mod excitation;
mod excite;
mod explanation;
mod headroom;
pub mod heat;
mod kind_row;
mod kinds;
mod limit_kinds;
mod march;
mod observe;
mod profile;
mod pulses;
mod rail_view;
mod read;
mod reading;
mod reads;
mod require;
mod rest;
mod run;
mod shapes;
mod short;
mod start;
mod steady;
mod steady_kinds;

pub use abreast::{go_abreast, run_all};
pub use at_rest::{NodeLevel, PartRegion};
pub use books::Balance;
pub use excitation::{Complaint, Excitation};
pub use excite::excite;
pub use explanation::{Cause, CauseKind, DrivePlateau, DroopEstimate, Explanation};
pub use kind_row::{TestKey, TestKindRow};
pub use kinds::{COMMON_TEST_KEYS, TEST_KINDS, test_kind_row};
pub use observe::{Column, Observer, Watched};
pub use read::{read_tests, stem};
pub use reads::Reads;
pub use require::RequirementProgram;
pub use rest::Unchanged;
pub use run::{Condition, Outcome, RunOptions, check, run, run_with};
pub use shapes::{LINE_SHAPES, LineShape, Mark, ShapeFigure, ShapeMotion, Variety, line_shape};
pub use start::RampMotion;
pub use steady::{
    Frequencies, Further, IN_TIME_ONLY, OverloadAsk, OverloadLoad, Quest, SteadyMotion, swept_range,
};

use crate::analysis::Start;
use crate::circuit::{Changes, Window};
use crate::diagnostic::Span;
use crate::measure::TestKind;
use crate::quantity::{Dimension, Program};

/// One `[[tests]]` entry, read and checked.
#[derive(Clone, Debug)]
pub struct Test {
    /// As the file calls it.
    pub name: String,
    /// Its name as a file stem.
    pub stem: String,
    /// Where its table stands.
    pub span: Span,
    /// What kind of test it is.
    pub kind: TestKind,
    /// Values (and ambient) for this test only.
    pub changes: Changes,
    /// The part that load changes drive.
    pub load: Option<Driven>,
    /// The part that source changes drive.
    pub source: Option<Driven>,
    /// Steady level of the load where the test does not move it.
    pub load_level: Option<Program>,
    /// Steady level of the source where the test does not move it.
    pub source_level: Option<Program>,
    /// Where it starts.
    pub start: Start,
    /// Target error of the output in V, if the test sets one.
    pub accuracy_v: Option<Program>,
    /// Uniformly spaced rows for the CSV.
    pub sample: Option<Sample>,
    /// Windows for this test only.
    pub window: WindowChoice,
    /// The same for every instant.
    pub transient_window: WindowChoice,
    /// What it drives.
    pub motion: Motion,
    /// What it must keep.
    pub requirements: Vec<RequirementProgram>,
    /// What its keys hold stands here.
    pub keys: Vec<(String, Span)>,
}

impl Test {
    /// Where what a key holds stands; the test itself for a key it leaves out.
    pub fn place(&self, key: &str) -> Span {
        self.keys.iter().find(|(name, _)| name == key).map_or(self.span, |(_, span)| *span)
    }
}

/// A part that a test may drive, and the unit of its level.
#[derive(Clone, Debug, PartialEq)]
pub struct Driven {
    /// Its name.
    pub part: String,
    /// A for a current load, Ω or W for others; V for a source.
    pub dimension: Dimension,
}

/// Extra rows of the CSV.
#[derive(Clone, Debug, PartialEq)]
pub enum Sample {
    /// So many rows, evenly over the record.
    Count(usize),
    /// A row every so many seconds.
    Every(Program),
}

/// A window as a test gives it.
#[derive(Clone, Debug, Default)]
pub enum WindowChoice {
    /// The rail's.
    #[default]
    Rail,
    /// None for this test.
    Off,
    /// Its own.
    Own(Window),
}

/// Which of the two driven parts moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mover {
    /// The load.
    Load,
    /// The source.
    Source,
}

/// What a test drives, all times in s.
#[derive(Clone, Debug)]
pub enum Motion {
    /// Nothing: a steady state.
    Rest,
    /// There and back, perhaps repeated.
    Step(Box<StepMotion>),
    /// One way up or down, of a source.
    Ramp(Box<RampMotion>),
    /// Points.
    Profile(Box<ProfileMotion>),
    /// Nothing, at every combination of some levels.
    Steady(Box<SteadyMotion>),
    /// A short across the output.
    Short(Box<ShortMotion>),
    /// The load, until every period is like the one before.
    Pulses(Box<PulseMotion>),
}

/// A short across the output for a time.
#[derive(Clone, Debug)]
pub struct ShortMotion {
    /// How long, edges not counted.
    pub short_s: Program,
    /// Ω; 10 mΩ when left out.
    pub ohm: Option<Program>,
    /// Of the contact, coming and going; 1 µs when left out.
    pub edge_s: Option<Program>,
    /// How long it is watched afterwards; as `short_s` when left out.
    pub recover_s: Option<Program>,
    /// Ahead of it; a tenth of `short_s` when left out.
    pub before_s: Option<Program>,
}

/// A train of load pulses.
#[derive(Clone, Debug)]
pub struct PulseMotion {
    /// Level between the pulses.
    pub from: Program,
    /// Level in the pulses.
    pub to: Program,
    /// 0 to 100 %.
    pub edge_s: Program,
    /// The way back; the same when left out.
    pub edge_back_s: Option<Program>,
    /// From pulse to pulse, where rates are not scanned.
    pub period_s: Option<Program>,
    /// From the end of the first edge to the start of the second.
    pub width_s: Option<Program>,
    /// Instead of it, the share of the period between the middles of the edges.
    pub duty: Option<Program>,
    /// Ahead of the first pulse.
    pub before_s: Option<Program>,
    /// Most periods to wait for one that is like the one before.
    pub periods: usize,
    /// Rates among which the worst is looked for.
    pub scan: Option<Scan>,
}

/// Repetition rates to look at, spaced evenly in the logarithm.
#[derive(Clone, Debug)]
pub struct Scan {
    /// The lowest.
    pub from_hz: Program,
    /// The highest.
    pub to_hz: Program,
    /// How many, ends included; more are added around the worst.
    pub points: usize,
}

/// A step there and back.
#[derive(Clone, Debug)]
pub struct StepMotion {
    /// What moves.
    pub mover: Mover,
    /// Level ahead of the first edge.
    pub from: Program,
    /// Level held.
    pub to: Program,
    /// Ahead of the first edge.
    pub before_s: Option<Program>,
    /// 0 to 100 %.
    pub edge_s: Program,
    /// The way back; the same when left out.
    pub edge_back_s: Option<Program>,
    /// From the end of an edge to the start of the next.
    pub hold_s: Program,
    /// After the way back; as `hold_s` when left out.
    pub settle_s: Option<Program>,
    /// How many times.
    pub repeat: usize,
}

/// Points in time of load and source.
#[derive(Clone, Debug)]
pub struct ProfileMotion {
    /// How long it is watched; the last point when left out.
    pub duration_s: Option<Program>,
    /// (s, level) of the load.
    pub load: Option<Vec<(Program, Program)>>,
    /// (s, level) of the source.
    pub source: Option<Vec<(Program, Program)>>,
    /// A line shape that the source follows instead.
    pub shape: Option<ShapeMotion>,
}
