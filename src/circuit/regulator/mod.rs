//! A regulator known by its datasheet: what the sheet says, and the inside assumed for it.
//!
//! Reading a circuit turns each part of kind `regulator` into a block of parts that exist (pass
//! device, error amplifier, reference, divider, limits) with values of its own, so that
//! `U1.mid_gain` can be set, mapped, tuned and scattered like any other value. Choosing those values
//! so that the sheet's points come out is a study (`crate::study`).

mod block;
mod doubts;
mod draft;
mod inside;
mod read;
mod rows;
mod sheet;
mod spelling;
mod take_apart;
#[cfg(test)]
mod tests;
mod text;

pub use inside::{InnerValue, inside};
pub use sheet::{
    At, Compensation, Datasheet, Dropout, GroundCurrent, Impedance, Level, Limit, LineRegulation,
    LoadRegulation, Noise, NoiseDensity, Recovery, Rejection, Shutdown, Topology, Transient,
};
pub use text::model_text;

pub(super) use take_apart::{REGULATOR, Regulators, TakenApart, take_apart};

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
    /// The line that uses it in the part's place.
    pub line: String,
}

impl Regulator {
    /// The pass devices inside: `U1.Q`.
    pub fn pass_devices(&self) -> Vec<String> {
        let own: &[&str] = match self.sheet.topology {
            Topology::Darlington => &["Q1", "Q2"],
            _ => &["Q"],
        };
        own.iter().map(|part| format!("{}.{part}", self.name)).collect()
    }

    /// The error amplifier inside: `U1.EA`.
    pub fn amplifier(&self) -> String {
        format!("{}.EA", self.name)
    }
}
