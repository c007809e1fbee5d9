//! Histograms side by side: how measurements scatter, and where their limits lie.

use super::canvas::{
    Align, Area, BLUE, Canvas, FAINT, GREY, INK, PAPER, Pen, VERMILLION, letters_width, page,
};
use super::heading::{EDGE, caption_columns, captions, shortened, titles};
use super::ticks::readable;
use crate::output::wrap::wrap;

const WIDTH: f64 = 900.0;
const ABREAST: usize = 3;
const BETWEEN: f64 = 24.0;
/// Over each frame: a heading, the test, two lines of figures.
const HEADS: f64 = 70.0;
const FRAME: f64 = 118.0;
const TICKS: f64 = 30.0;
const HEADING_SIZE: f64 = 12.0;
const TEXT_SIZE: f64 = 10.5;
const TICK_SIZE: f64 = 10.5;
/// A limit so many times as far away as the values are apart is told by an arrow.
const FAR: f64 = 3.0;
/// Of the span, on both sides.
const AIR: f64 = 0.06;

/// A page of histograms.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Histograms {
    /// Large, on top.
    pub title: String,
    /// What it comes to.
    pub subtitle: String,
    /// Conditions, one entry a line; wrapped.
    pub caption: Vec<String>,
    /// Row by row.
    pub panels: Vec<Histogram>,
}

/// One measurement.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Histogram {
    /// What it is.
    pub heading: String,
    /// Whose it is.
    pub test: String,
    /// Two lines of figures under it.
    pub lines: [String; 2],
    /// SI base unit of the values.
    pub unit: &'static str,
    /// What was found in all runs.
    pub values: Vec<f64>,
    /// Ends of what is allowed, with their texts.
    pub limits: Vec<Edge>,
    /// With everything nominal.
    pub nominal: Option<f64>,
    /// Lowest and highest percentile, marked below the bars.
    pub percentiles: Option<[f64; 2]>,
    /// The worst vertex.
    pub vertex: Option<f64>,
}

/// An end of what is allowed.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// Where.
    pub at: f64,
    /// Whether greater values are forbidden, or smaller ones.
    pub forbids_above: bool,
    /// `30.0 mV`
    pub text: String,
}

/// The page as an SVG document.
pub fn histograms_svg(sheet: &Histograms) -> String {
    page(WIDTH, &sheet.title, &description(sheet), |canvas| {
        let top = titles(canvas, &sheet.title, &sheet.subtitle, WIDTH);
        let mut top = legend(canvas, sheet, top);
        let width = (WIDTH - 2.0 * EDGE - BETWEEN * (ABREAST - 1) as f64) / ABREAST as f64;
        for row in sheet.panels.chunks(ABREAST) {
            for (k, panel) in row.iter().enumerate() {
                let left = EDGE + k as f64 * (width + BETWEEN);
                draw(canvas, panel, &Area { left, top: top + HEADS, width, height: FRAME });
            }
            top += HEADS + FRAME + TICKS;
        }
        let wrapped = |line: &String| wrap(line, caption_columns(line, WIDTH));
        let lines: Vec<String> = sheet.caption.iter().flat_map(wrapped).collect();
        captions(canvas, &lines, top)
    })
}

fn description(sheet: &Histograms) -> String {
    let panel =
        |p: &Histogram| format!("{}, {}: {}; {}", p.test, p.heading, p.lines[0], p.lines[1]);
    let panels = sheet.panels.iter().map(panel);
    std::iter::once(sheet.subtitle.clone()).chain(panels).collect::<Vec<_>>().join("; ")
}

fn legend(canvas: &mut Canvas<'_>, sheet: &Histograms, top: f64) -> f64 {
    const SAMPLE: f64 = 16.0;
    let y = top + 8.0;
    let pen = Pen { size: TEXT_SIZE, colour: INK, bold: false };
    let mut left = EDGE;
    let mut entry = |canvas: &mut Canvas<'_>, text: &str, sample: &dyn Fn(&mut Canvas<'_>, f64)| {
        sample(canvas, left);
        canvas.text(text, (left + SAMPLE + 5.0, y), pen, Align::Left);
        left += SAMPLE + 5.0 + letters_width(text, TEXT_SIZE) + 22.0;
    };
    entry(canvas, "runs", &|canvas, x| {
        canvas.fill(&Area { left: x, top: y - 6.0, width: SAMPLE, height: 11.0 }, BLUE, 0.65);
    });
    entry(canvas, "nominal", &|canvas, x| nominal_line(canvas, x + 8.0, y - 7.0, y + 7.0));
    entry(canvas, "forbidden", &|canvas, x| {
        canvas.fill(&Area { left: x, top: y - 6.0, width: SAMPLE, height: 11.0 }, VERMILLION, 0.16);
        canvas.line(&[(x, y - 7.0), (x, y + 7.0)], VERMILLION, 1.6);
    });
    entry(canvas, "0.135 % to 99.865 %", &|canvas, x| bracket(canvas, x, x + SAMPLE, y));
    if sheet.panels.iter().any(|panel| panel.vertex.is_some()) {
        entry(canvas, "worst vertex", &|canvas, x| vertex_mark(canvas, x + 8.0, y + 5.0));
    }
    y + 12.0
}

