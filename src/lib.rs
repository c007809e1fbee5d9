//! railstep steps a linear (series-pass or shunt) voltage regulator through load and line
//! transients in the time domain, measures droop, overshoot, recovery and dissipation, and
//! judges them against the requirements written in the circuit file.
//!
//! Data go one way through the layers, and each names only those before it in the table of
//! `DEVELOPERS.md` (a test reads the `use` lines). Nothing in the library prints, exits or opens a file.

pub mod analysis;
pub mod circuit;
pub mod curve;
pub mod device;
pub mod diagnostic;
pub mod document;
pub mod measure;
pub mod numeric;
pub mod output;
pub mod plan;
pub mod quantity;
pub mod study;
pub mod suitability;
pub mod system;
pub mod trial;
pub mod waveform;
