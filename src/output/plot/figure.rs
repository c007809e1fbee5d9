//! The whole figure: title and verdict, full record, magnified edges, conditions.

use super::canvas::{Area, Canvas, page};
use super::heading::{CAPTION_AIR, CAPTION_LINE, caption_columns, captions, titles};
use super::panel::{Look, Shows, View, draw, value_range};
use super::ticks::LARGEST;
use super::{Panel, StepPlot, Zoom};
use crate::output::number::engineering;
use crate::output::wrap::wrap;

const WIDTH: f64 = 900.0;
/// Grows when there is more to show.
const USUAL_HEIGHT: f64 = 700.0;
const LEFT: f64 = 76.0;
const RIGHT: f64 = 876.0;

/// Over each frame, for its heading.
const HEADING: f64 = 20.0;
/// Under a frame with times.
const TIME_AXIS: f64 = 24.0;
/// Under a frame without.
const GAP: f64 = 4.0;
const LEAST_PANEL: f64 = 48.0;
const LEAST_ZOOM: f64 = 120.0;
const ZOOMS_ABREAST: usize = 3;
const BETWEEN_ZOOMS: f64 = 36.0;

/// Points in the whole figure at which curves begin to be thinned: at about ten bytes a point
/// a file stays below 200 KB.
const POINTS: usize = 14_000;

/// The figure as an SVG document.
///
/// Points, bands and marks that are not finite are left out; a time range that is none becomes
/// that of the data.
pub fn step_svg(plot: &StepPlot) -> String {
    let time = time_range(plot);
    page(WIDTH, &plot.title, &description(plot), |canvas| {
        let top = titles(canvas, &plot.title, &plot.subtitle, WIDTH);
        let mut caption: Vec<String> = plot.caption.iter().flat_map(|line| lines(line)).collect();
        let layout = Layout::new(plot, time, top, caption.len());
        let mut homeless = Vec::new();
        let top = full_record(canvas, plot, &layout, top, &mut homeless);
        let top = magnified(canvas, plot, &layout, top, &mut homeless);
        if !homeless.is_empty() {
            caption.extend(lines(&format!("also measured: {}", homeless.join(", "))));
        }
        captions(canvas, &caption, top).max(USUAL_HEIGHT)
    })
}

fn lines(text: &str) -> Vec<String> {
    wrap(text, caption_columns(text, WIDTH))
}

/// What a screen reader tells: verdict, conditions, and every number with its place.
fn description(plot: &StepPlot) -> String {
    let mut parts = vec![plot.subtitle.clone()];
    parts.extend(plot.caption.iter().cloned());
    for panel in &plot.panels {
        for mark in panel.marks.iter().filter(|m| !m.text.is_empty()) {
            let at = engineering(mark.t_s, "s", 4);
            parts.push(format!("{}: {} at {at}", panel.label, mark.text));
        }
    }
    parts.retain(|part| !part.is_empty());
    parts.join("; ")
}

fn time_range(plot: &StepPlot) -> (f64, f64) {
    let usable = |(from, to): (f64, f64)| from.abs() <= LARGEST && to.abs() <= LARGEST && from < to;
    if usable(plot.time_range_s) {
        return plot.time_range_s;
    }
    let times = plot.panels.iter().flat_map(|p| &p.curves).flat_map(|c| &c.points).map(|p| p.0);
    let found = times
        .filter(|t| t.abs() <= LARGEST)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| (low.min(t), high.max(t)));
    if usable(found) { found } else { (0.0, 1.0) }
}

/// Heights and windows, decided before anything is drawn.
struct Layout<'a> {
    time: (f64, f64),
    panel_heights: Vec<f64>,
    zooms: Vec<&'a Zoom>,
    zoom_height: f64,
    zoom_width: f64,
    columns: usize,
}

