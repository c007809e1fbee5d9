//! Quantities with units, and expressions of them.

mod dimension;
mod program;

pub use dimension::Dimension;
pub use program::Program;
