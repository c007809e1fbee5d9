//! Line shapes: courses of the source that profiles take by name, each figure with where it comes from.
//!
//! The figures of road vehicles are examples. What was seen only in secondary sources, or is known only
//! from memory, is told as such wherever a shape is used.

mod build;
mod course;
mod mark;
mod read;
mod table;
#[cfg(test)]
mod tests;

use crate::circuit::Variant;
use crate::device::Drive;
use crate::quantity::{Program, trimmed};

pub use mark::Mark;
pub(super) use read::read_shape;
pub use table::{LINE_SHAPES, LineShape, ShapeFigure, Variety};

/// Significant digits of figures in words.
const DIGITS: usize = 4;

/// A line shape as a test asks for it.
#[derive(Clone, Debug)]
pub struct ShapeMotion {
    /// Its row.
    pub shape: &'static LineShape,
    /// Its level and edition.
    pub variety: &'static Variety,
    /// Figures that the test gives itself.
    pub given: Vec<(&'static str, Program)>,
}

/// A shape with its figures worked out.
pub(super) struct Shaped {
    /// What the source does.
    pub(super) drive: Drive,
    /// s
    pub(super) length_s: f64,
    /// `crank, level II`
    pub(super) words: String,
    /// Every figure with its mark, in one sentence.
    pub(super) note: String,
}

/// The figures of a shape, in SI units.
pub(super) struct Figures<'a> {
    list: Vec<(&'a ShapeFigure, f64, Mark)>,
}

impl Figures<'_> {
    /// A figure by its name.
    fn get(&self, name: &str) -> f64 {
        self.list.iter().find(|(f, ..)| f.name == name).map_or(f64::NAN, |(_, value, _)| *value)
    }
}

impl ShapeMotion {
    /// Works the shape out for one variant; `own_v` is where the source stands by itself.
    ///
    /// # Errors
    /// What makes no sense, and what to write.
    pub(super) fn shaped(&self, variant: &Variant, own_v: f64) -> Result<Shaped, (String, String)> {
        let figure = |figure: &'static ShapeFigure| {
            let given = self.given.iter().find(|(name, _)| *name == figure.name);
            let changed = self.variety.changes.iter().find(|(name, ..)| *name == figure.name);
            let (value, mark) = match (given, changed) {
                (Some((_, program)), _) => (variant.evaluate(program), Mark::Given),
                (None, Some((_, value, mark))) => (*value, *mark),
                (None, None) => (figure.default, figure.mark),
            };
            let value = if mark == Mark::PartsOwn { own_v } else { value };
            (figure, value, mark)
        };
        let figures = Figures { list: self.shape.figures.iter().map(figure).collect() };
        for (figure, value, mark) in &figures.list {
            if let (Some(wanted), Mark::Given) = (figure.refuses(*value), mark) {
                let shown = trimmed(*value, figure.symbol(), DIGITS);
                let message =
                    format!("`{}` of the shape must be {wanted}, but is {shown}", figure.name);
                return Err((message, format!("leave it out, or write {wanted}")));
            }
        }
        let course = self.shape.build.course(&figures)?;
        let (drive, length_s) = course.end();
        let words = self.variety.words(self.shape.name);
        let note = format!("source_shape {words}: {}", told(&figures));
        Ok(Shaped { drive, length_s, words, note })
    }
}

/// Figures grouped by where they come from.
fn told(figures: &Figures<'_>) -> String {
    let mut groups: Vec<(Mark, Vec<String>)> = Vec::new();
    for (figure, value, mark) in &figures.list {
        let told = format!("{} {}", figure.name, figure.told(*value));
        match groups.iter_mut().find(|(m, _)| m == mark) {
            Some((_, list)) => list.push(told),
            None => groups.push((*mark, vec![told])),
        }
    }
    let groups =
        groups.into_iter().map(|(mark, list)| format!("{} ({})", list.join(", "), mark.words()));
    groups.collect::<Vec<_>>().join("; ")
}

/// The row of a name.
pub fn line_shape(name: &str) -> Option<&'static LineShape> {
    LINE_SHAPES.iter().find(|shape| shape.name == name)
}