impl<'a> Layout<'a> {
    fn new(plot: &'a StepPlot, time: (f64, f64), top: f64, caption_lines: usize) -> Self {
        let zooms: Vec<&Zoom> = plot
            .zooms
            .iter()
            .filter(|z| z.from_s.abs() <= LARGEST && z.to_s.abs() <= LARGEST && z.from_s < z.to_s)
            .collect();
        let zoomed = plot.panels.iter().filter(|p| p.zoomed);
        let rows = zoomed.clone().count() * zooms.len().div_ceil(ZOOMS_ABREAST);
        let full = plot.panels.len();
        let fixed = full as f64 * (HEADING + GAP) + rows as f64 * (HEADING + TIME_AXIS) + TIME_AXIS;
        let caption = CAPTION_LINE * caption_lines as f64 + CAPTION_AIR;
        let free = (USUAL_HEIGHT - top - fixed - caption).max(0.0);
        let for_full = if rows == 0 { free } else { free * 0.52 };
        let share = |panel: &Panel| {
            if panel.height_share > 0.0 { panel.height_share.min(1e3) } else { 1.0 }
        };
        let shares: f64 = plot.panels.iter().map(share).sum();
        let panel_heights =
            plot.panels.iter().map(|p| (for_full * share(p) / shares).max(LEAST_PANEL)).collect();
        let zoom_height = ((free - for_full) / rows.max(1) as f64).max(LEAST_ZOOM);
        let curves: usize = plot.panels.iter().map(|p| p.curves.len()).sum();
        let again: usize = zoomed.map(|p| p.curves.len() * zooms.len()).sum();
        let columns = (POINTS / 4 / (curves + again).max(1)).clamp(60, 800);
        let abreast = zooms.len().clamp(1, ZOOMS_ABREAST) as f64;
        let zoom_width = (RIGHT - LEFT - BETWEEN_ZOOMS * (abreast - 1.0)) / abreast;
        Self { time, panel_heights, zooms, zoom_height, zoom_width, columns }
    }
}

fn full_record(
    canvas: &mut Canvas<'_>,
    plot: &StepPlot,
    layout: &Layout<'_>,
    mut top: f64,
    homeless: &mut Vec<String>,
) -> f64 {
    let windows: Vec<(f64, f64)> = layout.zooms.iter().map(|z| (z.from_s, z.to_s)).collect();
    let last = plot.panels.len().saturating_sub(1);
    for (index, (panel, height)) in plot.panels.iter().zip(&layout.panel_heights).enumerate() {
        top += HEADING;
        let view = View {
            frame: Area { left: LEFT, top, width: RIGHT - LEFT, height: *height },
            time: layout.time,
            value: value_range(panel, &[layout.time], 0.12),
        };
        let look = Look {
            heading: panel.label.clone(),
            time_axis: index == last,
            value_axis: true,
            shows: Shows::Record,
            elsewhere: if panel.zoomed { &windows } else { &[] },
            width_elsewhere: layout.zoom_width,
            columns: layout.columns,
        };
        homeless.extend(draw(canvas, panel, &view, &look));
        top += height + if index == last { TIME_AXIS } else { GAP };
    }
    top
}

fn magnified(
    canvas: &mut Canvas<'_>,
    plot: &StepPlot,
    layout: &Layout<'_>,
    mut top: f64,
    homeless: &mut Vec<String>,
) -> f64 {
    let windows: Vec<(f64, f64)> = layout.zooms.iter().map(|z| (z.from_s, z.to_s)).collect();
    for panel in plot.panels.iter().filter(|p| p.zoomed) {
        // One range for all, so that the edges can be compared.
        let value = value_range(panel, &windows, 0.6);
        for row in layout.zooms.chunks(ZOOMS_ABREAST) {
            top += HEADING;
            let width = layout.zoom_width;
            for (index, zoom) in row.iter().enumerate() {
                let left = LEFT + index as f64 * (width + BETWEEN_ZOOMS);
                let view = View {
                    frame: Area { left, top, width, height: layout.zoom_height },
                    time: (zoom.from_s, zoom.to_s),
                    value,
                };
                let look = Look {
                    heading: format!("{}: {}", panel.label, zoom.label),
                    time_axis: true,
                    value_axis: index == 0,
                    shows: Shows::Edge,
                    elsewhere: &[],
                    width_elsewhere: layout.zoom_width,
                    columns: layout.columns,
                };
                homeless.extend(draw(canvas, panel, &view, &look));
            }
            top += layout.zoom_height + TIME_AXIS;
        }
    }
    top
}
