//! One panel: band, grid, curves, and the measured numbers where they happen.

use plotters::style::RGBColor;

use super::canvas::{
    Align, Area, BLUE, Canvas, FAINT, GREEN, GREY, INK, PAPER, PURPLE, Pen, VERMILLION,
    letters_width, text_width,
};
use super::labels::{Crowd, nearest_point};
use super::thin::{extent, thin};
use super::ticks::{LARGEST, readable, ticks};
use super::{Band, Mark, Panel, Role};

pub(super) const TICK_SIZE: f64 = 11.0;
pub(super) const HEADING_SIZE: f64 = 12.0;
pub(super) const MARK_SIZE: f64 = 11.5;
pub(super) const BAND_SIZE: f64 = 10.5;

/// A frame on the page with its two axes.
#[derive(Clone, Copy, Debug)]
pub(super) struct View {
    pub(super) frame: Area,
    pub(super) time: (f64, f64),
    pub(super) value: (f64, f64),
}

impl View {
    fn x(&self, t: f64) -> f64 {
        self.frame.left + share(t, self.time) * self.frame.width
    }

    fn y(&self, value: f64) -> f64 {
        self.frame.bottom() - share(value, self.value) * self.frame.height
    }
}

/// Where `x` lies in the range, 0 to 1.
fn share(x: f64, (low, high): (f64, f64)) -> f64 {
    ((x - low) / (high - low)).clamp(0.0, 1.0)
}

/// Which of its pictures a panel is drawn as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shows {
    /// The whole record.
    Record,
    /// A magnified window.
    Edge,
}

/// What differs between a full record and a magnified edge.
#[derive(Clone, Debug)]
pub(super) struct Look<'a> {
    /// Text over the frame; empty: none.
    pub(super) heading: String,
    /// Whether times stand below.
    pub(super) time_axis: bool,
    /// Whether values stand to the left.
    pub(super) value_axis: bool,
    /// Names of curves stand over the record only.
    pub(super) shows: Shows,
    /// Windows that are drawn again elsewhere: shaded here, their numbers written there.
    pub(super) elsewhere: &'a [(f64, f64)],
    /// Width of the narrowest magnified frame: a number too long for it stands in the record.
    pub(super) width_elsewhere: f64,
    /// Columns that curves are thinned to.
    pub(super) columns: usize,
}

impl Look<'_> {
    /// Whether the number is written in this frame rather than in its other picture.
    fn writes(&self, mark: &Mark) -> bool {
        let fits = text_width(&mark.text, MARK_SIZE) + 8.0 <= self.width_elsewhere;
        match self.shows {
            Shows::Edge => fits,
            Shows::Record => !(fits && self.elsewhere.iter().any(|window| within(mark, *window))),
        }
    }
}

/// The range that shows the curves and marks within `windows`, with some air.
///
/// Bands belong to it as long as that leaves the curves at least `least_share` of the height.
pub(super) fn value_range(panel: &Panel, windows: &[(f64, f64)], least_share: f64) -> (f64, f64) {
    const AIR: f64 = 0.12;
    /// Of the value: what moves by less is drawn as a flat line, not as rounding magnified.
    const LEAST_SPAN: f64 = 1e-5;
    /// Of the value: how far the axis of a flat line reaches to both sides.
    const FLAT_REACH: f64 = 0.1;
    let mut range: Option<(f64, f64)> = None;
    let mut take = |low: f64, high: f64| {
        range = Some(range.map_or((low, high), |(l, h)| (l.min(low), h.max(high))));
    };
    for window in windows {
        for curve in &panel.curves {
            if let Some((low, high)) = extent(&curve.points, *window) {
                take(low, high);
            }
        }
        for mark in panel.marks.iter().filter(|m| within(m, *window)) {
            take(mark.value, mark.value);
        }
    }
    let (mut low, mut high) = range.unwrap_or((0.0, 1.0));
    let largest = low.abs().max(high.abs());
    if high - low < (largest * LEAST_SPAN).max(1e-15) {
        let middle = f64::midpoint(low, high);
        let reach = (largest * FLAT_REACH).max(1e-15);
        (low, high) = (middle - reach, middle + reach);
    }
    let span = high - low;
    for edge in panel.bands.iter().flat_map(|band| [band.low, band.high]) {
        let (l, h) = (low.min(edge), high.max(edge));
        if edge.abs() <= LARGEST && (h - l) * least_share <= span {
            (low, high) = (l, h);
        }
    }
    let air = (high - low) * AIR;
    (low - air, high + air)
}

