//! A chart read back: what it draws, in CSS pixels.

use std::fmt::Write;

use crate::output::plot::canvas::letters_width;

/// Units of the drawing in one CSS pixel.
const FINENESS: f64 = 8.0;

pub(super) struct Text {
    pub(super) words: String,
    pub(super) y: f64,
    left: f64,
    right: f64,
    size: f64,
}

pub(super) struct Line {
    pub(super) colour: String,
    pub(super) dashed: bool,
    pub(super) points: Vec<(f64, f64)>,
}

pub(super) struct Drawing {
    source: String,
    width: f64,
    height: f64,
    pub(super) texts: Vec<Text>,
    pub(super) lines: Vec<Line>,
    pub(super) polygons: usize,
    circles: Vec<(f64, f64)>,
    /// Left, top, width, height of outlined rectangles.
    pub(super) frames: Vec<(f64, f64, f64, f64)>,
}

fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    let (_, rest) = element.split_once(&format!(" {name}=\""))?;
    rest.split('"').next()
}

fn number(element: &str, name: &str) -> f64 {
    attribute(element, name).unwrap().parse().unwrap()
}

fn points(element: &str) -> Vec<(f64, f64)> {
    let pair = |pair: &str| {
        let (x, y) = pair.split_once(',').unwrap();
        (x.parse::<f64>().unwrap() / FINENESS, y.parse::<f64>().unwrap() / FINENESS)
    };
    attribute(element, "points").unwrap().split_whitespace().map(pair).collect()
}

fn text(element: &str) -> Text {
    let written = element.split_once('>').unwrap().1.split("</text").next().unwrap().trim();
    let plain = written.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&");
    let size = number(element, "font-size") / FINENESS;
    let bold = if attribute(element, "font-weight").is_some() { 1.12 } else { 1.0 };
    // The letters' classes are rounded up: by the width of real ones nothing is left out.
    let width = letters_width(&plain, size) * bold * 0.93;
    let x = number(element, "x") / FINENESS;
    let left = match attribute(element, "text-anchor").unwrap() {
        "start" => x,
        "middle" => x - width / 2.0,
        _ => x - width,
    };
    Text { words: plain, y: number(element, "y") / FINENESS, left, right: left + width, size }
}

impl Drawing {
    pub(super) fn read(source: &str) -> Self {
        let mut drawing = Self {
            source: source.to_owned(),
            width: number(source, "width"),
            height: number(source, "height"),
            texts: Vec::new(),
            lines: Vec::new(),
            polygons: 0,
            circles: Vec::new(),
            frames: Vec::new(),
        };
        for element in source.split('<') {
            match element.split_whitespace().next() {
                Some("text") => drawing.texts.push(text(element)),
                Some("polyline") => drawing.lines.push(Line {
                    colour: attribute(element, "stroke").unwrap().to_owned(),
                    dashed: attribute(element, "stroke-dasharray").is_some(),
                    points: points(element),
                }),
                Some("polygon") => drawing.polygons += 1,
                Some("circle") => drawing
                    .circles
                    .push((number(element, "cx") / FINENESS, number(element, "cy") / FINENESS)),
                Some("rect") if attribute(element, "fill") == Some("none") => {
                    let side = |name| number(element, name) / FINENESS;
                    drawing.frames.push((side("x"), side("y"), side("width"), side("height")));
                }
                _ => {}
            }
        }
        drawing
    }

    /// Nothing undefined, and everything on the page.
    pub(super) fn assert_sound(&self, name: &str) {
        assert!(!self.source.contains("NaN") && !self.source.contains("=\"inf"), "{name}");
        let on_page = |(x, y): (f64, f64)| {
            (0.0..=self.width).contains(&x) && (0.0..=self.height).contains(&y)
        };
        let dots = self.circles.iter().copied();
        let all = self.lines.iter().flat_map(|line| line.points.iter().copied()).chain(dots);
        for point in all {
            assert!(on_page(point), "{name}: {point:?}");
        }
        for text in &self.texts {
            let half = text.size * 0.6;
            let inside =
                on_page((text.left, text.y - half)) && on_page((text.right, text.y + half));
            assert!(inside, "{name}: `{}` from {} to {}", text.words, text.left, text.right);
        }
    }

    /// Counts and texts: what a change of the pictures must not lose.
    pub(super) fn outline(&self) -> String {
        let dashed = self.lines.iter().filter(|line| line.dashed).count();
        let mut outline = format!(
            "{} × {}\nlines {}, of them {dashed} broken; areas {}, dots {}, frames {}\n",
            self.width,
            self.height,
            self.lines.len(),
            self.polygons,
            self.circles.len(),
            self.frames.len(),
        );
        for text in &self.texts {
            writeln!(outline, "{}", text.words).unwrap();
        }
        outline
    }
}