/// The ends of the axis: all values, what is marked, and the limits unless they are far off.
fn range(panel: &Histogram) -> (f64, f64) {
    let mut low = f64::INFINITY;
    let mut high = f64::NEG_INFINITY;
    for value in panel.values.iter().chain(panel.nominal.as_ref()).filter(|v| v.is_finite()) {
        (low, high) = (low.min(*value), high.max(*value));
    }
    if low > high {
        return (0.0, 1.0);
    }
    let least = (1e-6 * low.abs().max(high.abs())).max(1e-15);
    if high - low < least {
        (low, high) = (low - least, high + least);
    }
    let span = high - low;
    let others = panel.limits.iter().map(|limit| limit.at).chain(panel.vertex);
    let (from, to) = (low - FAR * span, high + FAR * span);
    for value in others.filter(|at| *at >= from && *at <= to) {
        (low, high) = (low.min(value), high.max(value));
    }
    let air = AIR * (high - low);
    (low - air, high + air)
}

fn draw(canvas: &mut Canvas<'_>, panel: &Histogram, frame: &Area) {
    let pen = |size, bold| Pen { size, colour: INK, bold };
    let heading = shortened(&panel.heading, HEADING_SIZE * 1.12, frame.width);
    canvas.text(&heading, (frame.left, frame.top - 55.0), pen(HEADING_SIZE, true), Align::Left);
    let test = shortened(&panel.test, TEXT_SIZE, frame.width);
    let grey = Pen { size: TEXT_SIZE, colour: GREY, bold: false };
    canvas.text(&test, (frame.left, frame.top - 39.5), grey, Align::Left);
    for (line, above) in panel.lines.iter().zip([25.0, 10.5]) {
        let line = shortened(line, TEXT_SIZE, frame.width + 8.0);
        canvas.text(&line, (frame.left, frame.top - above), pen(TEXT_SIZE, false), Align::Left);
    }
    let (low, high) = range(panel);
    let x = |value: f64| frame.left + (value - low) / (high - low) * frame.width;
    for limit in &panel.limits {
        let at = x(limit.at).clamp(frame.left, frame.right());
        let (left, right) =
            if limit.forbids_above { (at, frame.right()) } else { (frame.left, at) };
        canvas.fill(&Area { left, width: right - left, ..*frame }, VERMILLION, 0.13);
    }
    for (value, text) in readable((low, high), 4, panel.unit) {
        let at = x(value);
        canvas.line(&[(at, frame.top), (at, frame.bottom())], FAINT, 0.8);
        canvas.line(&[(at, frame.bottom()), (at, frame.bottom() + 4.0)], GREY, 1.0);
        let half = letters_width(&text, TICK_SIZE) / 2.0;
        let place = at.clamp(frame.left - 6.0 + half, frame.right() + 6.0 - half);
        canvas.text(&text, (place, frame.bottom() + 12.0), pen(TICK_SIZE, false), Align::Centre);
    }
    bars(canvas, panel, frame, (low, high));
    if let Some(nominal) = panel.nominal {
        nominal_line(canvas, x(nominal), frame.top, frame.bottom());
    }
    if let Some([from, to]) = panel.percentiles {
        bracket(canvas, x(from), x(to), frame.bottom() - 5.0);
    }
    canvas.outline(frame, GREY);
    for limit in &panel.limits {
        mark_limit(canvas, limit, x(limit.at), frame);
    }
    if let Some(vertex) = panel.vertex.map(x)
        && vertex >= frame.left
        && vertex <= frame.right()
    {
        vertex_mark(canvas, vertex, frame.bottom() - 1.0);
    }
}

