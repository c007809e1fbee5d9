//! Curves of a sweep as an SVG: panels one above the other over a common axis, linear or logarithmic.
//!
//! A chart is plain data: curves, forbidden regions, reference lines and measured numbers at their
//! places. What a place on an axis cannot hold (no number, or nothing above zero on a logarithmic
//! axis) interrupts a curve and is left out everywhere else.

mod choices;
mod figure;
mod legend;
mod panel;
mod range;
pub(super) mod ruler;
mod style;
pub(super) mod ticks;

pub use choices::{Choices, Outcome, choices_svg};
pub use figure::chart_svg;

/// What a chart shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chart {
    /// Large, on top; wrapped to two lines, then shortened.
    pub title: String,
    /// Verdict and the numbers it rests on; nothing is drawn when empty.
    pub subtitle: String,
    /// Conditions, one entry a line; wrapped.
    pub caption: Vec<String>,
    /// The axis that all panels share.
    pub x: Axis,
    /// From top to bottom, of equal height.
    pub panels: Vec<Panel>,
    /// What solid, dashed and dotted lines stand for where that differs within one label: told in
    /// the legend.
    pub styles: Vec<(Style, String)>,
    /// One unit is equally long on both axes. Only for one panel with linear axes; elsewhere it
    /// changes nothing.
    pub square: bool,
}

/// One axis.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Axis {
    /// What it shows: `frequency`.
    pub label: String,
    /// SI base unit of its values, `deg`, `dB`, `1` for a share (written in %) or nothing.
    pub unit: &'static str,
    /// How values lie on it.
    pub scale: Scale,
    /// Its ends, in its unit. `None`, or ends that the scale cannot have: those of what is drawn.
    pub range: Option<(f64, f64)>,
}

/// How values lie on an axis.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Scale {
    /// Equal differences are equally long.
    #[default]
    Linear,
    /// Equal ratios are equally long; only values above zero have a place.
    Logarithmic,
}

/// Curves over one vertical axis.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Panel {
    /// The vertical axis; its label stands over the panel.
    pub y: Axis,
    /// Drawn in this order.
    pub curves: Vec<Trace>,
    /// Forbidden regions, shaded.
    pub masks: Vec<Mask>,
    /// Straight lines to read the curves against.
    pub lines: Vec<Level>,
    /// Measured numbers, written where they happen.
    pub marks: Vec<Mark>,
}

/// One curve.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// Told in the legend. Equal labels have one colour, in all panels.
    pub label: String,
    /// Positions in the units of the axes, joined in this order; the line may turn back and close.
    pub points: Vec<(f64, f64)>,
    /// Solid, dashed or dotted.
    pub style: Style,
    /// How much it stands out.
    pub emphasis: Emphasis,
}

/// Whether a line is broken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Style {
    /// Unbroken, except where colours have run out.
    #[default]
    Solid,
    /// In dashes.
    Dashed,
    /// In dots.
    Dotted,
}

/// How much a curve stands out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Emphasis {
    /// One of several.
    #[default]
    Usual,
    /// The one to look at: a thick line.
    Strong,
    /// What the others are held against: thin and grey, takes no colour from them.
    Reference,
}

impl Emphasis {
    /// Later ones lie over earlier ones.
    fn rank(self) -> u8 {
        match self {
            Self::Reference => 0,
            Self::Usual => 1,
            Self::Strong => 2,
        }
    }
}

/// A region where curves must not go: all above or below a line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mask {
    /// Corners in the units of the axes, joined by lines that are straight in the picture; in
    /// front of the first and behind the last one its height is held.
    pub points: Vec<(f64, f64)>,
    /// Which side is forbidden.
    pub forbidden: Side,
    /// Written beside the line: `target 50 mΩ`.
    pub label: String,
}

/// A side of a line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Side {
    /// Greater values.
    #[default]
    Above,
    /// Smaller values.
    Below,
}

/// A straight reference line across the panel.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Level {
    /// Its place, in the unit of the axis it stands on.
    pub at: f64,
    /// Written beside it: `0 dB`.
    pub label: String,
    /// Horizontal (`at` is on the vertical axis) or vertical.
    pub direction: Direction,
}

/// Where a straight line goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Direction {
    /// From left to right.
    #[default]
    Horizontal,
    /// From bottom to top.
    Vertical,
}

/// A dot and its text.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mark {
    /// Place on the common axis, in its unit.
    pub x: f64,
    /// Height in the panel, in its unit.
    pub y: f64,
    /// `45.2° at 55 kHz`; empty: a dot alone. Without room in the panel it goes into the caption.
    pub text: String,
    /// Label of the curve whose colour the dot has; empty: black.
    pub of: String,
    /// What stands there.
    pub shape: MarkShape,
}

/// What stands where a number happens: told apart without colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum MarkShape {
    /// A filled disc.
    #[default]
    Disc,
    /// A diagonal cross.
    Cross,
}

#[cfg(test)]
mod tests;
