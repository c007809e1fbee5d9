//! What a chart must show, whatever the data.

#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

mod robust;
mod samples;
mod svg;

use super::{Axis, Chart, Mark, Panel, Scale, Style, Trace, chart_svg};
use insta::assert_snapshot;
use svg::Drawing;

fn everything() -> Vec<(&'static str, Chart)> {
    let mut charts = samples::all().to_vec();
    charts.extend([("many", samples::many()), ("poor", samples::poor())]);
    charts
}

/// `PICTURES=DIR cargo test charts_for_the_eye` writes the charts to look at.
#[test]
fn charts_for_the_eye() {
    for (name, chart) in everything() {
        let svg = chart_svg(&chart);
        assert!(svg.len() > 5_000, "{name}");
        if let Some(dir) = std::env::var_os("PICTURES") {
            std::fs::write(std::path::Path::new(&dir).join(format!("{name}.svg")), svg).unwrap();
        }
    }
}

/// Counts and texts of our own drawings, looked at and found good on 2026-11-25.
#[test]
fn regress_every_chart_keeps_its_structure() {
    for (name, chart) in everything() {
        assert_snapshot!(name, Drawing::read(&chart_svg(&chart)).outline());
    }
}

#[test]
fn everything_stays_on_the_page_and_is_a_number() {
    for (name, chart) in everything() {
        Drawing::read(&chart_svg(&chart)).assert_sound(name);
    }
}

#[test]
fn the_same_chart_gives_the_same_bytes() {
    for (name, chart) in everything() {
        assert_eq!(chart_svg(&chart), chart_svg(&chart.clone()), "{name}");
    }
}

#[test]
fn a_small_file_tells_itself_to_screen_readers() {
    let svg = chart_svg(&samples::bode());
    assert!(svg.len() < 60_000, "{} bytes", svg.len());
    assert!(svg.contains("<title>loop gain — Tide-buoy radio rail"));
    assert!(svg.contains("phase: 60.6° at 1077 kHz"));
    assert!(svg.trim_end().ends_with("</svg>") && svg.matches("<svg").count() == 1);
}

#[test]
fn texts_are_escaped_and_printable() {
    let mut chart = samples::impedance();
    let bad = "<b>&\u{1}\u{202e}";
    chart.title = bad.to_owned();
    chart.subtitle = bad.to_owned();
    chart.caption = vec![bad.to_owned()];
    chart.x.label = bad.to_owned();
    chart.styles = vec![(Style::Dotted, bad.to_owned())];
    let panel = &mut chart.panels[0];
    panel.y.label = bad.to_owned();
    panel.masks[0].label = bad.to_owned();
    panel.curves[0].label = bad.to_owned();
    panel.marks[0].text = bad.to_owned();
    let svg = chart_svg(&chart);
    assert!(!svg.contains("<b>") && !svg.contains('\u{1}') && !svg.contains('\u{202e}'));
    assert!(svg.matches("&lt;b&gt;&amp;\u{fffd}\u{fffd}").count() >= 9);
}

#[test]
fn long_texts_are_shortened_or_wrapped_and_never_leave_the_page() {
    for word in ["WIDE ", "mmmmmmmmmm", "ill, ", "幅の広い文字", "x"] {
        let long = word.repeat(400 / word.chars().count());
        let mut chart = samples::bode();
        chart.title = long.clone();
        chart.subtitle = long.clone();
        chart.caption = vec![long.clone()];
        chart.x.label = long.clone();
        for panel in &mut chart.panels {
            panel.y.label = long.clone();
            panel.curves[0].label = long.clone();
            panel.lines[0].label = long.clone();
            panel.marks[0].text = long.clone();
        }
        let drawing = Drawing::read(&chart_svg(&chart));
        drawing.assert_sound(word);
        assert!(drawing.texts.iter().any(|text| text.words.starts_with("also:")));
    }
}

