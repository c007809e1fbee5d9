//! Pictures as SVG. Here: the step response, with the full record on top and magnified edges below
//! it. In [`chart`]: curves of a sweep. In [`heat`]: one quantity over two others.
//!
//! Everything that is drawn comes in as plain numbers and texts. Lengths on the page are in
//! CSS pixels (900 wide), positions in the data in seconds and the unit of the panel.

mod canvas;
pub mod chart;
mod cut;
pub mod envelope;
mod figure;
mod heading;
pub mod heat;
pub mod histogram;
mod labels;
mod panel;
pub(super) mod thin;
mod ticks;

pub use figure::step_svg;

/// What a figure shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StepPlot {
    /// Large, on top; wrapped to two lines, then shortened.
    pub title: String,
    /// Verdict and the numbers it rests on.
    pub subtitle: String,
    /// Conditions, one entry a line; wrapped.
    pub caption: Vec<String>,
    /// First and last instant of the full record, s.
    pub time_range_s: (f64, f64),
    /// From top to bottom.
    pub panels: Vec<Panel>,
    /// Short windows that [`Panel::zoomed`] panels are repeated for, side by side.
    pub zooms: Vec<Zoom>,
}

/// A short window of the record, drawn again in full width.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Zoom {
    /// First instant, s.
    pub from_s: f64,
    /// Last instant, s.
    pub to_s: f64,
    /// What happens there: `loading edge`.
    pub label: String,
}

/// Curves over one vertical axis.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Panel {
    /// What the axis shows: `output vout`.
    pub label: String,
    /// SI base unit of its values.
    pub unit: &'static str,
    /// Drawn in this order; the first one is the reason for the panel.
    pub curves: Vec<Curve>,
    /// Allowed regions, shaded.
    pub bands: Vec<Band>,
    /// Measured numbers, written where they happen.
    pub marks: Vec<Mark>,
    /// Share of the height among the panels.
    pub height_share: f64,
    /// Whether it is repeated for every [`Zoom`].
    pub zoomed: bool,
}

/// One line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curve {
    /// Told when the panel has several.
    pub name: String,
    /// Time in s and value, times never falling; two equal times are a jump.
    pub points: Vec<(f64, f64)>,
    /// How it is drawn.
    pub role: Role,
}

/// What a line stands for, which decides its colour and weight.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Role {
    /// The subject.
    #[default]
    Main,
    /// A second quantity.
    Second,
    /// A third one.
    Third,
    /// What the subject is held against.
    Reference,
}

/// An allowed region.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Band {
    /// Lower end; minus infinity where there is none.
    pub low: f64,
    /// Upper end; infinity where there is none.
    pub high: f64,
    /// `window ± 2 %`.
    pub label: String,
}

/// A measured number at its place.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mark {
    /// When, s.
    pub t_s: f64,
    /// Height in the panel.
    pub value: f64,
    /// `droop 20.4 mV`.
    pub text: String,
}

#[cfg(test)]
mod tests;
