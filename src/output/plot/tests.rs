//! What the figure must show, whatever the data.

#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

use super::{Band, Curve, Mark, Panel, Role, StepPlot, Zoom, step_svg};

/// A 2.80 V rail under a burst of 178 mA: 20 mV droop at once, a damped return, the same upwards
/// at the release.
pub(super) fn burst() -> StepPlot {
    let (on, off, end) = (60e-6, 660e-6, 1.06e-3);
    let shape = |since: f64| {
        if since < 0.0 {
            0.0
        } else {
            let rise = (since / 0.9e-6).min(1.0);
            rise * (-since / 4.5e-6).exp() * (since * 0.32e6).cos()
        }
    };
    let load = |t: f64| {
        let on_share = ((t - on) / 100e-9).clamp(0.0, 1.0);
        let off_share = ((t - off) / 100e-9).clamp(0.0, 1.0);
        0.002 + 0.178 * (on_share - off_share)
    };
    let output = |t: f64| {
        2.799 - 0.0245 * shape(t - on) + 0.0245 * shape(t - off)
            - 0.0008 * (load(t) - 0.002) / 0.178
    };
    let input = |t: f64| 3.7 - 0.16 * load(t) - 0.02 * shape(t - on) + 0.02 * shape(t - off);
    let mut times: Vec<f64> = (0..400).map(|i| end * f64::from(i) / 399.0).collect();
    for edge in [on, off] {
        times.extend((0..600).map(|i| edge - 1e-6 + 50e-9 * f64::from(i)));
    }
    times.sort_by(f64::total_cmp);
    let curve = |name: &str, role, f: &dyn Fn(f64) -> f64| Curve {
        name: name.to_owned(),
        points: times.iter().map(|&t| (t, f(t))).collect(),
        role,
    };
    let mark = |t_s: f64, text: &str| Mark { t_s, value: output(t_s), text: text.to_owned() };
    StepPlot {
        title: "Tide-buoy radio rail: 2.80 V from one lithium-ion cell — transmit burst".to_owned(),
        subtitle: "pass: droop 20.4 mV of ≤ 30 mV (margin 32 %), recovery 14.2 µs of ≤ 20 µs (margin 29 %)".to_owned(),
        caption: vec![
            "BT1 3.70 V, load 2 mA to 180 mA and back, edge 100 ns, 25 °C, C_OUT 4.7 µF × 62 %, ESR 6 mΩ, ESL 0.6 nH".to_owned(),
            "recovery: last entry into ±0.5 % about the settled level. Nominal values only; calculated, not measured.".to_owned(),
        ],
        time_range_s: (0.0, end),
        panels: vec![
            Panel { label: "load current I_RADIO".to_owned(), unit: "A", curves: vec![curve("I_RADIO", Role::Main, &load)], height_share: 1.0, ..Panel::default() },
            Panel {
                label: "output vout".to_owned(),
                unit: "V",
                curves: vec![curve("vout", Role::Main, &output)],
                bands: vec![Band { low: 2.744, high: 2.856, label: "window ± 2 %".to_owned() }],
                marks: vec![
                    mark(60.9e-6, "droop 20.4 mV"),
                    mark(69.0e-6, "ring-back 4.2 mV"),
                    mark(74.2e-6, "recovery 14.2 µs (± 0.5 %)"),
                    mark(600e-6, "loaded level 2.798 V"),
                    mark(660.9e-6, "overshoot 21.1 mV"),
                    mark(674.9e-6, "release recovery 14.9 µs"),
                ],
                height_share: 2.0,
                zoomed: true,
            },
            Panel {
                label: "input vin and cell".to_owned(),
                unit: "V",
                curves: vec![curve("vin", Role::Main, &input), curve("cell", Role::Second, &|_| 3.7)],
                height_share: 1.0,
                ..Panel::default()
            },
        ],
        zooms: vec![
            Zoom { from_s: on - 1e-6, to_s: on + 20e-6, label: "loading edge".to_owned() },
            Zoom { from_s: off - 1e-6, to_s: off + 20e-6, label: "releasing edge".to_owned() },
        ],
    }
}

/// Texts of all elements of one kind.
fn texts(svg: &str) -> Vec<&str> {
    svg.split("<text")
        .skip(1)
        .filter_map(|t| t.split('>').nth(1)?.split("\n</text").next())
        .map(str::trim)
        .collect()
}

/// All coordinates of all lines, in units of the drawing.
fn polylines(svg: &str) -> Vec<Vec<(i32, i32)>> {
    let number = |n: &str| n.parse::<i32>().unwrap();
    svg.split("<polyline")
        .skip(1)
        .filter_map(|t| t.split("points=\"").nth(1)?.split('"').next())
        .map(|points| {
            points
                .split_whitespace()
                .map(|p| p.split_once(',').map(|(x, y)| (number(x), number(y))).unwrap())
                .collect()
        })
        .collect()
}

