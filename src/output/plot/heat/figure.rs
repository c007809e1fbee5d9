//! The whole page: title, legend, the field with its axes, the bar of colours, conditions.

use plotters::style::RGBColor;

use super::bands::{self, on_page};
use super::hatch::{Slant, lines};
use super::marks;
use super::scale::{STEPS, Shade};
use super::{Heat, Place};
use crate::output::plot::canvas::{
    Align, Area, Canvas, GREY, INK, PAPER, Pen, letters_width, page,
};
use crate::output::plot::chart::ruler::Ruler;
use crate::output::plot::chart::ticks::{Tick, decade_text, ticks, ticks_apart};
use crate::output::plot::chart::{Axis, Scale};
use crate::output::plot::cut;
use crate::output::plot::heading::{EDGE, caption_columns, captions, shortened, titles};
use crate::output::plot::panel::{BAND_SIZE, HEADING_SIZE, TICK_SIZE};
use crate::output::wrap::wrap;

const WIDTH: f64 = 900.0;
const HEIGHT: f64 = 500.0;
const LEFT: f64 = 78.0;
/// Right of the field: the bar of colours with its texts.
const RIGHT: f64 = 142.0;
const BAR: f64 = 20.0;
const TO_BAR: f64 = 30.0;
const LEGEND: f64 = 24.0;
const HEADING: f64 = 20.0;
const X_AXIS: f64 = 42.0;
/// Room for a text of the vertical axis, and of the horizontal one.
const Y_ROOM: f64 = 26.0;
const X_ROOM: f64 = 62.0;
/// Where there is no number.
const BLANK: RGBColor = RGBColor(0xC9, 0xC9, 0xC9);
const SAMPLE: f64 = 26.0;

/// The picture as the text of an SVG file.
pub fn heat_svg(heat: &Heat) -> String {
    page(WIDTH, &heat.title, &description(heat), |canvas| {
        let top = titles(canvas, &heat.title, &heat.subtitle, WIDTH);
        let top = legend(canvas, heat, top) + HEADING;
        let frame = Area { left: LEFT, top, width: WIDTH - LEFT - RIGHT, height: HEIGHT };
        let shade = Shade::new(&heat.scale, &heat.patches);
        field(canvas, heat, &frame, &shade);
        let homeless = marks::draw(canvas, heat, &frame);
        canvas.outline(&frame, INK);
        axes(canvas, heat, &frame);
        bar(canvas, heat, &frame, &shade);
        let mut texts = heat.caption.clone();
        if !homeless.is_empty() {
            texts.push(format!("also: {}", homeless.join(", ")));
        }
        let wrapped = |line: &String| wrap(line, caption_columns(line, WIDTH));
        let texts: Vec<String> = texts.iter().flat_map(wrapped).collect();
        captions(canvas, &texts, frame.bottom() + X_AXIS)
    })
}

fn description(heat: &Heat) -> String {
    let mut parts = vec![heat.subtitle.clone()];
    parts.extend(heat.caption.iter().cloned());
    parts.extend(heat.present.iter().map(|p| p.text.clone()));
    parts.extend(heat.nearest.iter().map(|n| n.text.clone()));
    parts.retain(|part| !part.is_empty());
    parts.join("; ")
}

fn field(canvas: &mut Canvas<'_>, heat: &Heat, frame: &Area, shade: &Shade) {
    bands::draw(canvas, &heat.patches, frame, shade);
    let polygons = |all: &[Vec<Place>]| -> Vec<Vec<(f64, f64)>> {
        all.iter().map(|p| p.iter().map(|place| on_page(*place, frame)).collect()).collect()
    };
    hatched(canvas, &polygons(&heat.missing));
    let blank = polygons(&heat.blank);
    blank_out(canvas, &blank, frame);
}

/// Dark and light lines side by side are seen on every colour.
fn hatched(canvas: &mut Canvas<'_>, polygons: &[Vec<(f64, f64)>]) {
    for [a, b] in lines(polygons, Slant::Up) {
        canvas.line(&[a, b], PAPER, 0.75);
        canvas.line(&[(a.0, a.1 + 0.8), (b.0, b.1 + 0.8)], INK, 0.4);
    }
}

