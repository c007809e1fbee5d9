//! One panel: forbidden regions, grid, reference lines, curves, and numbers where they happen.

use plotters::style::RGBColor;

use super::ruler::{Ruler, lines};
use super::style::Palette;
use super::ticks::Tick;
use super::{Direction, Level, MarkShape, Mask, Panel, Side};
use crate::output::plot::canvas::{
    Align, Area, Canvas, FAINT, GREY, INK, PAPER, Pen, VERMILLION, letters_width,
};
use crate::output::plot::cut;
use crate::output::plot::heading::shortened;
use crate::output::plot::labels::Crowd;
use crate::output::plot::panel::{BAND_SIZE, HEADING_SIZE, MARK_SIZE, TICK_SIZE, write};

/// Lines of the grid between two ticks.
const FAINTER: RGBColor = RGBColor(0xF1, 0xF1, 0xF1);
/// Edge and text of a forbidden region: vermillion, darkened to be read.
const FORBIDDEN: RGBColor = RGBColor(0x8A, 0x3B, 0x00);

/// How much wider bold letters are.
pub(super) const BOLD: f64 = 1.12;

/// A panel and its place on the page.
pub(super) struct View<'a> {
    pub(super) panel: &'a Panel,
    pub(super) frame: Area,
    pub(super) x: Ruler,
    pub(super) y: Ruler,
    pub(super) x_ticks: &'a [Tick],
    pub(super) y_ticks: &'a [Tick],
    /// Whether the texts of the common axis stand below.
    pub(super) lowest: bool,
    /// Columns that curves are thinned to.
    pub(super) columns: usize,
}

/// Draws it, and gives back the texts that found no place in it.
pub(super) fn draw(canvas: &mut Canvas<'_>, view: &View<'_>, palette: &Palette<'_>) -> Vec<String> {
    let panel = view.panel;
    let edges: Vec<_> = panel.masks.iter().map(|mask| edge(mask, view)).collect();
    for (mask, edge) in panel.masks.iter().zip(&edges) {
        shade(canvas, mask.forbidden, edge, &view.frame);
    }
    grid(canvas, view);
    let mut drawn = Vec::new();
    for edge in &edges {
        let parts = cut::line(edge, &view.frame);
        parts.iter().for_each(|part| canvas.line(part, FORBIDDEN, 1.3));
        drawn.extend(parts);
    }
    for line in panel.lines.iter().filter_map(|level| across(level, view)) {
        canvas.line(&line, GREY, 1.1);
        drawn.push(line.to_vec());
    }
    drawn.extend(curves(canvas, view, palette));
    canvas.outline(&view.frame, GREY);
    let pen = Pen { size: HEADING_SIZE, colour: INK, bold: true };
    let heading = (view.frame.left, view.frame.top - 9.0);
    canvas.text(
        &shortened(&panel.y.label, HEADING_SIZE * BOLD, view.frame.width),
        heading,
        pen,
        Align::Left,
    );
    texts(canvas, view, palette, &edges, Crowd::of_letters(view.frame, drawn))
}

/// The line of a mask from one side of the frame to the other, also above and below it.
fn edge(mask: &Mask, view: &View<'_>) -> Vec<(f64, f64)> {
    let mut line: Vec<(f64, f64)> =
        mask.points.iter().filter_map(|point| view.x.at(point.0).zip(view.y.at(point.1))).collect();
    line.sort_by(|a, b| a.0.total_cmp(&b.0));
    let ends = line.first().copied().zip(line.last().copied());
    if let Some((first, last)) = ends {
        line.insert(0, (view.frame.left.min(first.0), first.1));
        line.push((view.frame.right().max(last.0), last.1));
    }
    line
}

fn shade(canvas: &mut Canvas<'_>, forbidden: Side, edge: &[(f64, f64)], frame: &Area) {
    let (Some(first), Some(last)) = (edge.first(), edge.last()) else { return };
    let far = match forbidden {
        Side::Above => edge.iter().map(|p| p.1).fold(frame.top, f64::min),
        Side::Below => edge.iter().map(|p| p.1).fold(frame.bottom(), f64::max),
    };
    let mut region = edge.to_vec();
    region.extend([(last.0, far), (first.0, far)]);
    canvas.fill_outline(&cut::outline(&region, frame), VERMILLION, 0.13);
}

