//! Sketches held against what a curve must look like.

#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

use super::{NARROWEST, OUTPUT, ROWS, Script, sketch};
use crate::output::plot::{Band, Curve, Mark, Panel, StepPlot};

fn plot(points: &[(f64, f64)]) -> StepPlot {
    let curve = Curve { points: points.to_vec(), ..Curve::default() };
    let panel =
        Panel { label: OUTPUT.to_owned(), unit: "V", curves: vec![curve], ..Panel::default() };
    let time_range_s = (points[0].0, points[points.len() - 1].0);
    StepPlot { time_range_s, panels: vec![panel], ..StepPlot::default() }
}

/// The characters of the curve, row by row from the top.
fn field(lines: &[String], side: char) -> Vec<Vec<char>> {
    let rows: Vec<Vec<char>> = lines
        .iter()
        .filter_map(|line| line.split_once(side))
        .map(|(_, row)| row.chars().collect())
        .collect();
    assert_eq!(rows.len(), ROWS);
    rows
}

/// The levels from the bottom that are set in each dot column of a braille field.
fn levels(lines: &[String], columns: usize) -> Vec<Vec<usize>> {
    // Unicode, block U+2800: dots 1, 2, 3, 7 down the left, 4, 5, 6, 8 down the right.
    const LEFT: [u32; 4] = [0x01, 0x02, 0x04, 0x40];
    const RIGHT: [u32; 4] = [0x08, 0x10, 0x20, 0x80];
    let field = field(lines, '│');
    let mut found = Vec::new();
    for column in 0..columns {
        for dots in [LEFT, RIGHT] {
            let mut set = Vec::new();
            for (row, cells) in field.iter().enumerate() {
                let cell = cells.get(column).map_or(0, |c| (*c as u32).saturating_sub(0x2800));
                let lit = dots.iter().enumerate().filter(|(_, dot)| cell & **dot != 0);
                set.extend(lit.map(|(y, _)| 4 * ROWS - 1 - (4 * row + y)));
            }
            set.sort_unstable();
            found.push(set);
        }
    }
    found
}

#[test]
fn exact_a_ramp_climbs_one_dot_after_the_other() {
    let lines = sketch(&plot(&[(0.0, 0.0), (1.0, 1.0)]), 63, Script::Braille);
    // `1.000 V │` takes nine columns.
    let columns = 63 - 9;
    let (across, top) = (2 * columns, 4 * ROWS - 1);
    // Over the dot column k the ramp goes from k/n to (k + 1)/n; a value lies on the nearest dot.
    let dot = |k: usize| (top as f64 * k as f64 / across as f64).round() as usize;
    let wanted: Vec<Vec<usize>> = (0..across).map(|k| (dot(k)..=dot(k + 1)).collect()).collect();
    assert_eq!(levels(&lines, columns), wanted);
    for line in &lines {
        assert!(line.chars().count() <= 63, "{line}");
    }
}

#[test]
fn exact_a_step_is_two_levels_and_a_wall() {
    let step = [(0.0, 2.0), (0.5, 2.0), (0.5, 3.0), (1.0, 3.0)];
    let lines = sketch(&plot(&step), 49, Script::Ascii);
    // 40 columns: low in the first half, high in the second, the jump in the column behind the middle.
    let low = " ".repeat(20);
    let wanted = [
        "output".to_owned(),
        format!("3.000 V |{low}:{}", "'".repeat(19)),
        format!("        |{low}:"),
        format!("        |{low}:"),
        format!("        |{low}:"),
        format!("        |{low}:"),
        format!("        |{low}:"),
        format!("2.000 V |{}:", ".".repeat(20)),
        format!("        ++{}+{}+", "-".repeat(19), "-".repeat(18)),
        format!("         0 s{}500 ms{}1 s", " ".repeat(17), " ".repeat(11)),
    ];
    assert_eq!(lines, wanted);
}

#[test]
fn limits_that_are_near_are_drawn_and_far_ones_are_told() {
    let mut plot = plot(&[(0.0, 0.0), (1.0, 1.0)]);
    let band = |low, high, label: &str| Band { low, high, label: label.to_owned() };
    plot.panels[0].bands = vec![band(-0.5, 1.5, "window"), band(-9.0, 9.0, "transient window")];
    let lines = sketch(&plot, 80, Script::Braille);
    assert_eq!(
        lines[0],
        "output, window ┄ -500.0 mV .. 1.500 V, transient window -9.000 V .. 9.000 V"
    );
    let dashed: Vec<&String> = lines[1..].iter().filter(|line| line.contains('┄')).collect();
    assert_eq!(dashed.len(), 2);
    assert!(dashed[0].starts_with("  1.500 V │┄") && dashed[1].starts_with("-500.0 mV │┄"));
}

#[test]
fn marks_are_letters_beside_the_curve_and_words_above_it() {
    let mut plot = plot(&[(0.0, 1.0), (0.4, 1.0), (0.5, 0.0), (0.6, 1.0), (1.0, 1.0)]);
    let mark = |t_s, value, text: &str| Mark { t_s, value, text: text.to_owned() };
    plot.panels[0].marks = vec![mark(0.5, 0.0, "droop 1.00 V"), mark(0.5, 0.0, "again")];
    let lines = sketch(&plot, 60, Script::Ascii);
    assert_eq!(lines[0], "output; a droop 1.00 V at 500.0 ms; b again at 500.0 ms");
    let field = field(&lines, '|');
    let place = |letter| {
        let found = |row: &Vec<char>| row.iter().position(|c| *c == letter);
        field.iter().enumerate().find_map(|(y, row)| Some((y, found(row)?))).unwrap()
    };
    let (a, b) = (place('a'), place('b'));
    assert!(a != b && a.0 >= ROWS - 2 && b.0 >= ROWS - 2, "{a:?} {b:?}");
    // Half of 51 columns, and no farther aside than is said.
    assert!(a.1.abs_diff(25) <= 3 && b.1.abs_diff(25) <= 3, "{a:?} {b:?}");
}

#[test]
fn every_line_fits_whatever_the_width_and_too_little_room_shows_nothing() {
    let mut plot = plot(&[(0.0, -1.0), (3e-4, 1.0), (1e-3, 0.25)]);
    plot.panels[0].marks = vec![Mark { t_s: 3e-4, value: 1.0, text: "overshoot 1 V".to_owned() }];
    for script in [Script::Braille, Script::Ascii] {
        for columns in 0..140 {
            let lines = sketch(&plot, columns, script);
            assert_eq!(lines.is_empty(), columns < NARROWEST, "{columns}");
            assert!(lines.len() <= ROWS + 5, "{columns}");
            for line in &lines {
                assert!(line.chars().count() <= columns, "{columns}: {line}");
                assert!(script == Script::Braille || line.is_ascii(), "{line}");
            }
        }
    }
}

#[test]
fn what_cannot_be_drawn_is_left_out() {
    assert!(sketch(&StepPlot::default(), 80, Script::Braille).is_empty());
    assert!(sketch(&plot(&[(0.0, f64::NAN), (1.0, f64::NAN)]), 80, Script::Ascii).is_empty());
    assert!(sketch(&plot(&[(0.0, 1.0), (0.0, 2.0)]), 80, Script::Ascii).is_empty());
    // A level is a line.
    let flat = sketch(&plot(&[(0.0, 1.0), (1.0, 1.0)]), 80, Script::Ascii);
    assert!(flat.iter().any(|line| line.ends_with(&"'".repeat(50))), "{flat:?}");
}
