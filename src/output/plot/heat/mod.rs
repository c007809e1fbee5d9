//! One quantity over two others as an SVG: a field of colours, the line at which a limit stops to
//! hold, and the present design with its tolerances.
//!
//! Everything comes as plain data. Places in the field are shares of the axes, from 0 at the lower
//! left to 1; what lies outside is cut off.

mod bands;
mod figure;
mod hatch;
mod marks;
mod scale;

pub use figure::heat_svg;

use super::chart::Axis;

/// A place in the field: shares of both axes.
pub type Place = [f64; 2];

/// What a field shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heat {
    /// Large, on top; wrapped to two lines, then shortened.
    pub title: String,
    /// What was found, in a line or two.
    pub subtitle: String,
    /// Conditions, one entry a line; wrapped.
    pub caption: Vec<String>,
    /// The horizontal axis; its range is needed.
    pub x: Axis,
    /// The vertical axis; its range is needed.
    pub y: Axis,
    /// What the colours stand for.
    pub scale: Colours,
    /// Parts of the field.
    pub patches: Vec<Patch>,
    /// Polygons of what misses the limit.
    pub missing: Vec<Vec<Place>>,
    /// Polygons in which there is no number.
    pub blank: Vec<Vec<Place>>,
    /// Why not, for the legend.
    pub blank_text: String,
    /// Lines between what holds and what misses.
    pub boundary: Vec<Vec<Place>>,
    /// The limit, written beside them.
    pub boundary_text: String,
    /// The design as it stands.
    pub present: Option<Present>,
    /// The nearest place of the boundary.
    pub nearest: Option<Pointer>,
}

/// What the colours stand for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Colours {
    /// Quantity, unit and scale; a range that is left out is that of the values.
    pub axis: Axis,
    /// Whether the larger is the better: the light end is the good one.
    pub larger_is_better: bool,
    /// Limits marked on the bar: value, text, and whether values above it miss.
    pub limits: Vec<(f64, String, bool)>,
}

/// A rectangle with the values at its corners.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Patch {
    /// Lower left corner.
    pub from: Place,
    /// Upper right corner.
    pub to: Place,
    /// Counter-clockwise from the lower left.
    pub values: [Option<f64>; 4],
}

/// The design as it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Present {
    /// Where.
    pub at: Place,
    /// Lower left and upper right corner of its tolerances.
    pub tolerances: Option<(Place, Place)>,
    /// `present design: droop 20.4 mV`.
    pub text: String,
}

/// A line with an arrow from the present design.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pointer {
    /// Where it ends.
    pub to: Place,
    /// How far that is.
    pub text: String,
}

#[cfg(test)]
mod tests;