pub(super) fn grid(canvas: &mut Canvas<'_>, view: &View<'_>) {
    let frame = view.frame;
    let pen = Pen { size: TICK_SIZE, colour: INK, bold: false };
    let ups: Vec<_> =
        view.x_ticks.iter().filter_map(|t| Some((view.x.within(t.at)?, t.text.as_ref()))).collect();
    let levels: Vec<_> =
        view.y_ticks.iter().filter_map(|t| Some((view.y.within(t.at)?, t.text.as_ref()))).collect();
    for told in [false, true] {
        let (colour, width) = if told { (FAINT, 0.9) } else { (FAINTER, 0.7) };
        for (x, _) in ups.iter().filter(|(_, text)| text.is_some() == told) {
            canvas.line(&[(*x, frame.top), (*x, frame.bottom())], colour, width);
        }
        for (y, _) in levels.iter().filter(|(_, text)| text.is_some() == told) {
            canvas.line(&[(frame.left, *y), (frame.right(), *y)], colour, width);
        }
    }
    for (y, text) in levels {
        if let Some(text) = text {
            canvas.text(text, (frame.left - 6.0, y), pen, Align::Right);
        }
    }
    for (x, text) in ups {
        let Some(text) = text.filter(|_| view.lowest) else { continue };
        canvas.line(&[(x, frame.bottom()), (x, frame.bottom() + 4.0)], GREY, 1.0);
        let half = letters_width(text, TICK_SIZE) / 2.0;
        let x = x.min(frame.right() + 14.0 - half).max(frame.left - 14.0 + half);
        canvas.text(text, (x, frame.bottom() + 12.0), pen, Align::Centre);
    }
}

/// The ends of a reference line; `None` where it lies outside.
fn across(level: &Level, view: &View<'_>) -> Option<[(f64, f64); 2]> {
    let frame = view.frame;
    Some(match level.direction {
        Direction::Horizontal => {
            let y = view.y.within(level.at)?;
            [(frame.left, y), (frame.right(), y)]
        }
        Direction::Vertical => {
            let x = view.x.within(level.at)?;
            [(x, frame.top), (x, frame.bottom())]
        }
    })
}

/// Reference curves first, strong ones last.
fn curves(canvas: &mut Canvas<'_>, view: &View<'_>, palette: &Palette<'_>) -> Vec<Vec<(f64, f64)>> {
    const ALONE: f64 = 2.4;
    let mut all = Vec::new();
    let mut traces: Vec<_> = view.panel.curves.iter().collect();
    traces.sort_by_key(|trace| trace.emphasis.rank());
    for trace in traces {
        let look = palette.look(trace);
        for line in lines(&trace.points, &view.x, &view.y, &view.frame, view.columns) {
            match line.as_slice() {
                [only] => canvas.dot(*only, ALONE, look.colour),
                _ => canvas.broken_line(&line, (look.colour, look.width), look.pattern),
            }
            all.push(line);
        }
    }
    if all.is_empty() && view.panel.masks.is_empty() && view.panel.marks.is_empty() {
        let frame = view.frame;
        let middle = (frame.left + frame.width / 2.0, frame.top + frame.height / 2.0);
        let pen = Pen { size: HEADING_SIZE, colour: GREY, bold: false };
        canvas.text("no values", middle, pen, Align::Centre);
    }
    all
}

