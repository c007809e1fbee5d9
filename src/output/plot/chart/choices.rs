//! Choices over two quantities: which meet everything, which miss and where, what is chosen, and the
//! box that is allowed around it. Outcomes differ by shape, not by colour alone.

use super::figure::{HEADING, RIGHT_EDGE, WIDTH, X_AXIS};
use super::panel::{BOLD, View, grid};
use super::ruler::Ruler;
use super::ticks::{ticks, ticks_apart};
use super::{Axis, Panel, Scale};
use crate::output::plot::canvas::{
    Align, Area, BLUE, Canvas, GREEN, GREY, INK, PAPER, PURPLE, Pen, VERMILLION, letters_width,
    page,
};
use crate::output::plot::heading::{EDGE, caption_columns, captions, shortened, titles};
use crate::output::plot::labels::Crowd;
use crate::output::plot::panel::{HEADING_SIZE, MARK_SIZE};
use crate::output::wrap::wrap;
use plotters::style::RGBColor;

/// What came of a choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// It meets everything.
    Meets,
    /// It misses at nominal values.
    MissesNominal,
    /// It misses at a corner or at limits of tolerances.
    MissesWorst,
}

/// What a picture of choices shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Choices {
    /// Large, on top.
    pub title: String,
    /// Verdict and choice.
    pub subtitle: String,
    /// Conditions, an entry a line.
    pub caption: Vec<String>,
    /// Across; its range is taken from what is drawn.
    pub x: Axis,
    /// Upwards.
    pub y: Axis,
    /// Each at its place.
    pub points: Vec<(f64, f64, Outcome)>,
    /// The choice, and what to write beside it.
    pub choice: Option<(f64, f64, String)>,
    /// The design as it stands, and what to write beside it.
    pub present: Option<(f64, f64, String)>,
    /// Left, right, lower and upper side of what is allowed.
    pub allowed: Option<[f64; 4]>,
}

const HEIGHT: f64 = 430.0;
const LEFT: f64 = 84.0;
const RADIUS: f64 = 4.6;
const LEGEND_SIZE: f64 = 11.5;

