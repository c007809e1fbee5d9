//! Parts: one file a family, each law written once, each kind a row of data.
//!
//! A part lays itself out as primitive elements in a [`Net`]; the engine knows nothing else of it.

mod abreast;
mod adjustable_shunt;
mod amplifier_stages;
mod bias;
mod bipolar;
mod block;
mod branch;
mod capacitor;
mod consumption;
mod contact;
mod coupled_inductors;
mod current_limit;
mod dielectric;
mod diode;
mod drive;
mod effective;
mod error_amplifier;
mod heat_path;
mod junction;
mod kind;
mod lag;
mod law;
mod load;
mod mosfet;
mod net;
mod noise;
mod nonlinear;
mod operational_amplifier;
mod passive;
mod program_law;
mod protection;
mod reference;
pub mod region;
mod regulator;
mod row;
mod smooth;
mod source;
mod sudden_load;
mod switch;
pub mod temperature;
#[cfg(test)]
mod tests;
mod transconductor;
mod trip;
mod warm;
mod zener;

pub use abreast::{Abreast, Rank};
pub use adjustable_shunt::{ShuntInput, ShuntOutput};
pub use amplifier_stages::{CeilingClamp, Clamp, CurrentStage, InputStage, VoltageStage};
pub use bias::{BiasCurve, ClassBias};
pub use bipolar::{Bipolar, BipolarCharges, ChargedBipolar};
pub use contact::{Contact, Gate};
pub use current_limit::{LimitDemand, Steering};
pub use dielectric::{Dielectric, DielectricClass};
pub use diode::{ChargedDiode, Diode, DiodePlace};
pub use drive::{Corner, Drive, Piece, Shape};
pub use effective::{
    CapacitorFigures, EffectiveCapacitor, Factor, Ladder, Loss, OverBias, allowed_voltage,
    bias_is_assumed, capacitor_figures, dielectric_of, effective, outside_temperature,
    temperature_band,
};
pub use heat_path::HEATED_KINDS;
pub use junction::{Depletion, JunctionScale};
pub use kind::{Form, Key, Kind, LawOutput, Need, Parameters, Range, Rule, Terminal, Terminals};
pub use law::{Law, MOST_INPUTS};
pub use load::{CurrentLoad, LoadLine, PowerLoad, ResistanceLoad, Short, lay_short};
pub use mosfet::{Mosfet, MosfetWithBody};
pub use net::{
    Break, Control, Element, GROUND, HeatPath, Input, Net, PartEntry, Pin, Role, UnknownEntry,
    Wanted,
};
pub use noise::{BarrierNoise, Noise, NoiseCause, NoisePlace, NoiseSource};
pub use nonlinear::{Nonlinear, RankVisitor, Ranked, Visitor};
pub use operational_amplifier::{OffsetStage, SwingLimits};
pub use program_law::{MOST_LAW_INPUTS, ProgramCharge, ProgramCurrent};
pub use reference::SuppliedReference;
pub use source::own_level;
pub use transconductor::TransconductorStage;
pub use trip::{PlacedTrip, Trip};
pub use warm::{HeatedBy, OverTemperature, WARM_RANGE_K, Warm};
pub use zener::{ChargedZener, Zener};

/// Every kind of part, in the order a reader should meet them.
static KINDS: &[&Kind] = &[
    &passive::RESISTOR,
    &capacitor::CAPACITOR,
    &passive::INDUCTOR,
    &coupled_inductors::COUPLED_INDUCTORS,
    &source::VOLTAGE_SOURCE,
    &source::CURRENT_SOURCE,
    &load::LOAD,
    &source::CONTROLLED_VOLTAGE_SOURCE,
    &source::CONTROLLED_CURRENT_SOURCE,
    &reference::REFERENCE,
    &diode::DIODE,
    &zener::ZENER,
    &bipolar::BIPOLAR,
    &mosfet::MOSFET,
    &error_amplifier::ERROR_AMPLIFIER,
    &switch::SWITCH,
    &protection::LOCK_OUT,
    &protection::THERMAL_SHUTDOWN,
    &protection::SUPERVISOR,
    &sudden_load::CAPACITOR_CONNECT,
    &sudden_load::PULSE_LOAD,
    &operational_amplifier::OPERATIONAL_AMPLIFIER,
    &transconductor::TRANSCONDUCTOR,
    &adjustable_shunt::ADJUSTABLE_SHUNT,
    &current_limit::CURRENT_LIMIT,
    &program_law::LAW,
    &heat_path::HEAT_PATH,
    &regulator::REGULATOR,
    &block::BLOCK,
];

/// Every kind of part.
pub fn kinds() -> &'static [&'static Kind] {
    KINDS
}

/// The kind of this name, as typed in a file.
pub fn kind(name: &str) -> Option<&'static Kind> {
    KINDS.iter().copied().find(|k| k.name == name)
}