/// Draws it, and gives back the texts of marks that found no place.
pub(super) fn draw(
    canvas: &mut Canvas<'_>,
    panel: &Panel,
    view: &View,
    look: &Look<'_>,
) -> Vec<String> {
    for band in &panel.bands {
        shade(canvas, band, view);
    }
    for (from, to) in look.elsewhere {
        let (left, right) = (view.x(*from), view.x(*to));
        let width = (right - left).max(3.0).min(view.frame.right() - left);
        canvas.fill(&Area { left, width, ..view.frame }, INK, 0.09);
    }
    grid(canvas, panel, view, look);
    let lines = curves(canvas, panel, view, look);
    canvas.outline(&view.frame, GREY);
    heading(canvas, panel, view, look);
    let mut crowd = Crowd::new(view.frame, lines);
    let marks: Vec<&Mark> = panel.marks.iter().filter(|m| within(m, view.time)).collect();
    for mark in &marks {
        crowd.add_dot((view.x(mark.t_s), view.y(mark.value)));
    }
    for band in &panel.bands {
        band_label(canvas, band, view, &mut crowd);
    }
    let (mut placed, mut homeless) = (Vec::new(), Vec::new());
    for mark in marks.iter().filter(|m| !m.text.is_empty() && look.writes(m)) {
        let at = (view.x(mark.t_s), view.y(mark.value));
        match crowd.place(&mark.text, MARK_SIZE, at) {
            Some(place) => placed.push((mark.text.as_str(), at, place)),
            None => homeless.push(mark.text.clone()),
        }
    }
    write(canvas, &placed);
    for mark in marks {
        canvas.dot((view.x(mark.t_s), view.y(mark.value)), 3.0, VERMILLION);
    }
    homeless
}

fn within(mark: &Mark, (from, to): (f64, f64)) -> bool {
    mark.t_s >= from && mark.t_s <= to && mark.value.abs() <= LARGEST
}

fn shade(canvas: &mut Canvas<'_>, band: &Band, view: &View) {
    let (low, high) = (band.low.max(view.value.0), band.high.min(view.value.1));
    if low < high {
        let (top, bottom) = (view.y(high), view.y(low));
        canvas.fill(&Area { top, height: bottom - top, ..view.frame }, GREEN, 0.10);
    }
    for edge in [band.low, band.high] {
        if edge > view.value.0 && edge < view.value.1 {
            canvas.dashes((view.frame.left, view.frame.right()), view.y(edge), GREEN);
        }
    }
}

fn grid(canvas: &mut Canvas<'_>, panel: &Panel, view: &View, look: &Look<'_>) {
    let frame = view.frame;
    let pen = Pen { size: TICK_SIZE, colour: INK, bold: false };
    let rows = ((frame.height / 30.0) as usize).clamp(2, 8);
    for (value, text) in readable(view.value, rows, panel.unit) {
        let y = view.y(value);
        canvas.line(&[(frame.left, y), (frame.right(), y)], FAINT, 0.8);
        if look.value_axis {
            canvas.text(&text, (frame.left - 6.0, y), pen, Align::Right);
        }
    }
    let columns = ((frame.width / 76.0) as usize).clamp(2, 10);
    for (time, text) in ticks(view.time, columns, "s") {
        let x = view.x(time);
        canvas.line(&[(x, frame.top), (x, frame.bottom())], FAINT, 0.8);
        if look.time_axis {
            canvas.line(&[(x, frame.bottom()), (x, frame.bottom() + 4.0)], GREY, 1.0);
            let half = text_width(&text, TICK_SIZE) / 2.0;
            let x = x.min(frame.right() + 14.0 - half).max(frame.left - 14.0 + half);
            canvas.text(&text, (x, frame.bottom() + 12.0), pen, Align::Centre);
        }
    }
}