#[test]
fn the_figure_shows_numbers_bands_conditions_and_axes_with_units() {
    let svg = step_svg(&burst());
    let texts = texts(&svg);
    for wanted in [
        "droop 20.4 mV",
        "overshoot 21.1 mV",
        "loaded level 2.798 V",
        "window ± 2 %",
        "output vout: loading edge",
        "output vout: releasing edge",
        "load current I_RADIO",
        "200 mA",
        "2.80 V",
        "0.4 ms",
        "60 µs",
        "cell",
    ] {
        assert!(texts.contains(&wanted), "no `{wanted}` among {texts:?}");
    }
    assert!(texts.iter().any(|t| t.contains("calculated, not measured")));
    // A number is written once: in the magnified window when there is one, else in the record.
    assert_eq!(texts.iter().filter(|t| **t == "droop 20.4 mV").count(), 1);
    assert!(svg.contains("#009E73"), "the band is shaded");
}

#[test]
fn the_page_is_900_by_700_and_tells_itself_to_screen_readers() {
    let svg = step_svg(&burst());
    assert!(svg.starts_with("<svg width=\"900\" height=\"700\" viewBox=\"0 0 7200 5600\""));
    assert!(svg.trim_end().ends_with("</svg>"));
    assert!(svg.contains("<title>Tide-buoy radio rail"));
    assert!(svg.contains("output vout: droop 20.4 mV at 60.90 µs"));
    assert_eq!(svg.matches("<svg").count(), 1);
}

#[test]
fn every_line_stays_on_the_page() {
    for line in polylines(&step_svg(&burst())) {
        assert!(line.iter().all(|&(x, y)| (0..=7200).contains(&x) && (0..=5600).contains(&y)));
    }
}

