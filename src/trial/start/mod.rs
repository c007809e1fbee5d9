//! Tests that switch a rail on or off: by its source, or by a source that enables it.

mod kinds;
mod motion;
mod read;
mod through;

use super::Driven;
use crate::quantity::Program;

pub(super) use kinds::{POWER_DOWN, START_UP};
pub(super) use motion::{own_level, ramp};
pub(super) use read::read_switching;
pub(super) use through::pass_terminals;

/// One way up or down, all times in s.
#[derive(Clone, Debug)]
pub struct RampMotion {
    /// What moves, where it is not the source.
    pub by: Option<Driven>,
    /// Whether it brings power; else it takes it away.
    pub up: bool,
    /// Level ahead of the edge: going up 0 when left out, going down the part's own.
    pub from: Option<Program>,
    /// Level behind it: the other way round.
    pub to: Option<Program>,
    /// Ahead of the edge.
    pub before_s: Option<Program>,
    /// 0 to 100 %.
    pub ramp_s: Program,
    /// Behind the edge.
    pub hold_s: Program,
}
