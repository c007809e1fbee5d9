//! What a field must show.

use super::{Colours, Heat, Patch, Place, Pointer, Present, heat_svg};
use crate::output::plot::chart::{Axis, Scale};

/// A bowl over two logarithmic axes with a ring as its boundary and a corner without numbers.
fn bowl() -> Heat {
    const CELLS: usize = 8;
    let place = |i: usize, j: usize| [i as f64 / CELLS as f64, j as f64 / CELLS as f64];
    let value = |[x, y]: Place| {
        let far = (x - 0.4).hypot(y - 0.5);
        (x + y < 1.8).then_some(0.01 + far * far)
    };
    let mut patches = Vec::new();
    for (i, j) in (0..CELLS).flat_map(|j| (0..CELLS).map(move |i| (i, j))) {
        let (from, to) = (place(i, j), place(i + 1, j + 1));
        let corners = [from, [to[0], from[1]], to, [from[0], to[1]]];
        patches.push(Patch { from, to, values: corners.map(value) });
    }
    let ring = |k: u32| {
        let angle = f64::from(k) * std::f64::consts::TAU / 60.0;
        [0.4 + 0.3 * angle.cos(), 0.5 + 0.3 * angle.sin()]
    };
    let axis = |label: &str, unit, range| Axis {
        label: label.to_owned(),
        unit,
        scale: Scale::Logarithmic,
        range: Some(range),
    };
    Heat {
        title: "droop over c_out and esr_out — a bowl".to_owned(),
        subtitle: "62 % of 81 places hold".to_owned(),
        caption: vec!["Calculated, not measured.".to_owned()],
        x: axis("c_out", "F", (1e-6, 47e-6)),
        y: axis("esr_out", "Ω", (2e-3, 3.0)),
        scale: Colours {
            axis: Axis { label: "droop".to_owned(), unit: "V", ..Axis::default() },
            larger_is_better: false,
            limits: vec![(0.1, "≤ 100 mV".to_owned(), true)],
        },
        patches,
        missing: vec![vec![[0.75, 0.0], [1.0, 0.0], [1.0, 1.0], [0.75, 1.0]]],
        blank: vec![vec![[0.8, 1.0], [1.0, 0.8], [1.0, 1.0]]],
        blank_text: "oscillates".to_owned(),
        boundary: vec![(0..=60).map(ring).collect()],
        boundary_text: "droop ≤ 100 mV".to_owned(),
        present: Some(Present {
            at: [0.5, 0.4],
            tolerances: Some(([0.4, 0.3], [0.6, 0.55])),
            text: "present design 20.4 mV".to_owned(),
        }),
        nearest: Some(Pointer { to: [0.7, 0.45], text: "nearest edge: c_out +23 %".to_owned() }),
    }
}

fn texts(svg: &str) -> Vec<&str> {
    let texts = svg.split("<text").skip(1);
    let inner = texts.filter_map(|t| Some(t.split_once('>')?.1.split_once("</text>")?.0.trim()));
    inner.collect()
}

/// Counts and texts of our own drawing, looked at and found good on 2026-11-26.
#[test]
fn regress_a_field_keeps_its_structure() {
    let svg = heat_svg(&bowl());
    let count = |element: &str| svg.matches(&format!("<{element} ")).count();
    let counts = ["rect", "polygon", "polyline", "circle"].map(|e| format!("{e} {}", count(e)));
    insta::assert_snapshot!(format!("{}\n{}", counts.join(", "), texts(&svg).join("\n")));
}

#[test]
fn a_field_is_small_sound_and_the_same_every_time() {
    let svg = heat_svg(&bowl());
    assert_eq!(svg, heat_svg(&bowl()));
    assert!(svg.len() < 200_000, "{} bytes", svg.len());
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
    for text in ["present design 20.4 mV", "nearest edge: c_out +23 %", "droop ≤ 100 mV"] {
        assert!(texts(&svg).contains(&text), "{text}");
    }
}

#[test]
fn a_field_of_one_value_or_none_still_is_a_picture() {
    let mut heat = bowl();
    heat.patches.iter_mut().for_each(|p| p.values = [Some(0.0); 4]);
    assert!(heat_svg(&heat).contains("present design"));
    heat.patches.iter_mut().for_each(|p| p.values = [None; 4]);
    heat.scale.limits.clear();
    let svg = heat_svg(&heat);
    assert!(svg.ends_with("</svg>\n") && !svg.contains("NaN"));
}

/// `PICTURES=DIR cargo test field_for_the_eye` writes it to look at.
#[test]
fn field_for_the_eye() {
    let svg = heat_svg(&bowl());
    assert!(svg.len() > 5_000);
    if let Some(dir) = std::env::var_os("PICTURES") {
        let written = std::fs::write(std::path::Path::new(&dir).join("heat.svg"), svg);
        assert!(written.is_ok(), "{written:?}");
    }
}