fn blank_out(canvas: &mut Canvas<'_>, polygons: &[Vec<(f64, f64)>], frame: &Area) {
    for polygon in polygons {
        canvas.fill_outline(&cut::outline(polygon, frame), BLANK, 1.0);
    }
    for slant in [Slant::Up, Slant::Down] {
        for [a, b] in lines(polygons, slant) {
            canvas.line(&[a, b], GREY, 0.7);
        }
    }
}

/// What is not a colour: one row, as far as it occurs.
fn legend(canvas: &mut Canvas<'_>, heat: &Heat, top: f64) -> f64 {
    let y = top + LEGEND / 2.0;
    let mut left = EDGE;
    let pen = Pen { size: BAND_SIZE + 0.5, colour: INK, bold: false };
    let mut entry = |canvas: &mut Canvas<'_>, text: &str, sample: &dyn Fn(&mut Canvas<'_>, f64)| {
        let room = WIDTH - EDGE - left - SAMPLE - 6.0;
        if room < 60.0 {
            return;
        }
        let text = shortened(text, pen.size, room);
        sample(canvas, left);
        canvas.text(&text, (left + SAMPLE + 6.0, y), pen, Align::Left);
        left += SAMPLE + 6.0 + letters_width(&text, pen.size) + 16.0;
    };
    let rectangle = |left: f64| {
        let (right, top, bottom) = (left + SAMPLE, y - 7.0, y + 7.0);
        vec![(left, top), (right, top), (right, bottom), (left, bottom)]
    };
    let outline = |canvas: &mut Canvas<'_>, left: f64| {
        canvas.outline(&Area { left, top: y - 7.0, width: SAMPLE, height: 14.0 }, INK);
    };
    if !heat.boundary.is_empty() {
        entry(canvas, "limit", &|canvas, left| {
            canvas.line(&[(left, y), (left + SAMPLE, y)], INK, 2.8);
        });
    }
    if !heat.missing.is_empty() {
        entry(canvas, "misses the limit", &|canvas, left| {
            canvas.fill_outline(&rectangle(left), RGBColor(0x21, 0x91, 0x8C), 1.0);
            hatched(canvas, &[rectangle(left)]);
            outline(canvas, left);
        });
    }
    if let Some(present) = &heat.present {
        let text = if present.tolerances.is_some() {
            "present design and its tolerances"
        } else {
            "present design"
        };
        entry(canvas, text, &|canvas, left| {
            canvas.dot((left + SAMPLE / 2.0, y), 5.0, INK);
            canvas.dot((left + SAMPLE / 2.0, y), 2.0, PAPER);
        });
    }
    if !heat.blank.is_empty() {
        let text = format!("no number: {}", heat.blank_text);
        entry(canvas, &text, &|canvas, left| {
            let area = Area { left, top: y - 7.0, width: SAMPLE, height: 14.0 };
            blank_out(canvas, &[rectangle(left)], &area);
            outline(canvas, left);
        });
    }
    top + LEGEND
}

/// Ticks of a logarithmic axis with a text at 1, 2 and 5 of each decade where there is room.
fn close_ticks(axis: &Axis, range: (f64, f64), length: f64, room: f64) -> Vec<Tick> {
    let wanted = (length / room) as usize;
    let across = room > Y_ROOM;
    let mut found =
        if across { ticks_apart(axis, range, length, wanted) } else { ticks(axis, range, wanted) };
    let decades = (range.1 / range.0).log10();
    let fits = axis.scale == Scale::Logarithmic && 3.0 * decades <= wanted as f64;
    for tick in found.iter_mut().filter(|t| fits && t.text.is_none()) {
        let digit = tick.at / 10f64.powf((tick.at.log10() + 1e-9).floor());
        if [2.0, 5.0].iter().any(|told| (digit - told).abs() < 1e-6) {
            tick.text = Some(decade_text(tick.at, axis.unit));
        }
    }
    found
}

