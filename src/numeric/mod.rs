//! Numbers the engine computes with, and the sparse elimination program.
//!
//! `Field` is what linear algebra needs (also complex numbers); `Scalar` adds what device laws
//! need, with masks and `select` instead of branches so that one law serves `f64`, dual numbers
//! and lanes of variants.

mod degree;
mod dual;
mod elementary;
mod elimination;
mod field;
mod groups;
mod lanes;
mod ordering;
mod pattern;
mod proof;
mod quadrature;
mod refine;
mod scalar;
mod short;
mod straight;

pub use dual::Dual;
pub use elimination::{Elimination, Factors, ROOM, SCRATCH, Singular};
pub use field::Field;
pub use groups::Groups;
pub use lanes::{LANES, Lanes};
pub use pattern::{Pattern, multiply};
pub use proof::{Proof, is_exact};
pub use quadrature::{Integral, integrate};
pub use refine::{
    ACCEPTED_BACKWARD_ERROR, Quality, Workspace, backward_error, solve_checked,
    solve_transposed_checked,
};
pub use scalar::Scalar;
pub use straight::Straight;
