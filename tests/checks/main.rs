//! Checks of the engine from outside, through the public API only: published problems, closed
//! forms, orders of the integration formulas, and what holds for every circuit whatever its values.
//!
//! Every reference number has its source beside it. Bounds are stated with what they follow from.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod agreement;
mod bench;
mod books;
mod capacitors;
mod conservation;
mod diode;
mod drives;
mod events;
mod few_figures;
mod heat;
mod heat_of_shunts;
mod impedance;
mod index_two;
mod limits;
mod natural;
mod negative_rail;
mod no_solution;
mod noise;
mod noise_as_told;
mod orders;
mod parts_in_time;
mod reference_start;
mod regulators;
mod rejection;
mod several_rests;
mod shutdown;
mod starting;
mod static_curves;
mod symmetry;
mod windup;
