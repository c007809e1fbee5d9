//! The whole page: title, legend, panels over their common axis, conditions.

use super::legend::{self, entries, rows};
use super::panel::{BOLD, View, draw};
use super::range::{across, equal_scales, upwards};
use super::ruler::Ruler;
use super::style::Palette;
use super::ticks::{Tick, ticks, ticks_apart};
use super::{Chart, Scale};
use crate::output::plot::canvas::{Align, Area, Canvas, INK, Pen, letters_width, page};
use crate::output::plot::heading::{EDGE, caption_columns, captions, shortened, titles};
use crate::output::plot::panel::{HEADING_SIZE, TICK_SIZE};
use crate::output::wrap::wrap;

pub(super) const WIDTH: f64 = 900.0;
/// A square picture as wide as the others would not fit on a screen.
const SQUARE_WIDTH: f64 = 720.0;
const LEAST_LEFT: f64 = 60.0;
const MOST_LEFT: f64 = 220.0;
pub(super) const RIGHT_EDGE: f64 = 24.0;

/// Over each frame, for its heading.
pub(super) const HEADING: f64 = 20.0;
/// Under the last frame: ticks and the name of the axis.
pub(super) const X_AXIS: f64 = 42.0;
/// Under the others.
const GAP: f64 = 10.0;
/// Room of a tick of the common axis; of both axes in a square picture.
const X_ROOM: f64 = 76.0;
const SQUARE_HEIGHTS: (f64, f64) = (240.0, 640.0);

/// Points in the whole chart at which curves begin to be thinned: at about ten bytes a point a
/// file stays below 200 KB.
const POINTS: usize = 14_000;

/// The chart as an SVG document; the same chart gives the same bytes.
///
/// Whatever an axis has no place for is left out: a curve is interrupted there, and a label that
/// only such curves have is told in the legend with `(no values)`. Texts without room in their
/// panel are told below it.
pub fn chart_svg(chart: &Chart) -> String {
    let layout = Layout::new(chart);
    let palette = Palette::new(chart);
    page(layout.width, &chart.title, &description(chart), |canvas| {
        let top = titles(canvas, &chart.title, &chart.subtitle, layout.width);
        let legend = rows(entries(chart, &palette), layout.width - 2.0 * EDGE);
        let top = legend::draw(canvas, &legend, EDGE, top);
        let (top, homeless) = panels(canvas, chart, &layout, &palette, top);
        let mut lines = chart.caption.clone();
        if !homeless.is_empty() {
            lines.push(format!("also: {}", homeless.join(", ")));
        }
        let wrapped = |line: &String| wrap(line, caption_columns(line, layout.width));
        let lines: Vec<String> = lines.iter().flat_map(wrapped).collect();
        captions(canvas, &lines, top)
    })
}

/// What a screen reader tells: verdict, conditions, and every number with its panel.
fn description(chart: &Chart) -> String {
    let mut parts = vec![chart.subtitle.clone()];
    parts.extend(chart.caption.iter().cloned());
    for panel in &chart.panels {
        for mark in panel.marks.iter().filter(|mark| !mark.text.is_empty()) {
            parts.push(format!("{}: {}", panel.y.label, mark.text));
        }
    }
    parts.retain(|part| !part.is_empty());
    parts.join("; ")
}

/// Ranges, heights and margins, decided before anything is drawn.
struct Layout {
    width: f64,
    /// Left end of the frames.
    left: f64,
    /// Height of each frame.
    height: f64,
    x: (f64, f64),
    x_ticks: Vec<Tick>,
    /// Range and ticks of each panel.
    y: Vec<((f64, f64), Vec<Tick>)>,
    columns: usize,
}

impl Layout {
    fn new(chart: &Chart) -> Self {
        let square = chart.square
            && matches!(chart.panels.as_slice(), [only] if only.y.scale == Scale::Linear)
            && chart.x.scale == Scale::Linear;
        // The margin depends on the texts of the ticks, and these on the frame: what they are in
        // a frame with the usual margin tells how wide it must be.
        let trial = Self::with_margin(chart, square, LEAST_LEFT);
        let texts = trial.y.iter().flat_map(|(_, ticks)| ticks).filter_map(|t| t.text.as_ref());
        let widest = texts.map(|text| letters_width(text, TICK_SIZE)).fold(0.0, f64::max);
        Self::with_margin(chart, square, (widest + 14.0).clamp(LEAST_LEFT, MOST_LEFT))
    }

    fn with_margin(chart: &Chart, square: bool, left: f64) -> Self {
        let width = if square { SQUARE_WIDTH } else { WIDTH };
        let inner = width - left - RIGHT_EDGE;
        let mut x = across(chart);
        let mut ranges: Vec<_> = chart.panels.iter().map(|panel| upwards(panel, x)).collect();
        let mut height = match ranges.len() {
            0 | 1 => 430.0,
            2 => 270.0,
            3 => 200.0,
            _ => 160.0,
        };
        if let ([y], true) = (ranges.as_mut_slice(), square) {
            (x, *y, height) = equal_scales(x, *y, inner, SQUARE_HEIGHTS);
        }
        let y_ticks = |(panel, range): (&super::Panel, (f64, f64))| {
            let room = match panel.y.scale {
                Scale::Linear if square => X_ROOM,
                Scale::Linear => 34.0,
                Scale::Logarithmic => 28.0,
            };
            (range, ticks(&panel.y, range, (height / room) as usize))
        };
        let y = chart.panels.iter().zip(ranges).map(y_ticks).collect();
        let curves: usize = chart.panels.iter().map(|panel| panel.curves.len()).sum();
        Self {
            width,
            left,
            height,
            x,
            x_ticks: ticks_apart(&chart.x, x, inner, (inner / X_ROOM) as usize),
            y,
            columns: (POINTS / 4 / curves.max(1)).clamp(60, 800),
        }
    }
}

/// Draws the panels and gives back where they end and the texts without a place.
fn panels(
    canvas: &mut Canvas<'_>,
    chart: &Chart,
    layout: &Layout,
    palette: &Palette<'_>,
    mut top: f64,
) -> (f64, Vec<String>) {
    let mut homeless = Vec::new();
    let last = chart.panels.len().saturating_sub(1);
    let (left, width) = (layout.left, layout.width - layout.left - RIGHT_EDGE);
    for (index, (panel, (y, y_ticks))) in chart.panels.iter().zip(&layout.y).enumerate() {
        top += HEADING;
        let frame = Area { left, top, width, height: layout.height };
        let view = View {
            panel,
            frame,
            x: Ruler::new(chart.x.scale, layout.x, (left, frame.right())),
            y: Ruler::new(panel.y.scale, *y, (frame.bottom(), top)),
            x_ticks: &layout.x_ticks,
            y_ticks,
            lowest: index == last,
            columns: layout.columns,
        };
        homeless.extend(draw(canvas, &view, palette));
        top += layout.height + if index == last { X_AXIS } else { GAP };
    }
    if !chart.panels.is_empty() {
        let pen = Pen { size: HEADING_SIZE, colour: INK, bold: true };
        let middle = (left + width / 2.0, top - X_AXIS + 30.0);
        canvas.text(
            &shortened(&chart.x.label, HEADING_SIZE * BOLD, width),
            middle,
            pen,
            Align::Centre,
        );
    }
    (top, homeless)
}
