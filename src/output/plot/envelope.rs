//! The output over time in many runs: bands around the nominal curve, tests below each other, edges
//! side by side.

use super::canvas::{
    Align, Area, BLUE, Canvas, FAINT, GREEN, GREY, INK, Pen, VERMILLION, letters_width, page,
};
use super::heading::{EDGE, caption_columns, captions, shortened, titles};
use super::ticks::{readable, ticks};
use crate::output::wrap::wrap;

const WIDTH: f64 = 900.0;
const LEFT: f64 = 76.0;
const RIGHT: f64 = 880.0;
const BETWEEN: f64 = 26.0;
/// Over a row: the name of its test, and the names of its windows.
const HEADS: f64 = 40.0;
const FRAME: f64 = 200.0;
const TICKS: f64 = 34.0;
const HEADING_SIZE: f64 = 12.5;
const TEXT_SIZE: f64 = 11.0;
/// A limit belongs to the axis as long as the curves keep this share of it.
const LEAST_SHARE: f64 = 0.4;

/// Tests below each other.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Envelopes {
    /// Large, on top.
    pub title: String,
    /// What is shown.
    pub subtitle: String,
    /// Conditions, one entry a line; wrapped.
    pub caption: Vec<String>,
    /// One a test.
    pub rows: Vec<Row>,
}

/// One test.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Its name.
    pub heading: String,
    /// What the worst curve is.
    pub worst: String,
    /// Allowed at every instant.
    pub band: Option<[f64; 2]>,
    /// Stretches of time, side by side.
    pub windows: Vec<Stretch>,
}

/// One stretch of time; all lists as long as `times_s`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stretch {
    /// What happens there.
    pub label: String,
    /// s
    pub times_s: Vec<f64>,
    /// The nominal curve in V.
    pub nominal_v: Vec<f64>,
    /// The worst one; empty for none.
    pub worst_v: Vec<f64>,
    /// The outer band: lowest and highest.
    pub outer_v: [Vec<f64>; 2],
    /// The inner band.
    pub inner_v: [Vec<f64>; 2],
}

/// The page as an SVG document.
pub fn envelopes_svg(sheet: &Envelopes) -> String {
    page(WIDTH, &sheet.title, &sheet.subtitle, |canvas| {
        let top = titles(canvas, &sheet.title, &sheet.subtitle, WIDTH);
        let mut top = legend(canvas, sheet, top);
        for row in &sheet.rows {
            draw(canvas, row, top);
            top += HEADS + FRAME + TICKS;
        }
        let wrapped = |line: &String| wrap(line, caption_columns(line, WIDTH));
        let lines: Vec<String> = sheet.caption.iter().flat_map(wrapped).collect();
        captions(canvas, &lines, top)
    })
}

fn legend(canvas: &mut Canvas<'_>, sheet: &Envelopes, top: f64) -> f64 {
    const SAMPLE: f64 = 20.0;
    let y = top + 8.0;
    let pen = Pen { size: TEXT_SIZE, colour: INK, bold: false };
    let mut left = EDGE;
    let block = |left: f64| Area { left, top: y - 6.0, width: SAMPLE, height: 12.0 };
    let mut entry = |canvas: &mut Canvas<'_>, text: &str, sample: &dyn Fn(&mut Canvas<'_>, f64)| {
        sample(canvas, left);
        canvas.text(text, (left + SAMPLE + 6.0, y), pen, Align::Left);
        left += SAMPLE + 6.0 + letters_width(text, TEXT_SIZE) + 20.0;
    };
    let line = |x: f64| [(x, y), (x + SAMPLE, y)];
    entry(canvas, "nominal", &|canvas, x| canvas.line(&line(x), BLUE, 2.4));
    entry(canvas, "lowest to highest", &|canvas, x| canvas.fill(&block(x), BLUE, 0.16));
    entry(canvas, "5 % to 95 %", &|canvas, x| canvas.fill(&block(x), BLUE, 0.40));
    if sheet.rows.iter().flat_map(|r| &r.windows).any(|w| !w.worst_v.is_empty()) {
        entry(canvas, "worst", &|canvas, x| canvas.line(&line(x), VERMILLION, 1.1));
    }
    if sheet.rows.iter().any(|row| row.band.is_some()) {
        entry(canvas, "allowed at every instant", &|canvas, x| {
            canvas.fill(&block(x), GREEN, 0.12);
            canvas.dashes((x, x + SAMPLE), y - 6.0, GREEN);
            canvas.dashes((x, x + SAMPLE), y + 6.0, GREEN);
        });
    }
    y + 22.0
}

/// Everything that is drawn, with some air; limits as long as they do not dwarf it.
fn range(row: &Row) -> (f64, f64) {
    const AIR: f64 = 0.07;
    let lists = row.windows.iter().flat_map(|w| {
        [&w.nominal_v, &w.worst_v, &w.outer_v[0], &w.outer_v[1]].into_iter().flatten()
    });
    let (mut low, mut high) = lists
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
    if low > high {
        (low, high) = (0.0, 1.0);
    }
    let least = (1e-6 * low.abs().max(high.abs())).max(1e-12);
    if high - low < least {
        (low, high) = (low - least, high + least);
    }
    let span = high - low;
    for edge in row.band.iter().flatten() {
        let (l, h) = (low.min(*edge), high.max(*edge));
        if (h - l) * LEAST_SHARE <= span {
            (low, high) = (l, h);
        }
    }
    let air = AIR * (high - low);
    (low - air, high + air)
}