#[test]
fn the_legend_stands_above_all_curves() {
    for (name, chart) in everything() {
        let drawing = Drawing::read(&chart_svg(&chart));
        let top_of_frames = drawing.frames.iter().map(|f| f.1).fold(f64::INFINITY, f64::min);
        let labels = chart.panels.iter().flat_map(|p| &p.curves).map(|c| c.label.as_str());
        for label in labels {
            let entry = drawing.texts.iter().find(|text| text.words.starts_with(label)).unwrap();
            assert!(entry.y < top_of_frames, "{name}: {label}");
        }
    }
}

#[test]
fn marks_without_room_or_outside_are_told_below() {
    let mut chart = samples::headroom();
    chart.panels[0].marks = (0..400)
        .map(|i| Mark {
            x: 0.4,
            y: 30.0,
            text: format!("number {i} of very many"),
            ..Mark::default()
        })
        .collect();
    chart.panels[0].marks.push(Mark {
        x: 0.4,
        y: f64::NAN,
        text: "unknown".to_owned(),
        ..Mark::default()
    });
    let drawing = Drawing::read(&chart_svg(&chart));
    drawing.assert_sound("crowded");
    let all: Vec<&str> = drawing.texts.iter().map(|text| text.words.as_str()).collect();
    let all = all.join(" ");
    assert!(all.contains("also: number") && all.contains("unknown"));
    assert!((0..400).all(|i| all.contains(&format!("number {i} of"))));
}

#[test]
fn a_circle_is_as_wide_as_high_in_a_square_chart() {
    let drawing = Drawing::read(&chart_svg(&samples::nyquist()));
    let circle = drawing.lines.iter().find(|line| line.dashed && line.points.len() > 100).unwrap();
    let extent = |values: Vec<f64>| {
        let (low, high) = values
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
        high - low
    };
    let width = extent(circle.points.iter().map(|p| p.0).collect());
    let height = extent(circle.points.iter().map(|p| p.1).collect());
    // Coordinates are whole eighths of a pixel.
    assert!(width > 50.0 && (width - height).abs() <= 0.25, "{width} × {height}");
    assert_eq!(circle.points.first(), circle.points.last());
}

#[test]
fn exact_straight_lines_of_a_mask_are_straight_in_log_log() {
    let chart = samples::impedance();
    let drawing = Drawing::read(&chart_svg(&chart));
    let mask = drawing.lines.iter().find(|line| line.colour == "#8A3B00").unwrap();
    // Frame end, 10 Hz, 10 kHz, 100 kHz, 2 MHz, frame end: decades are equally long.
    let xs: Vec<f64> = mask.points.iter().map(|p| p.0).collect();
    let frame = drawing.frames[0];
    let decade = frame.2 / 7.0;
    for (x, decades) in xs.iter().zip([0.0, 3.0, 4.0, 5.0 + 2f64.log10(), 7.0]) {
        assert!((x - frame.0 - decades * decade).abs() <= 0.125, "{x} {decades}");
    }
    assert_eq!(mask.points.len(), 5);
    assert_eq!(drawing.polygons, 1);
}

#[test]
fn a_range_of_the_axis_cuts_curves_at_the_frame() {
    let points = (0..=100).map(|i| f64::from(i) / 10.0).map(|x| (x, x * x)).collect();
    let range = Some((1.0, 4.0));
    let chart = Chart {
        x: Axis { range: Some((0.0, 10.0)), ..Axis::default() },
        panels: vec![Panel {
            y: Axis { scale: Scale::Linear, range, ..Axis::default() },
            curves: vec![Trace { points, ..Trace::default() }],
            ..Panel::default()
        }],
        ..Chart::default()
    };
    let drawing = Drawing::read(&chart_svg(&chart));
    let frame = drawing.frames[0];
    let curve = drawing.lines.iter().find(|line| line.colour == "#0072B2").unwrap();
    let (first, last) = (curve.points[0], *curve.points.last().unwrap());
    let near = |at: (f64, f64), x: f64, y: f64| {
        (at.0 - (frame.0 + x / 10.0 * frame.2)).abs() <= 0.125 && (at.1 - y).abs() <= 0.125
    };
    assert!(near(first, 1.0, frame.1 + frame.3) && near(last, 2.0, frame.1), "{first:?} {last:?}");
}
