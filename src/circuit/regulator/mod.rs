//! A regulator known by its datasheet: what the sheet says, and the inside assumed for it.
//!
//! Reading a circuit turns each part of kind `regulator` into a block of parts that exist (pass
//! device, error amplifier, reference, divider, limits) with values of its own, so that
//! `U1.mid_gain` can be set, mapped, tuned and scattered like any other value. Choosing those values
//! so that the sheet's points come out is a study (`crate::study`).

mod inside;
mod sheet;

pub use inside::InnerValue;
pub use sheet::{
    At, Compensation, Datasheet, Dropout, GroundCurrent, Impedance, Level, Limit, LineRegulation,
    LoadRegulation, Noise, NoiseDensity, Recovery, Rejection, Shutdown, Topology, Transient,
};

use crate::diagnostic::Span;

/// A part of kind `regulator`, as it was read.
#[derive(Clone, Debug)]
pub struct Regulator {
    /// `U1`, with the blocks around it: `PSU.U1`.
    pub name: String,
    /// Its key in the file.
    pub span: Span,
    /// What its datasheet says.
    pub sheet: Datasheet,
    /// The values of the block that stands for it, in the order of the block.
    pub inside: Vec<InnerValue>,
    /// The block, as text that could stand in a circuit file.
    pub block: String,
}
