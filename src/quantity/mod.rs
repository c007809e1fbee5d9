//! Quantities with units, and expressions of them: text to a checked program over any scalar.
//!
//! What a name stands for is the caller's to say, through [`Names`].

// The one mistake a text's form can have is the rare path; boxing it would burden every caller.
#![allow(clippy::result_large_err)]

mod celsius;
mod compile;
mod dimension;
mod engineering;
mod function;
mod literal;
mod parser;
mod program;
pub mod series;
mod tree;
mod unit;
mod unknown;
mod wanted;

#[cfg(test)]
mod tests;

pub use celsius::{ZERO_CELSIUS_K, celsius};
pub use dimension::Dimension;
pub use engineering::{engineering, trimmed};
pub use parser::{MAX_NESTING, MAX_TEXT_BYTES, parse};
pub use program::{MAX_STACK, Program};
pub use tree::Tree;
pub use unit::{reserved, valid_name};

/// The names an expression may use.
pub trait Names {
    /// Where the value of `name` stands in the slots given to [`Program::evaluate`], and its
    /// dimension.
    fn find(&self, name: &str) -> Option<(usize, Dimension)>;

    /// Every name in scope, to suggest the nearest one from.
    fn all(&self) -> Vec<String>;
}

/// Nothing in scope.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoNames;

impl Names for NoNames {
    fn find(&self, _name: &str) -> Option<(usize, Dimension)> {
        None
    }

    fn all(&self) -> Vec<String> {
        Vec::new()
    }
}
