//! No data may break a chart: whatever the numbers, it stays a page of numbers.

use proptest::prelude::{Just, Strategy, any, prop, prop_oneof, proptest};

use super::svg::Drawing;
use crate::output::plot::chart::{
    Axis, Chart, Direction, Emphasis, Level, Mark, Mask, Panel, Scale, Side, Style, Trace,
    chart_svg,
};

fn value() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -10.0..10.0f64,
        2 => (-31.0..31.0f64).prop_map(|exponent| 10f64.powf(exponent)),
        1 => any::<f64>(),
        1 => prop_oneof![
            Just(0.0), Just(f64::NAN), Just(f64::INFINITY), Just(f64::NEG_INFINITY),
            Just(f64::MIN_POSITIVE), Just(f64::MAX), Just(1.0), Just(1.0 + f64::EPSILON),
        ],
    ]
}

fn points() -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((value(), value()), 0..12)
}

fn axis() -> impl Strategy<Value = Axis> {
    let unit = prop_oneof![Just("V"), Just("1"), Just("deg"), Just("dB"), Just(""), Just("V/√Hz")];
    (unit, any::<bool>(), prop::option::of((value(), value()))).prop_map(|(unit, log, range)| {
        Axis {
            label: "axis".to_owned(),
            unit,
            scale: if log { Scale::Logarithmic } else { Scale::Linear },
            range,
        }
    })
}

fn panel() -> impl Strategy<Value = Panel> {
    let traces = prop::collection::vec(points(), 0..4);
    let masks = prop::collection::vec((points(), any::<bool>()), 0..3);
    let lines = prop::collection::vec((value(), any::<bool>()), 0..3);
    (axis(), traces, masks, lines, points()).prop_map(|(y, traces, masks, lines, marks)| Panel {
        y,
        curves: traces
            .into_iter()
            .enumerate()
            .map(|(i, points)| Trace {
                label: format!("curve {i}"),
                points,
                style: Style::Dashed,
                emphasis: Emphasis::Usual,
            })
            .collect(),
        masks: masks
            .into_iter()
            .map(|(points, below)| Mask {
                points,
                forbidden: if below { Side::Below } else { Side::Above },
                label: "mask".to_owned(),
            })
            .collect(),
        lines: lines
            .into_iter()
            .map(|(at, up)| Level {
                at,
                label: "line".to_owned(),
                direction: if up { Direction::Vertical } else { Direction::Horizontal },
            })
            .collect(),
        marks: marks
            .into_iter()
            .map(|(x, y)| Mark {
                x,
                y,
                text: "mark".to_owned(),
                of: "curve 0".to_owned(),
                ..Mark::default()
            })
            .collect(),
    })
}

proptest! {
    #[test]
    fn any_numbers_make_a_sound_page(
        x in axis(),
        panels in prop::collection::vec(panel(), 0..4),
        square in any::<bool>(),
    ) {
        let chart = Chart { x, panels, square, ..Chart::default() };
        Drawing::read(&chart_svg(&chart)).assert_sound("any numbers");
    }
}

#[test]
fn an_empty_chart_is_still_a_page() {
    let svg = chart_svg(&Chart::default());
    assert!(svg.starts_with("<svg width=\"900\"") && svg.trim_end().ends_with("</svg>"));
    let chart = Chart { panels: vec![Panel::default()], square: true, ..Chart::default() };
    let svg = chart_svg(&chart);
    assert!(svg.contains("no values"));
    Drawing::read(&svg).assert_sound("one empty panel");
}

#[test]
fn labels_without_values_say_so() {
    let undefined = Trace {
        label: "1 mA".to_owned(),
        points: vec![(1.0, f64::NAN), (f64::INFINITY, 2.0)],
        ..Trace::default()
    };
    let chart = Chart {
        panels: vec![Panel { curves: vec![undefined], ..Panel::default() }],
        ..Chart::default()
    };
    assert!(chart_svg(&chart).contains("1 mA (no values)"));
}