#[test]
fn texts_from_the_file_are_escaped() {
    let mut plot = burst();
    plot.title = "<script>alert(1)</script> & \u{1}\"more\"".to_owned();
    plot.caption = vec!["a < b && c > d".to_owned()];
    plot.panels[1].marks[0].text = "</text><b>".to_owned();
    let svg = step_svg(&plot);
    assert!(!svg.contains("<script") && !svg.contains("<b>") && !svg.contains('\u{1}'));
    assert!(svg.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp;"));
    assert!(svg.contains("a &lt; b &amp;&amp; c &gt; d"));
}

#[test]
fn data_that_are_no_numbers_leave_no_trace() {
    let mut plot = burst();
    plot.panels[1].curves[0].points[100].1 = f64::NAN;
    plot.panels[1].curves[0].points[200] = (f64::INFINITY, f64::NEG_INFINITY);
    plot.panels[1].marks[0].value = f64::NAN;
    plot.panels[1].bands[0].low = f64::NEG_INFINITY;
    plot.panels[0].height_share = f64::NAN;
    plot.panels[2].curves[1].points = vec![(0.0, 1e300), (1.0, -1e300)];
    plot.zooms[0].from_s = f64::NAN;
    plot.time_range_s = (f64::NAN, f64::NAN);
    let svg = step_svg(&plot);
    assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    assert!(texts(&svg).contains(&"overshoot 21.1 mV"));
}

#[test]
fn an_empty_figure_is_still_a_page() {
    let svg = step_svg(&StepPlot::default());
    assert!(
        svg.starts_with("<svg width=\"900\" height=\"700\"") && svg.trim_end().ends_with("</svg>")
    );
    let panel = Panel { curves: vec![Curve::default()], zoomed: true, ..Panel::default() };
    let zooms = vec![Zoom { from_s: 0.0, to_s: 1.0, label: String::new() }];
    let svg = step_svg(&StepPlot { panels: vec![panel], zooms, ..StepPlot::default() });
    assert!(!svg.contains("NaN"));
}

/// A long noisy record with one spike, many numbers at one place, and long texts.
pub(super) fn crowded() -> StepPlot {
    let mut plot = burst();
    let count = 200_000;
    let noise = |i: u32| f64::from(i.wrapping_mul(2_654_435_761) >> 16) / 65_536.0 - 0.5;
    for panel in &mut plot.panels {
        for curve in &mut panel.curves {
            curve.points = (0..count)
                .map(|i| (1.06e-3 * f64::from(i) / f64::from(count), 2.8 + 0.004 * noise(i)))
                .collect();
            curve.points[123_456].1 = 2.9;
        }
    }
    plot.title =
        format!("{} and a title that goes on and on until it can only be shortened", plot.title);
    plot.title = format!("{} {}", plot.title, plot.title);
    let texts =
        ["droop 20.4 mV", "ring-back 4.2 mV", "recovery 14.2 µs (± 0.5 %)", "lowest 2.779 V"];
    plot.panels[1].marks =
        (0..14).map(|i| Mark { t_s: 62e-6, value: 2.8, text: texts[i % 4].to_owned() }).collect();
    plot
}

#[test]
fn a_long_record_stays_small_and_keeps_its_spike() {
    let plot = crowded();
    let svg = step_svg(&plot);
    assert!(svg.len() < 200_000, "{} bytes", svg.len());
    // Two full records of one curve each and one of two: the spike is the top of each line, far
    // above the rest of it.
    let tall = polylines(&svg)
        .into_iter()
        .filter(|line| line.len() > 100)
        .filter(|line| {
            let mut heights: Vec<i32> = line.iter().map(|p| p.1).collect();
            heights.sort_unstable();
            heights[1] - heights[0] > 10 * (heights[heights.len() - 1] - heights[1])
        })
        .count();
    assert_eq!(tall, 4);
}

#[test]
fn numbers_without_room_go_into_the_caption() {
    let mut plot = burst();
    plot.panels[1].marks = (0..90)
        .map(|i| Mark { t_s: 62e-6, value: 2.8, text: format!("number {i} of very many") })
        .collect();
    let svg = step_svg(&plot);
    let caption = texts(&svg).join(" ");
    for i in 0..90 {
        assert!(caption.contains(&format!("number {i} of")), "{i}");
    }
    assert!(caption.contains("also measured: number"));
}

/// An oscillating core rail at 1.2 A with five panels, three windows and a trace to compare with.
fn ringing() -> StepPlot {
    let times: Vec<f64> = (0..6000).map(|i| 2e-3 * f64::from(i) / 5999.0).collect();
    let on = |t: f64| if (0.5e-3..1.5e-3).contains(&t) { 1.0 } else { 0.0 };
    let ring = |t: f64| on(t) * 0.011 * (1.0 - (-(t - 0.5e-3) / 1e-4).exp()) * (t * 2.0e5).sin();
    let curve = |name: &str, role, f: &dyn Fn(f64) -> f64| Curve {
        name: name.to_owned(),
        points: times.iter().map(|&t| (t, f(t))).collect(),
        role,
    };
    let panel = |label: &str, unit, curves, zoomed| Panel {
        label: label.to_owned(),
        unit,
        curves,
        zoomed,
        height_share: 1.0,
        ..Panel::default()
    };
    let mut output = panel(
        "output core",
        "V",
        vec![
            curve("core", Role::Main, &|t| 0.9 - 0.004 * on(t) + ring(t)),
            curve("measured", Role::Reference, &|t| 0.9005 - 0.0045 * on(t) + 0.9 * ring(t - 2e-6)),
        ],
        true,
    );
    output.height_share = 1.6;
    output.bands = vec![
        Band { low: 0.873, high: 0.927, label: "window ± 3 %".to_owned() },
        Band { low: 0.885, high: f64::INFINITY, label: "droop limit 15 mV".to_owned() },
    ];
    output.marks = vec![
        Mark {
            t_s: 1.1e-3,
            value: 0.885,
            text: "oscillates: 22 mV peak to peak at 31.8 kHz".to_owned(),
        },
        Mark { t_s: 1.484_8e-3, value: 0.8851, text: "droop 14.9 mV".to_owned() },
    ];
    StepPlot {
        title: "Core rail".to_owned(),
        subtitle: "fail: the rail oscillates, 22 mV peak to peak at 31.8 kHz".to_owned(),
        caption: vec!["supply 1.20 V, load 20 mA to 1.2 A and back in 50 ns, 60 °C".to_owned()],
        time_range_s: (0.0, 2e-3),
        panels: vec![
            panel("load", "A", vec![curve("load", Role::Main, &|t| 0.02 + 1.18 * on(t))], false),
            output,
            panel(
                "gate",
                "V",
                vec![curve("gate", Role::Main, &|t| 1.8 + 0.6 * on(t) + 9.0 * ring(t))],
                false,
            ),
            panel(
                "pass power",
                "W",
                vec![curve("Q1", Role::Third, &|t| 0.006 + 0.36 * on(t))],
                false,
            ),
            panel("efficiency", "1", vec![curve("e", Role::Main, &|t| 0.7 + 0.05 * on(t))], false),
        ],
        zooms: [(0.49e-3, 0.6e-3, "on"), (1.05e-3, 1.15e-3, "ringing"), (1.45e-3, 1.6e-3, "off")]
            .map(|(from_s, to_s, label)| Zoom { from_s, to_s, label: label.to_owned() })
            .to_vec(),
    }
}

/// `PICTURES=DIR cargo test pictures_for_the_eye` writes the figures to look at.
#[test]
fn pictures_for_the_eye() {
    let figures = [
        ("burst", burst()),
        ("record", StepPlot { zooms: Vec::new(), ..burst() }),
        ("crowded", crowded()),
        ("ringing", ringing()),
    ];
    for (name, plot) in figures {
        let svg = step_svg(&plot);
        assert!(svg.len() > 10_000, "{name}");
        if let Some(dir) = std::env::var_os("PICTURES") {
            std::fs::write(std::path::Path::new(&dir).join(format!("{name}.svg")), svg).unwrap();
        }
    }
}