/// Draws a symbol.
type Draw = fn(&mut Canvas<'_>, (f64, f64));

/// The picture as an SVG document; the same choices give the same bytes.
pub fn choices_svg(choices: &Choices) -> String {
    let description = [vec![choices.subtitle.clone()], choices.caption.clone()].concat().join("; ");
    page(WIDTH, &choices.title, &description, |canvas| {
        let top = titles(canvas, &choices.title, &choices.subtitle, WIDTH);
        let top = legend(canvas, choices, top) + HEADING;
        field(canvas, choices, top);
        let lines: Vec<String> = choices
            .caption
            .iter()
            .flat_map(|line| wrap(line, caption_columns(line, WIDTH)))
            .collect();
        captions(canvas, &lines, top + HEIGHT + X_AXIS)
    })
}

fn legend(canvas: &mut Canvas<'_>, choices: &Choices, top: f64) -> f64 {
    let has = |outcome| choices.points.iter().any(|p| p.2 == outcome);
    let mut entries: Vec<(Draw, &str)> = Vec::new();
    if choices.choice.is_some() {
        entries.push((chosen, "choice"));
    }
    if has(Outcome::Meets) {
        entries.push((|c, at| mark(c, at, Outcome::Meets), "meets everything that counts"));
    }
    if has(Outcome::MissesWorst) {
        let text = "misses at a corner or at limits of tolerances";
        entries.push((|c, at| mark(c, at, Outcome::MissesWorst), text));
    }
    if has(Outcome::MissesNominal) {
        entries.push((|c, at| mark(c, at, Outcome::MissesNominal), "misses at nominal values"));
    }
    if choices.present.is_some() {
        entries.push((present, "as it stands"));
    }
    if choices.allowed.is_some() {
        entries.push((|c, at| sample(c, at), "allowed region"));
    }
    let (mut x, mut y) = (EDGE + 8.0, top + 8.0);
    for (symbol, text) in entries {
        if x + 14.0 + letters_width(text, LEGEND_SIZE) > WIDTH - EDGE {
            (x, y) = (EDGE + 8.0, y + 17.0);
        }
        symbol(canvas, (x, y));
        let pen = Pen { size: LEGEND_SIZE, colour: INK, bold: false };
        canvas.text(text, (x + 14.0, y), pen, Align::Left);
        x += 14.0 + letters_width(text, LEGEND_SIZE) + 14.0;
    }
    y + 12.0
}

fn sample(canvas: &mut Canvas<'_>, (x, y): (f64, f64)) {
    let area = Area { left: x - 9.0, top: y - 6.0, width: 18.0, height: 12.0 };
    canvas.fill(&area, GREEN, 0.14);
    canvas.outline(&area, GREEN);
}

fn mark(canvas: &mut Canvas<'_>, (x, y): (f64, f64), outcome: Outcome) {
    let r = RADIUS;
    match outcome {
        Outcome::Meets => canvas.dot((x, y), r, BLUE),
        Outcome::MissesNominal => cross(canvas, (x, y), GREY),
        Outcome::MissesWorst => {
            let corners = [(x, y - r), (x + r, y + 0.8 * r), (x - r, y + 0.8 * r), (x, y - r)];
            canvas.fill_outline(&corners, PAPER, 1.0);
            canvas.line(&corners, VERMILLION, 1.5);
        }
    }
}

fn cross(canvas: &mut Canvas<'_>, (x, y): (f64, f64), colour: RGBColor) {
    let r = 0.75 * RADIUS;
    canvas.line(&[(x - r, y - r), (x + r, y + r)], colour, 1.4);
    canvas.line(&[(x - r, y + r), (x + r, y - r)], colour, 1.4);
}

fn chosen(canvas: &mut Canvas<'_>, (x, y): (f64, f64)) {
    canvas.dot((x, y), 1.9 * RADIUS, INK);
    canvas.dot((x, y), 1.5 * RADIUS, PAPER);
    canvas.dot((x, y), RADIUS, BLUE);
}

fn present(canvas: &mut Canvas<'_>, (x, y): (f64, f64)) {
    let r = 1.5 * RADIUS;
    let corners = [(x, y - r), (x + r, y), (x, y + r), (x - r, y), (x, y - r)];
    canvas.line(&corners, PURPLE, 2.0);
}

/// Lowest and highest, with air.
fn range(scale: Scale, values: impl Iterator<Item = f64>) -> (f64, f64) {
    /// Of the whole span, at both ends.
    const AIR: f64 = 0.06;
    let usable = values.filter(|v| v.is_finite() && (scale == Scale::Linear || *v > 0.0));
    let ends = usable.fold(None, |ends: Option<(f64, f64)>, v| {
        Some(ends.map_or((v, v), |(low, high)| (low.min(v), high.max(v))))
    });
    let (low, high) = ends.unwrap_or((1.0, 10.0));
    match scale {
        Scale::Linear => {
            let air = if high > low { AIR * (high - low) } else { low.abs().max(1.0) };
            (low - air, high + air)
        }
        Scale::Logarithmic => {
            let air = if high > low { (high / low).powf(AIR) } else { 2.0 };
            (low / air, high * air)
        }
    }
}

fn field(canvas: &mut Canvas<'_>, choices: &Choices, top: f64) {
    let sides = choices.allowed.map(|[a, b, c, d]| [[a, c], [b, d]]);
    let places = || {
        let points = choices.points.iter().map(|p| [p.0, p.1]);
        let named = [&choices.choice, &choices.present];
        let named = named.into_iter().flatten().map(|p| [p.0, p.1]);
        points.chain(named).chain(sides.into_iter().flatten()).collect::<Vec<_>>()
    };
    let x = range(choices.x.scale, places().into_iter().map(|p| p[0]));
    let y = range(choices.y.scale, places().into_iter().map(|p| p[1]));
    let frame = Area { left: LEFT, top, width: WIDTH - LEFT - RIGHT_EDGE, height: HEIGHT };
    let panel = Panel { y: choices.y.clone(), ..Panel::default() };
    let x_ticks = ticks_apart(&choices.x, x, frame.width, (frame.width / 76.0) as usize);
    let y_ticks = ticks(&choices.y, y, (HEIGHT / 34.0) as usize);
    let view = View {
        panel: &panel,
        frame,
        x: Ruler::new(choices.x.scale, x, (LEFT, frame.right())),
        y: Ruler::new(choices.y.scale, y, (frame.bottom(), top)),
        x_ticks: &x_ticks,
        y_ticks: &y_ticks,
        lowest: true,
        columns: 1,
    };
    grid(canvas, &view);
    canvas.outline(&frame, GREY);
    let pen = Pen { size: HEADING_SIZE, colour: INK, bold: true };
    let heading = shortened(&choices.y.label, HEADING_SIZE * BOLD, frame.width);
    canvas.text(&heading, (LEFT, top - 9.0), pen, Align::Left);
    let below = (LEFT + frame.width / 2.0, frame.bottom() + 30.0);
    let label = shortened(&choices.x.label, HEADING_SIZE * BOLD, frame.width);
    canvas.text(&label, below, pen, Align::Centre);
    marks(canvas, choices, &view);
}

fn marks(canvas: &mut Canvas<'_>, choices: &Choices, view: &View<'_>) {
    let place = |x: f64, y: f64| view.x.within(x).zip(view.y.within(y));
    let mut crowd = Crowd::of_letters(view.frame, Vec::new());
    if let Some([left, right, low, high]) = choices.allowed
        && let Some(((x1, y1), (x2, y2))) = place(left, high).zip(place(right, low))
    {
        let area = Area { left: x1, top: y1, width: x2 - x1, height: y2 - y1 };
        canvas.fill(&area, GREEN, 0.14);
        let around = [(x1, y1), (x2, y1), (x2, y2), (x1, y2), (x1, y1)];
        canvas.line(&around, GREEN, 1.6);
    }
    for outcome in [Outcome::MissesNominal, Outcome::MissesWorst, Outcome::Meets] {
        for (x, y, _) in choices.points.iter().filter(|p| p.2 == outcome) {
            if let Some(at) = place(*x, *y) {
                mark(canvas, at, outcome);
                crowd.add_dot(at);
            }
        }
    }
    let mut named = Vec::new();
    if let Some((x, y, text)) = &choices.present {
        named.extend(place(*x, *y).map(|at| (at, text, present as Draw)));
    }
    if let Some((x, y, text)) = &choices.choice {
        named.extend(place(*x, *y).map(|at| (at, text, chosen as Draw)));
    }
    for ((x, y), ..) in &named {
        // Texts keep off the whole symbol.
        for (dx, dy) in [(0.0, 0.0), (-8.0, 0.0), (8.0, 0.0), (0.0, -8.0), (0.0, 8.0)] {
            crowd.add_dot((x + dx, y + dy));
        }
    }
    let mut placed = Vec::new();
    for (at, text, symbol) in named.iter().rev() {
        let area = crowd.place_anywhere(text, MARK_SIZE, *at);
        placed.extend(area.map(|area| (*text, area)));
        if let Some(area) = area {
            let end = (at.0.clamp(area.left, area.right()), at.1.clamp(area.top, area.bottom()));
            canvas.line(&[*at, end], GREY, 0.8);
        }
        symbol(canvas, *at);
    }
    for (text, area) in placed {
        canvas.fill(&area, PAPER, 0.85);
        let middle = (area.left + 0.5 * area.width, area.top + 0.5 * area.height);
        let pen = Pen { size: MARK_SIZE, colour: INK, bold: false };
        canvas.text(text, middle, pen, Align::Centre);
    }
}
