//! What stands above and below the frames of a figure: title and verdict, and the conditions.

use super::canvas::{Align, Canvas, GREY, INK, Pen, letters_width};
use crate::output::wrap::wrap_within;

/// From the edge of the page to its texts.
pub(super) const EDGE: f64 = 20.0;
/// Height of a line of the conditions.
pub(super) const CAPTION_LINE: f64 = 15.0;
/// Above and below the conditions together.
pub(super) const CAPTION_AIR: f64 = 18.0;

const CAPTION_SIZE: f64 = 11.0;
/// The width of page that the numbers of characters below were chosen for.
const USUAL_WIDTH: f64 = 900.0;

/// Characters that fit into a line of the conditions on a page so wide.
pub(super) fn caption_columns(text: &str, width: f64) -> usize {
    characters(text, 136.0, width)
}

/// How many characters of a text fit where `usual` ones do on a page of the usual width; fewer
/// where its letters are wider than usual ones.
fn characters(text: &str, usual: f64, width: f64) -> usize {
    /// Allowed width of a character, in em, up to which the usual number fits.
    const EM: f64 = 0.62;
    let average = letters_width(text, 1.0) / text.chars().count().max(1) as f64;
    (usual * width / USUAL_WIDTH * (EM / average).min(1.0)) as usize
}

/// Writes title and verdict, two lines of each at most, and gives back where they end.
pub(super) fn titles(canvas: &mut Canvas<'_>, title: &str, subtitle: &str, width: f64) -> f64 {
    let mut top = 14.0;
    for (text, usual, size, bold) in [(title, 74.0, 18.0, true), (subtitle, 112.0, 13.0, false)] {
        for line in wrap_within(text, characters(text, usual, width), 2) {
            let pen = Pen { size, colour: INK, bold };
            canvas.text(&line, (EDGE, top + size * 0.6), pen, Align::Left);
            top += size * 1.35;
        }
    }
    top + 6.0
}

/// Writes the conditions below everything and gives back the height of the page.
pub(super) fn captions(canvas: &mut Canvas<'_>, lines: &[String], top: f64) -> f64 {
    let mut y = top + CAPTION_AIR / 2.0;
    for line in lines {
        let pen = Pen { size: CAPTION_SIZE, colour: GREY, bold: false };
        canvas.text(line, (EDGE, y), pen, Align::Left);
        y += CAPTION_LINE;
    }
    y + CAPTION_AIR / 2.0
}

/// A text in one line no wider than `width`, if need be with an ellipsis.
pub(super) fn shortened(text: &str, size: f64, width: f64) -> String {
    if letters_width(text, size) <= width {
        return text.to_owned();
    }
    let mut kept: String = text.to_owned();
    while letters_width(&kept, size) + size > width && kept.pop().is_some() {}
    format!("{}…", kept.trim_end())
}
