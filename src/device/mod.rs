//! Parts: one file a family, each law written once, each kind a row of data.
//!
//! A part lays itself out as primitive elements in a [`Net`]; the engine knows nothing else of it.

mod drive;
mod kind;
mod law;
mod net;
mod nonlinear;

pub use drive::{Corner, Drive, Piece, Shape};
pub use kind::{Form, Key, Kind, LawOutput, Need, Parameters, Range, Rule, Terminal, Terminals};
pub use law::{Law, MOST_INPUTS};
pub use net::{Control, Element, GROUND, Input, Net, PartEntry, Pin, Role, UnknownEntry};
pub use nonlinear::{Nonlinear, Visitor};
