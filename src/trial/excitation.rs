//! What a test does to the circuit, as data: drives, edges and dwells; and the figures it is made of.

use super::Driven;
use crate::circuit::Variant;
use crate::device::{Drive, Form, Range};
use crate::measure::{Dwell, Edge};
use crate::quantity::{Dimension, Program};

/// Share of `hold` that is watched ahead of the first edge when a test does not say.
pub(super) const BEFORE_SHARE: f64 = 0.1;

/// Drives and the timeline of one test on one variant.
#[derive(Clone, Debug, Default)]
pub struct Excitation {
    /// Parts with the levels they follow.
    pub drives: Vec<(String, Drive)>,
    /// Edges of the moving part.
    pub edges: Vec<Edge>,
    /// Dwells between them.
    pub dwells: Vec<Dwell>,
    /// Length of the record in s.
    pub end_s: f64,
    /// What the load does, in words.
    pub load_words: Option<String>,
    /// What the source does, in words, where it moves.
    pub source_words: Option<String>,
    /// The ambient temperatures, in words, where there are several.
    pub ambient_words: Option<String>,
    /// A further part that moves, and what it does in words.
    pub by_words: Option<(String, String)>,
    /// Duration of the first edge in s.
    pub edge_s: Option<f64>,
    /// What must be known of the figures behind it.
    pub notes: Vec<String>,
    /// Whether the source follows a shape that stands for what a road vehicle does.
    pub is_automotive: bool,
    /// S of a contact across the output, where one is shorted.
    pub contact: Option<Drive>,
}

/// A key of a test that makes no sense once its figures are known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// The key.
    pub key: &'static str,
    /// What is wrong.
    pub message: String,
    /// What to write.
    pub hint: String,
}

/// Figures of a test as they come out in one variant; those that make no sense are noted.
pub(super) struct Figures<'a> {
    pub(super) variant: &'a Variant,
    pub(super) wrong: Vec<Complaint>,
}

impl Figures<'_> {
    pub(super) fn complain(&mut self, key: &'static str, message: String, hint: &str) {
        if !self.wrong.iter().any(|w| w.key == key) {
            self.wrong.push(Complaint { key, message, hint: hint.to_owned() });
        }
    }

    /// A duration in s, zero allowed.
    pub(super) fn duration(&mut self, program: &Program, key: &'static str) -> f64 {
        let value: f64 = self.variant.evaluate(program);
        if !(value.is_finite() && value >= 0.0) {
            let shown = words(value, Dimension::SECOND);
            let message = format!("`{key}` must be a time of zero or more, but is {shown}");
            self.complain(key, message, "write a time of zero or more, such as `\"100 µs\"`");
        }
        value
    }

    /// A level in the unit of the part, within what the part can take.
    pub(super) fn level(&mut self, program: &Program, driven: &Driven, key: &'static str) -> f64 {
        let value: f64 = self.variant.evaluate(program);
        let row = self.variant.part(&driven.part).and_then(|p| p.kind.key(p.driven?.0));
        let range = match row.map(|r| &r.form) {
            Some(Form::Quantity(_, range)) => *range,
            _ => Range::Any,
        };
        if !range.holds(value) {
            let wanted = if value.is_finite() { range.words() } else { Range::Any.words() };
            let shown = words(value, driven.dimension);
            let message =
                format!("`{key}` drives `{}` and must be {wanted}, but is {shown}", driven.part);
            self.complain(key, message, &format!("write levels that are {wanted}"));
        }
        value
    }
}

pub(super) fn words(level: f64, dimension: Dimension) -> String {
    crate::quantity::trimmed(level, &dimension.symbol(), 4)
}

pub(super) fn replace(excitation: &mut Excitation, driven: &Driven, drive: Drive) {
    excitation.drives.retain(|(part, _)| *part != driven.part);
    excitation.drives.push((driven.part.clone(), drive));
}
