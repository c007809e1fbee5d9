//! The drawing surface: page coordinates in CSS pixels, drawn eight times as fine.
//!
//! The SVG backend rounds to whole units, which shows as steps in flat curves; so it draws on a
//! page of eightfold size, and the opening tag is rewritten to the true size over the same
//! coordinate system.

use plotters::prelude::{
    Color, DrawingBackend, FontStyle, IntoFont, RGBColor, SVGBackend, ShapeStyle, TextStyle,
};
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::thin::straightened;
use crate::output::printable;

/// Units of the drawing in one CSS pixel.
const FINENESS: f64 = 8.0;

/// The backend divides font sizes by this before writing them.
const BACKEND_FONT_FACTOR: f64 = 1.24;

/// Okabe and Ito 2008, "Color Universal Design": told apart with every kind of colour vision.
pub(super) const BLUE: RGBColor = RGBColor(0x00, 0x72, 0xB2);
/// Vermillion of the same set.
pub(super) const VERMILLION: RGBColor = RGBColor(0xD5, 0x5E, 0x00);
/// Reddish purple of the same set.
pub(super) const PURPLE: RGBColor = RGBColor(0xCC, 0x79, 0xA7);
/// Bluish green of the same set.
pub(super) const GREEN: RGBColor = RGBColor(0x00, 0x9E, 0x73);
/// Text and frames.
pub(super) const INK: RGBColor = RGBColor(0x11, 0x11, 0x11);
/// Secondary text and lines.
pub(super) const GREY: RGBColor = RGBColor(0x5A, 0x5A, 0x5A);
/// Lines of the grid.
pub(super) const FAINT: RGBColor = RGBColor(0xE2, 0xE2, 0xE2);
/// Paper.
pub(super) const PAPER: RGBColor = RGBColor(0xFF, 0xFF, 0xFF);

/// Where a text sits relative to its point, horizontally; vertically it is always centred.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Centre,
    Right,
}

/// Size, colour and weight of a text.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pen {
    pub(super) size: f64,
    pub(super) colour: RGBColor,
    pub(super) bold: bool,
}

/// Width to allow for a text. The reader's font is unknown: DejaVu Sans, the widest of the usual
/// sans-serif fonts, averages 0.52 em over such texts (measured on a rendering, 24 Nov 2026).
pub(super) fn text_width(text: &str, size: f64) -> f64 {
    const EM_PER_CHARACTER: f64 = 0.57;
    text.chars().count() as f64 * size * EM_PER_CHARACTER
}

/// Width to allow for a text, letter by letter, after the advance widths of DejaVu Sans rounded up
/// to classes (read from the font's metrics, 25 Nov 2026).
pub(super) fn letters_width(text: &str, size: f64) -> f64 {
    let em = |c: char| match c {
        'i' | 'j' | 'l' | 'I' | '\'' | '|' | '.' | ',' | ':' | ';' | ' ' | '!' => 0.34,
        'f' | 't' | 'r' | '(' | ')' | '-' | '/' | '"' | '[' | ']' | '°' => 0.43,
        'm' | 'w' | 'M' | 'W' | '%' | '@' | '—' | '…' | 'Σ' | '→' => 1.01,
        '+' | '−' | '=' | '<' | '>' | '≤' | '≥' | '±' | '×' | 'O' | 'Q' | '#' | '~' => 0.84,
        '\u{2e80}'.. => 1.1,
        c if c.is_uppercase() => 0.77,
        _ => 0.65,
    };
    text.chars().map(em).sum::<f64>() * size
}

/// A rectangle on the page.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Area {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) width: f64,
    pub(super) height: f64,
}

impl Area {
    pub(super) fn right(&self) -> f64 {
        self.left + self.width
    }

    pub(super) fn bottom(&self) -> f64 {
        self.top + self.height
    }

    pub(super) fn overlaps(&self, other: &Area) -> bool {
        self.left < other.right()
            && other.left < self.right()
            && self.top < other.bottom()
            && other.top < self.bottom()
    }

    pub(super) fn contains(&self, other: &Area) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && other.right() <= self.right()
            && other.bottom() <= self.bottom()
    }
}

/// The page while it is drawn.
pub(super) struct Canvas<'a> {
    backend: SVGBackend<'a>,
    /// Lines drawn so far.
    lines: usize,
    /// Which of them are broken, and how.
    broken: Vec<(usize, &'static [f64])>,
}

