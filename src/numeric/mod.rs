//! Numbers the engine computes with, and the sparse elimination program.
//!
//! `Field` is what linear algebra needs (also complex numbers); `Scalar` adds what device laws
//! need, with masks and `select` instead of branches so that one law serves `f64`, dual numbers
//! and lanes of variants.

mod dual;
mod field;
mod scalar;

pub use dual::Dual;
pub use field::Field;
pub use scalar::Scalar;
