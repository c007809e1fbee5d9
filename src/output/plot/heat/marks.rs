//! Lines and texts over the field: the boundary, the present design, the way to the nearest edge.

use plotters::style::RGBColor;

use super::bands::on_page;
use super::{Heat, Place};
use crate::output::plot::canvas::{Area, Canvas, INK, PAPER, VERMILLION};
use crate::output::plot::cut;
use crate::output::plot::labels::Crowd;
use crate::output::plot::panel::{MARK_SIZE, write};

/// Length of an arrow's head, px.
const HEAD: f64 = 9.0;

/// A line with a light edge, to be seen on every colour.
pub(super) fn cased(
    canvas: &mut Canvas<'_>,
    points: &[(f64, f64)],
    (colour, width): (RGBColor, f64),
    pattern: &'static [f64],
) {
    canvas.line(points, PAPER, width + 2.4);
    canvas.broken_line(points, (colour, width), pattern);
}

/// Draws them; gives back the texts that found no place.
pub(super) fn draw(canvas: &mut Canvas<'_>, heat: &Heat, frame: &Area) -> Vec<String> {
    let page = |place: &Place| on_page(*place, frame);
    let mut drawn: Vec<Vec<(f64, f64)>> = Vec::new();
    for line in &heat.boundary {
        let points: Vec<(f64, f64)> = line.iter().map(page).collect();
        drawn.extend(cut::line(&points, frame));
    }
    drawn.iter().for_each(|line| canvas.line(line, PAPER, 5.4));
    drawn.iter().for_each(|line| canvas.line(line, INK, 2.8));
    let longest = drawn.iter().max_by(|a, b| length(a).total_cmp(&length(b))).cloned();
    let mut texts: Vec<(&str, (f64, f64))> = Vec::new();
    if let Some(present) = &heat.present {
        let at = page(&present.at);
        if let Some((low, high)) = &present.tolerances {
            drawn.extend(tolerances(canvas, page(low), page(high), frame));
        }
        if let Some(nearest) = &heat.nearest {
            let to = page(&nearest.to);
            arrow(canvas, at, to);
            drawn.push(vec![at, to]);
            texts.push((&nearest.text, to));
        }
        if inside(at, frame) {
            canvas.dot(at, 6.6, PAPER);
            canvas.dot(at, 5.0, INK);
            canvas.dot(at, 2.0, PAPER);
            texts.insert(0, (&present.text, at));
        }
    }
    if let Some(at) = longest.and_then(|line| quiet(&line, &texts)) {
        texts.push((&heat.boundary_text, at));
    }
    let mut crowd = Crowd::of_letters(*frame, drawn);
    texts.iter().for_each(|(_, at)| crowd.add_dot(*at));
    let mut placed = Vec::new();
    let mut homeless = Vec::new();
    for (text, at) in texts.into_iter().filter(|(text, _)| !text.is_empty()) {
        match crowd.place_anywhere(text, MARK_SIZE, at) {
            Some(place) => placed.push((text, at, place)),
            None => homeless.push(text.to_owned()),
        }
    }
    write(canvas, &placed);
    homeless
}

fn length(line: &[(f64, f64)]) -> f64 {
    line.windows(2).map(|p| (p[1].0 - p[0].0).hypot(p[1].1 - p[0].1)).sum()
}

/// The place of a line that is farthest from where other texts belong.
fn quiet(line: &[(f64, f64)], texts: &[(&str, (f64, f64))]) -> Option<(f64, f64)> {
    let distance = |at: &(f64, f64)| {
        let each = texts.iter().map(|(_, other)| (at.0 - other.0).hypot(at.1 - other.1));
        // Where nothing else stands, the middle of the line is as good as any.
        each.fold(f64::INFINITY, f64::min).min(250.0)
    };
    let middle = line.get(line.len() / 2)?;
    let off = |at: &(f64, f64)| 0.2 * (at.0 - middle.0).hypot(at.1 - middle.1);
    let worth = |at: &&(f64, f64)| distance(at) - off(at);
    line.iter().max_by(|a, b| worth(a).total_cmp(&worth(b))).copied()
}

fn inside(at: (f64, f64), frame: &Area) -> bool {
    cut::inside(at, at, frame).is_some()
}

/// The outline of a box cut to the frame; a line where only one value has a tolerance.
fn tolerances(
    canvas: &mut Canvas<'_>,
    low: (f64, f64),
    high: (f64, f64),
    frame: &Area,
) -> Vec<Vec<(f64, f64)>> {
    let corners = [low, (high.0, low.1), high, (low.0, high.1), low];
    let parts = cut::line(&corners, frame);
    for part in &parts {
        cased(canvas, part, (INK, 1.5), &[6.0, 4.0]);
    }
    parts
}

fn arrow(canvas: &mut Canvas<'_>, from: (f64, f64), to: (f64, f64)) {
    let length = (to.0 - from.0).hypot(to.1 - from.1);
    cased(canvas, &[from, to], (VERMILLION, 2.2), &[]);
    if length > 2.0 * HEAD {
        let along = ((to.0 - from.0) / length, (to.1 - from.1) / length);
        let back = (to.0 - HEAD * along.0, to.1 - HEAD * along.1);
        let side = |sign: f64| {
            (back.0 - sign * 0.5 * HEAD * along.1, back.1 + sign * 0.5 * HEAD * along.0)
        };
        let head = [side(1.0), to, side(-1.0)];
        cased(canvas, &[head[0], head[1], head[2], head[0]], (VERMILLION, 1.0), &[]);
        canvas.fill_outline(&head, VERMILLION, 1.0);
    }
}