/// A page `width` wide; `draw` gives back its height once everything stands.
///
/// `title` and `description` are what a screen reader tells.
pub(super) fn page(
    width: f64,
    title: &str,
    description: &str,
    draw: impl FnOnce(&mut Canvas<'_>) -> f64,
) -> String {
    let mut drawn = String::new();
    let (height, broken) = {
        let size = (unit(width).unsigned_abs(), 1);
        let backend = SVGBackend::with_string(&mut drawn, size);
        let mut canvas = Canvas { backend, lines: 0, broken: Vec::new() };
        let height = draw(&mut canvas);
        finished(&canvas.backend.present());
        (height, canvas.broken)
    };
    let drawn = with_dashes(&drawn, &broken);
    let body = drawn.split_once('>').map_or("", |(_, body)| body);
    format!(
        "<svg width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {} {}\" \
         xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" stroke-linejoin=\"round\" \
         stroke-linecap=\"round\">\n<title>{}</title>\n<desc>{}</desc>\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#FFFFFF\"/>{body}",
        unit(width),
        unit(height),
        escaped(title),
        escaped(description),
    )
}

/// The backend knows whole lines only: broken ones get the attribute of SVG for it afterwards.
/// Only elements can begin with this, as texts are escaped.
fn with_dashes(drawn: &str, broken: &[(usize, &[f64])]) -> String {
    const LINE: &str = "<polyline";
    let mut lines = drawn.split(LINE);
    let mut text = lines.next().unwrap_or_default().to_owned();
    let mut broken = broken.iter().peekable();
    for (index, line) in lines.enumerate() {
        text.push_str(LINE);
        if let Some((_, pattern)) = broken.next_if(|(at, _)| *at == index) {
            let lengths: Vec<String> = pattern.iter().map(|l| unit(*l).to_string()).collect();
            text.extend([" stroke-dasharray=\"", &lengths.join(" "), "\""]);
        }
        text.push_str(line);
    }
    text
}

/// Drawing into a string cannot fail; a debug build says so if that ever changes.
fn finished<E: std::fmt::Debug>(result: &Result<(), E>) {
    debug_assert!(result.is_ok(), "{result:?}");
}

/// Page coordinate to a whole unit of the drawing; far-off and undefined ones stay on paper.
fn unit(coordinate: f64) -> i32 {
    (coordinate * FINENESS).round().clamp(-1e6, 1e6) as i32
}

fn escaped(text: &str) -> String {
    printable(text).replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

impl Canvas<'_> {
    /// A line through `points`.
    pub(super) fn line(&mut self, points: &[(f64, f64)], colour: RGBColor, width: f64) {
        /// A line that is off by so much, in CSS pixels, looks the same.
        const INVISIBLE: f64 = 0.1;
        /// A line of fewer points is drawn as it is given.
        const MANY: usize = 32;
        let shorter = (points.len() >= MANY).then(|| straightened(points, INVISIBLE));
        let points = shorter.as_deref().unwrap_or(points);
        let mut path: Vec<(i32, i32)> = points.iter().map(|&(x, y)| (unit(x), unit(y))).collect();
        path.dedup();
        if path.len() > 1 {
            finished(&self.backend.draw_path(path, &stroke(colour, width)));
            self.lines += 1;
        }
    }

    /// A line in dashes: lengths drawn and left out, in turn; all drawn when there are none.
    pub(super) fn broken_line(
        &mut self,
        points: &[(f64, f64)],
        (colour, width): (RGBColor, f64),
        pattern: &'static [f64],
    ) {
        let index = self.lines;
        self.line(points, colour, width);
        if self.lines > index && !pattern.is_empty() {
            self.broken.push((index, pattern));
        }
    }

    /// A filled outline.
    pub(super) fn fill_outline(&mut self, points: &[(f64, f64)], colour: RGBColor, opacity: f64) {
        let path: Vec<(i32, i32)> = points.iter().map(|&(x, y)| (unit(x), unit(y))).collect();
        if path.len() > 2 {
            finished(&self.backend.fill_polygon(path, &colour.mix(opacity)));
        }
    }

    /// A dashed horizontal line.
    pub(super) fn dashes(&mut self, (from, to): (f64, f64), y: f64, colour: RGBColor) {
        const DASH: f64 = 6.0;
        const PERIOD: f64 = 10.0;
        let mut at = from;
        while at < to {
            self.line(&[(at, y), ((at + DASH).min(to), y)], colour, 1.0);
            at += PERIOD;
        }
    }

    /// A filled rectangle.
    pub(super) fn fill(&mut self, area: &Area, colour: RGBColor, opacity: f64) {
        let style = ShapeStyle { color: colour.mix(opacity), filled: true, stroke_width: 0 };
        let corners =
            ((unit(area.left), unit(area.top)), (unit(area.right()), unit(area.bottom())));
        finished(&self.backend.draw_rect(corners.0, corners.1, &style, true));
    }

    /// An empty rectangle.
    pub(super) fn outline(&mut self, area: &Area, colour: RGBColor) {
        let corners =
            ((unit(area.left), unit(area.top)), (unit(area.right()), unit(area.bottom())));
        finished(&self.backend.draw_rect(corners.0, corners.1, &stroke(colour, 1.0), false));
    }

    /// A filled dot.
    pub(super) fn dot(&mut self, (x, y): (f64, f64), radius: f64, colour: RGBColor) {
        let style = ShapeStyle { color: colour.mix(1.0), filled: true, stroke_width: 0 };
        let radius = unit(radius).unsigned_abs();
        finished(&self.backend.draw_circle((unit(x), unit(y)), radius, &style, true));
    }

    /// One line of text.
    pub(super) fn text(&mut self, text: &str, (x, y): (f64, f64), pen: Pen, align: Align) {
        let horizontal = match align {
            Align::Left => HPos::Left,
            Align::Centre => HPos::Center,
            Align::Right => HPos::Right,
        };
        let weight = if pen.bold { FontStyle::Bold } else { FontStyle::Normal };
        let font = ("sans-serif", pen.size * FINENESS * BACKEND_FONT_FACTOR).into_font();
        let style = TextStyle::from(font.style(weight))
            .color(&pen.colour)
            .pos(Pos::new(horizontal, VPos::Center));
        finished(&self.backend.draw_text(&printable(text), &style, (unit(x), unit(y))));
    }
}

fn stroke(colour: RGBColor, width: f64) -> ShapeStyle {
    let width = unit(width).unsigned_abs().max(1);
    ShapeStyle { color: colour.mix(1.0), filled: false, stroke_width: width }
}