fn axes(canvas: &mut Canvas<'_>, heat: &Heat, frame: &Area) {
    let pen = Pen { size: TICK_SIZE, colour: INK, bold: false };
    let range = |axis: &Axis| axis.range.unwrap_or((0.0, 1.0));
    let (x, y) = (range(&heat.x), range(&heat.y));
    let ruler = Ruler::new(heat.x.scale, x, (frame.left, frame.right()));
    let bottom = frame.bottom();
    for tick in close_ticks(&heat.x, x, frame.width, X_ROOM) {
        let Some(at) = ruler.within(tick.at) else { continue };
        let long = if tick.text.is_some() { 5.0 } else { 3.0 };
        canvas.line(&[(at, bottom), (at, bottom + long)], INK, 0.9);
        if let Some(text) = &tick.text {
            canvas.text(text, (at, bottom + 14.0), pen, Align::Centre);
        }
    }
    let ruler = Ruler::new(heat.y.scale, y, (bottom, frame.top));
    for tick in close_ticks(&heat.y, y, frame.height, Y_ROOM) {
        let Some(at) = ruler.within(tick.at) else { continue };
        let long = if tick.text.is_some() { 5.0 } else { 3.0 };
        canvas.line(&[(frame.left - long, at), (frame.left, at)], INK, 0.9);
        if let Some(text) = &tick.text {
            canvas.text(text, (frame.left - 8.0, at), pen, Align::Right);
        }
    }
    let pen = Pen { size: HEADING_SIZE, colour: INK, bold: true };
    let room = frame.width * 0.9;
    let label = shortened(&heat.y.label, HEADING_SIZE * 1.12, 0.55 * frame.width);
    canvas.text(&label, (frame.left, frame.top - 10.0), pen, Align::Left);
    let label = shortened(&heat.x.label, HEADING_SIZE, room);
    let middle = (frame.left + frame.width / 2.0, bottom + 32.0);
    canvas.text(&label, middle, pen, Align::Centre);
}

/// The bar of colours with its ticks; the limit is marked, and what misses it is hatched.
fn bar(canvas: &mut Canvas<'_>, heat: &Heat, frame: &Area, shade: &Shade) {
    let left = frame.right() + TO_BAR;
    let area = Area { left, width: BAR, ..*frame };
    let height = area.height / STEPS as f64;
    for step in 0..STEPS {
        let top = area.bottom() - (step + 1) as f64 * height;
        let stripe = Area { left, top, width: BAR, height: height + 0.6 };
        canvas.fill(&stripe, shade.colour(step), 1.0);
    }
    let axis = Axis { scale: shade.scale(), ..heat.scale.axis.clone() };
    let at = |value: f64| area.bottom() - shade.share(value) * area.height;
    let seen = |value: f64| value > shade.range.0 && value < shade.range.1;
    let limits: Vec<&(f64, String, bool)> =
        heat.scale.limits.iter().filter(|(value, ..)| seen(*value)).collect();
    for (value, _, above) in &limits {
        let (top, bottom) =
            if *above { (area.top, at(*value)) } else { (at(*value), area.bottom()) };
        hatched(
            canvas,
            &[vec![(left, top), (area.right(), top), (area.right(), bottom), (left, bottom)]],
        );
    }
    canvas.outline(&area, INK);
    let pen = Pen { size: TICK_SIZE, colour: INK, bold: false };
    for tick in close_ticks(&axis, shade.range, area.height, Y_ROOM) {
        let y = at(tick.at);
        let free = limits.iter().all(|(value, ..)| (at(*value) - y).abs() > 13.0);
        let Some(text) = tick.text.filter(|_| free && seen(tick.at)) else { continue };
        canvas.line(&[(area.right(), y), (area.right() + 4.0, y)], INK, 0.9);
        canvas.text(&text, (area.right() + 8.0, y), pen, Align::Left);
    }
    for (value, text, _) in limits {
        let y = at(*value);
        marks::cased(canvas, &[(left - 6.0, y), (area.right() + 6.0, y)], (INK, 2.8), &[]);
        let pen = Pen { bold: true, ..pen };
        let text = shortened(text, TICK_SIZE * 1.12, WIDTH - area.right() - 12.0);
        canvas.text(&text, (area.right() + 10.0, y), pen, Align::Left);
    }
    let pen = Pen { size: HEADING_SIZE, colour: INK, bold: true };
    let label = shortened(&axis.label, HEADING_SIZE * 1.12, 0.4 * frame.width);
    // A long name reaches over the field, where the heading of the vertical axis leaves room.
    let fits = letters_width(&label, HEADING_SIZE * 1.12) <= WIDTH - left - 4.0;
    let (x, align) = if fits { (left, Align::Left) } else { (WIDTH - EDGE / 2.0, Align::Right) };
    canvas.text(&label, (x, frame.top - 10.0), pen, align);
}