/// Names of lines and masks, and the marks; gives back the texts without a place.
fn texts(
    canvas: &mut Canvas<'_>,
    view: &View<'_>,
    palette: &Palette<'_>,
    edges: &[Vec<(f64, f64)>],
    mut crowd: Crowd,
) -> Vec<String> {
    let place = |mark: &super::Mark| view.x.within(mark.x).zip(view.y.within(mark.y));
    let dots: Vec<_> =
        view.panel.marks.iter().filter_map(|mark| Some((place(mark)?, mark))).collect();
    dots.iter().for_each(|(at, _)| crowd.add_dot(*at));
    let mut homeless = Vec::new();
    for level in &view.panel.lines {
        let corners = across(level, view).map(|line| beside_line(level, &line, &view.frame));
        homeless.extend(name(canvas, &mut crowd, &level.label, &corners.unwrap_or_default(), GREY));
    }
    for (mask, edge) in view.panel.masks.iter().zip(edges) {
        let corners = beside_edge(mask, edge, &view.frame);
        homeless.extend(name(canvas, &mut crowd, &mask.label, &corners, FORBIDDEN));
    }
    let mut placed = Vec::new();
    for mark in view.panel.marks.iter().filter(|mark| !mark.text.is_empty()) {
        let spot =
            place(mark).and_then(|at| Some((at, crowd.place_anywhere(&mark.text, MARK_SIZE, at)?)));
        match spot {
            Some((at, spot)) => placed.push((mark.text.as_str(), at, spot)),
            None => homeless.push(mark.text.clone()),
        }
    }
    write(canvas, &placed);
    for (at, mark) in dots {
        let colour = palette.colour(&mark.of);
        match mark.shape {
            MarkShape::Disc => {
                canvas.dot(at, 4.6, PAPER);
                canvas.dot(at, 3.4, colour);
            }
            MarkShape::Cross => {
                for (ink, width, arm) in [(PAPER, 5.0, 5.5), (colour, 2.0, 4.5)] {
                    for lean in [-arm, arm] {
                        let ends = [(at.0 - arm, at.1 - lean), (at.0 + arm, at.1 + lean)];
                        canvas.line(&ends, ink, width);
                    }
                }
            }
        }
    }
    homeless
}

/// Writes the name of a line at the first of the places that is free; gives it back if none is.
fn name(
    canvas: &mut Canvas<'_>,
    crowd: &mut Crowd,
    text: &str,
    corners: &[(f64, f64)],
    colour: RGBColor,
) -> Option<String> {
    if text.is_empty() {
        return None;
    }
    let Some(place) = crowd.place_in_turn(text, BAND_SIZE, corners) else {
        return Some(text.to_owned());
    };
    let pen = Pen { size: BAND_SIZE, colour, bold: false };
    canvas.text(text, (place.left, place.top + place.height / 2.0), pen, Align::Left);
    None
}

/// Upper left corners of the places for the name of a straight line.
fn beside_line(level: &Level, line: &[(f64, f64); 2], frame: &Area) -> Vec<(f64, f64)> {
    let (width, height) = (letters_width(&level.label, BAND_SIZE), BAND_SIZE * 1.3);
    let [(x, y), _] = *line;
    match level.direction {
        Direction::Horizontal => {
            let (left, right) = (frame.left + 5.0, frame.right() - width - 5.0);
            let ends = [right, left, f64::midpoint(left, right)];
            ends.iter().flat_map(|left| [(*left, y - height - 1.0), (*left, y + 1.5)]).collect()
        }
        Direction::Vertical => {
            let ends = [frame.top + 3.0, frame.bottom() - height - 3.0];
            ends.iter().flat_map(|top| [(x + 4.0, *top), (x - width - 4.0, *top)]).collect()
        }
    }
}

/// Upper left corners of the places for the name of a mask, on its forbidden side.
fn beside_edge(mask: &Mask, edge: &[(f64, f64)], frame: &Area) -> Vec<(f64, f64)> {
    let (width, height) = (letters_width(&mask.label, BAND_SIZE), BAND_SIZE * 1.3);
    let visible = cut::line(edge, frame).concat();
    let steps = 0..=16;
    steps
        .map(|step| frame.left + 6.0 + (frame.width - width - 12.0) * f64::from(step) / 16.0)
        .filter_map(|left| {
            let heights = visible
                .iter()
                .zip(visible.iter().skip(1))
                .filter(|(a, b)| a.0 <= left + width && b.0 >= left);
            let heights = heights
                .flat_map(|(a, b)| [height_at(*a, *b, left), height_at(*a, *b, left + width)]);
            let top = match mask.forbidden {
                Side::Above => heights.reduce(f64::min)? - height - 2.5,
                Side::Below => heights.reduce(f64::max)? + 2.5,
            };
            Some((left, top))
        })
        .collect()
}

/// Height of the segment at `x`, at its nearer end outside of it.
fn height_at(a: (f64, f64), b: (f64, f64), x: f64) -> f64 {
    let share = if b.0 > a.0 { ((x - a.0) / (b.0 - a.0)).clamp(0.0, 1.0) } else { 0.0 };
    a.1 + share * (b.1 - a.1)
}