fn draw(canvas: &mut Canvas<'_>, row: &Row, top: f64) {
    let value = range(row);
    let heading = shortened(&row.heading, HEADING_SIZE * 1.12, 0.55 * WIDTH);
    let pen = Pen { size: HEADING_SIZE, colour: INK, bold: true };
    canvas.text(&heading, (EDGE, top + 10.0), pen, Align::Left);
    let start = EDGE + letters_width(&heading, HEADING_SIZE * 1.12) + 14.0;
    let pen = Pen { size: TEXT_SIZE, colour: GREY, bold: false };
    let worst = shortened(&row.worst, TEXT_SIZE, WIDTH - EDGE - start);
    canvas.text(&worst, (start, top + 10.0), pen, Align::Left);
    let count = row.windows.len().max(1) as f64;
    let width = (RIGHT - LEFT - BETWEEN * (count - 1.0)) / count;
    for (k, window) in row.windows.iter().enumerate() {
        let left = LEFT + k as f64 * (width + BETWEEN);
        let frame = Area { left, top: top + HEADS, width, height: FRAME };
        stretch(canvas, row, window, &frame, value, k == 0);
    }
}

fn stretch(
    canvas: &mut Canvas<'_>,
    row: &Row,
    window: &Stretch,
    frame: &Area,
    (low, high): (f64, f64),
    is_first: bool,
) {
    let pen = Pen { size: TEXT_SIZE, colour: INK, bold: false };
    canvas.text(&window.label, (frame.left, frame.top - 9.0), pen, Align::Left);
    let (Some(&from), Some(&to)) = (window.times_s.first(), window.times_s.last()) else { return };
    let y = |v: f64| frame.bottom() - (v - low) / (high - low) * frame.height;
    let x = |t: f64| frame.left + (t - from) / (to - from) * frame.width;
    if let Some([bottom, top]) = row.band {
        let (upper, lower) = (y(top.min(high)), y(bottom.max(low)));
        if lower > upper {
            canvas.fill(&Area { top: upper, height: lower - upper, ..*frame }, GREEN, 0.09);
        }
        for edge in [bottom, top].into_iter().filter(|v| *v > low && *v < high) {
            canvas.dashes((frame.left, frame.right()), y(edge), GREEN);
        }
    }
    for (level, text) in readable((low, high), 6, "V") {
        canvas.line(&[(frame.left, y(level)), (frame.right(), y(level))], FAINT, 0.8);
        if is_first {
            canvas.text(&text, (frame.left - 6.0, y(level)), pen, Align::Right);
        }
    }
    let wanted = ((frame.width / 84.0) as usize).clamp(2, 9);
    for (time, text) in ticks((from, to), wanted, "s") {
        canvas.line(&[(x(time), frame.top), (x(time), frame.bottom())], FAINT, 0.8);
        canvas.line(&[(x(time), frame.bottom()), (x(time), frame.bottom() + 4.0)], GREY, 1.0);
        let half = letters_width(&text, TEXT_SIZE) / 2.0;
        let place = x(time).clamp(frame.left - 10.0 + half, frame.right() + 10.0 - half);
        canvas.text(&text, (place, frame.bottom() + 13.0), pen, Align::Centre);
    }
    let points = |list: &[f64]| -> Vec<(f64, f64)> {
        let both = window.times_s.iter().zip(list).filter(|(_, v)| v.is_finite());
        both.map(|(t, v)| (x(*t), y(*v))).collect()
    };
    for (band, opacity) in [(&window.outer_v, 0.16), (&window.inner_v, 0.30)] {
        let mut outline = points(&band[0]);
        outline.extend(points(&band[1]).into_iter().rev());
        canvas.fill_outline(&outline, BLUE, opacity);
    }
    canvas.line(&points(&window.nominal_v), BLUE, 2.4);
    canvas.line(&points(&window.worst_v), VERMILLION, 1.1);
    canvas.outline(frame, GREY);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_that_dwarfs_the_curves_is_left_out_of_the_axis() {
        let window = Stretch { nominal_v: vec![2.79, 2.81], ..Stretch::default() };
        let row = |band| Row { band: Some(band), windows: vec![window.clone()], ..Row::default() };
        let (low, high) = range(&row([2.78, 2.82]));
        assert!(low < 2.78 && high > 2.82);
        let (low, high) = range(&row([0.0, 5.0]));
        assert!(low > 2.78 && high < 2.82, "{low} {high}");
    }

    #[test]
    fn nothing_and_gaps_can_be_drawn() {
        let gap = Stretch {
            times_s: vec![0.0, 1.0, 2.0],
            nominal_v: vec![1.0, f64::NAN, 1.0],
            ..Stretch::default()
        };
        for windows in [Vec::new(), vec![Stretch::default()], vec![gap]] {
            let rows = vec![Row { windows, ..Row::default() }];
            let svg = envelopes_svg(&Envelopes { rows, ..Envelopes::default() });
            assert!(svg.starts_with("<svg") && !svg.contains("NaN"), "{svg}");
        }
    }
}