fn curves(
    canvas: &mut Canvas<'_>,
    panel: &Panel,
    view: &View,
    look: &Look<'_>,
) -> Vec<Vec<(f64, f64)>> {
    let mut lines = Vec::new();
    for curve in &panel.curves {
        let (colour, width) = style(curve.role);
        for run in thin(&curve.points, view.time, look.columns) {
            let line: Vec<(f64, f64)> = run.iter().map(|&(t, v)| (view.x(t), view.y(v))).collect();
            canvas.line(&line, colour, width);
            lines.push(line);
        }
    }
    lines
}

/// Weight tells roles apart without colour.
fn style(role: Role) -> (RGBColor, f64) {
    match role {
        Role::Main => (BLUE, 1.9),
        Role::Second => (VERMILLION, 1.4),
        Role::Third => (PURPLE, 1.1),
        Role::Reference => (INK, 0.7),
    }
}

/// Name of the panel at the left; names of its curves, when there are several, at the right.
fn heading(canvas: &mut Canvas<'_>, panel: &Panel, view: &View, look: &Look<'_>) {
    const SAMPLE: f64 = 18.0;
    let y = view.frame.top - 9.0;
    let pen = Pen { size: HEADING_SIZE, colour: INK, bold: true };
    canvas.text(&look.heading, (view.frame.left, y), pen, Align::Left);
    if panel.curves.len() < 2 || look.shows == Shows::Edge {
        return;
    }
    let mut right = view.frame.right();
    let start = view.frame.left + text_width(&look.heading, HEADING_SIZE * 1.1);
    for curve in panel.curves.iter().rev() {
        let width = letters_width(&curve.name, TICK_SIZE);
        if right - width - SAMPLE < start {
            break;
        }
        let pen = Pen { size: TICK_SIZE, colour: INK, bold: false };
        canvas.text(&curve.name, (right, y), pen, Align::Right);
        let (colour, weight) = style(curve.role);
        let end = right - width - 4.0;
        canvas.line(&[(end - SAMPLE, y), (end, y)], colour, weight);
        right = end - SAMPLE - 14.0;
    }
}

/// Inside the band at an edge of it, or at an end of the panel.
fn band_label(canvas: &mut Canvas<'_>, band: &Band, view: &View, crowd: &mut Crowd) {
    if band.label.is_empty() || band.low >= view.value.1 || band.high <= view.value.0 {
        return;
    }
    let frame = view.frame;
    let width = text_width(&band.label, BAND_SIZE);
    let height = BAND_SIZE * 1.3;
    let (upper, lower) = (view.y(band.high), view.y(band.low));
    let (left, right) = (frame.left + 5.0, frame.right() - width - 5.0);
    let mut tops = [upper + 2.5, lower - height - 2.5, lower + 2.5, upper - height - 2.5];
    if band.high >= view.value.1 && band.low > view.value.0 {
        // Only the lower end is in sight: that is the one to name.
        tops.rotate_left(1);
    }
    let corners: Vec<(f64, f64)> =
        [right, left].iter().flat_map(|x| tops.iter().map(|top| (*x, *top))).collect();
    if let Some(place) = crowd.place_among(&band.label, BAND_SIZE, &corners) {
        let pen = Pen { size: BAND_SIZE, colour: RGBColor(0x00, 0x5E, 0x45), bold: false };
        let middle = place.top + place.height / 2.0;
        if place.left == right {
            canvas.text(&band.label, (place.right(), middle), pen, Align::Right);
        } else {
            canvas.text(&band.label, (place.left, middle), pen, Align::Left);
        }
    }
}

/// Writes the numbers beside their points; all pointers first, so that none crosses a text.
pub(super) fn write(canvas: &mut Canvas<'_>, placed: &[(&str, (f64, f64), Area)]) {
    const APART: f64 = 12.0;
    for (_, at, place) in placed {
        let end = nearest_point(place, *at);
        if (end.0 - at.0).hypot(end.1 - at.1) > APART {
            canvas.line(&[*at, end], GREY, 0.8);
        }
    }
    let pen = Pen { size: MARK_SIZE, colour: INK, bold: false };
    for (text, at, place) in placed {
        canvas.fill(place, PAPER, 0.85);
        let middle = place.top + place.height / 2.0;
        // The width of a text is an estimate: its surplus belongs on the side away from the point.
        if place.right() < at.0 {
            canvas.text(text, (place.right(), middle), pen, Align::Right);
        } else {
            canvas.text(text, (place.left, middle), pen, Align::Left);
        }
    }
}