/// As many bars as tell the shape: Freedman and Diaconis (1981) within bounds.
fn bars(canvas: &mut Canvas<'_>, panel: &Histogram, frame: &Area, (low, high): (f64, f64)) {
    const FEWEST: f64 = 6.0;
    const MOST: f64 = 40.0;
    let mut sorted: Vec<f64> = panel.values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let (Some(&first), Some(&last)) = (sorted.first(), sorted.last()) else { return };
    let quarter = |k: usize| sorted.get(k * (sorted.len() - 1) / 4).copied().unwrap_or(first);
    let wide = 2.0 * (quarter(3) - quarter(1)) / (sorted.len() as f64).cbrt();
    let span = (last - first).max((high - low) * 0.01);
    let count = if wide > 0.0 { (span / wide).ceil().clamp(FEWEST, MOST) } else { FEWEST };
    let step = span / count;
    let mut counts = vec![0_usize; count as usize];
    let top = counts.len() - 1;
    for value in &sorted {
        counts[(((value - first) / step) as usize).min(top)] += 1;
    }
    let most = counts.iter().copied().max().unwrap_or(1) as f64;
    let x = |value: f64| frame.left + (value - low) / (high - low) * frame.width;
    for (k, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
        // Room above for the texts of limits.
        let height = (*count as f64 / most * (frame.height - 20.0)).max(1.5);
        let (left, right) = (x(first + k as f64 * step), x(first + (k + 1) as f64 * step));
        let width = (right - left - 0.6).max(0.8);
        canvas.fill(&Area { left, top: frame.bottom() - height, width, height }, BLUE, 0.65);
    }
}

fn nominal_line(canvas: &mut Canvas<'_>, x: f64, top: f64, bottom: f64) {
    canvas.broken_line(&[(x, top), (x, bottom)], (INK, 1.4), &[4.0, 3.0]);
}

fn bracket(canvas: &mut Canvas<'_>, from: f64, to: f64, y: f64) {
    canvas.line(&[(from, y), (to, y)], INK, 1.2);
    for x in [from, to] {
        canvas.line(&[(x, y - 3.5), (x, y + 3.5)], INK, 1.2);
    }
}

fn vertex_mark(canvas: &mut Canvas<'_>, x: f64, bottom: f64) {
    let triangle = [(x - 5.0, bottom - 10.0), (x + 5.0, bottom - 10.0), (x, bottom)];
    canvas.fill_outline(&triangle, VERMILLION, 1.0);
}

/// The line of a limit with its text, or where it lies beyond the frame.
fn mark_limit(canvas: &mut Canvas<'_>, limit: &Edge, x: f64, frame: &Area) {
    let pen = Pen { size: TEXT_SIZE, colour: VERMILLION, bold: false };
    let y = frame.top + 9.0;
    let beyond = x < frame.left || x > frame.right();
    let text = match (beyond, x < frame.left) {
        (true, true) => format!("← {}", limit.text),
        (true, false) => format!("{} →", limit.text),
        _ => limit.text.clone(),
    };
    let width = letters_width(&text, TEXT_SIZE);
    if !beyond {
        canvas.line(&[(x, frame.top), (x, frame.bottom())], VERMILLION, 1.6);
    }
    // Beside its line on the side that has room, first on the allowed one.
    let (left, right) = (x - 4.0 - width >= frame.left, x + 4.0 + width <= frame.right());
    let at = match (beyond, limit.forbids_above) {
        (true, _) if x < frame.left => frame.left + 4.0,
        (true, _) => frame.right() - 4.0 - width,
        (false, true) if left || !right => x - 4.0 - width,
        (false, true) => x + 4.0,
        (false, false) if right || !left => x + 4.0,
        (false, false) => x - 4.0 - width,
    };
    let back = Area { left: at - 2.0, top: y - 7.0, width: width + 4.0, height: 14.0 };
    canvas.fill(&back, PAPER, 0.8);
    canvas.text(&text, (at, y), pen, Align::Left);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn panel(values: Vec<f64>, limit: f64) -> Histogram {
        let edge = Edge { at: limit, forbids_above: true, text: "limit".to_owned() };
        let (limits, nominal) = (vec![edge], values.first().copied());
        Histogram { unit: "V", values, limits, nominal, ..Histogram::default() }
    }

    #[test]
    fn a_near_limit_belongs_to_the_axis_and_a_far_one_does_not() {
        let (low, high) = range(&panel(vec![1.0, 2.0], 3.0));
        assert!(low < 1.0 && low > 0.8 && high > 3.0 && high < 3.2, "{low} {high}");
        let (_, high) = range(&panel(vec![1.0, 2.0], 300.0));
        assert!(high < 2.2, "{high}");
    }

    #[test]
    fn nothing_and_equal_values_can_be_drawn() {
        let odd = vec![f64::NAN, f64::INFINITY];
        for values in [Vec::new(), vec![2.5; 10], vec![0.0; 3], odd, vec![1e300, -1e300]] {
            let sheet = Histograms { panels: vec![panel(values, 1.0)], ..Histograms::default() };
            let svg = histograms_svg(&sheet);
            assert!(svg.starts_with("<svg") && !svg.contains("NaN"), "{svg}");
        }
    }
}
