//! The output of a test as a few lines of characters, for a terminal: curve, limits, marks, time.
//!
//! Pure: whether there is a terminal, how wide it is and what it can show is decided by the caller.

mod axes;
mod canvas;
#[cfg(test)]
mod tests;

use super::figure::OUTPUT;
use super::number::engineering;
use super::plot::{Mark, Panel, StepPlot};
use super::wrap::wrap;
use axes::{time_lines, value_labels};
use canvas::{Canvas, Frame};

/// Fewer columns show nothing.
pub const NARROWEST: usize = 40;
/// Rows of the curve itself.
const ROWS: usize = 7;
/// Digits of values beside the curve and in its caption.
const DIGITS: usize = 4;
/// A limit is drawn if with it the values shown are at most so many times those of the curve.
const MOST_AIR: f64 = 3.0;
/// A curve that spans less than this share of its size is drawn as flat.
const FLAT: f64 = 1e-6;
/// Marks stand in the picture as letters, told in the caption; further ones are left out.
const LETTERS: [char; 6] = ['a', 'b', 'c', 'd', 'e', 'f'];

/// Marks of these words say when, not how far: a letter close to another would tell nothing.
const IN_THE_TABLE: [&str; 2] = ["recover", "settling"];

/// The characters to draw with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Script {
    /// Eight dots a character, where all of Unicode is shown.
    Braille,
    /// Two heights a character, of the characters that any terminal has.
    Ascii,
}

/// The output of a figure in lines of at most `columns` characters; none where there are fewer than
/// [`NARROWEST`] or nothing to draw.
pub fn sketch(plot: &StepPlot, columns: usize, script: Script) -> Vec<String> {
    let output = plot.panels.iter().find(|panel| panel.label == OUTPUT);
    output.map_or_else(Vec::new, |panel| draw(panel, plot.time_range_s, columns, script))
}

fn draw(panel: &Panel, (from, to): (f64, f64), columns: usize, script: Script) -> Vec<String> {
    let points: Vec<(f64, f64)> = panel.curves.first().map_or_else(Vec::new, |curve| {
        let shown = |p: &&(f64, f64)| (from..=to).contains(&p.0) && p.1.is_finite();
        curve.points.iter().filter(shown).copied().collect()
    });
    if columns < NARROWEST || points.len() < 2 || to <= from {
        return Vec::new();
    }
    let shown = Shown::of(panel, &points);
    let labels = value_labels(&shown, panel.unit, ROWS);
    let width = labels.iter().map(|label| label.chars().count()).max().unwrap_or(0);
    let frame = Frame {
        columns: columns - width - 2,
        rows: ROWS,
        time_s: (from, to),
        value: shown.range,
        script,
    };
    let mut canvas = Canvas::new(frame);
    canvas.curve(&points);
    for limit in &shown.limits {
        canvas.level(*limit);
    }
    let is_shown = |mark: &&Mark| {
        (from..=to).contains(&mark.t_s) && !IN_THE_TABLE.iter().any(|word| mark.text.contains(word))
    };
    let marks = panel.marks.iter().filter(is_shown);
    let lettered: Vec<_> = LETTERS.iter().copied().zip(marks).collect();
    for (letter, mark) in &lettered {
        canvas.letter(*letter, mark.t_s, mark.value);
    }
    let told = lettered.iter().map(|(letter, mark)| {
        format!("{letter} {} at {}", mark.text, engineering(mark.t_s, "s", DIGITS))
    });
    let parts: Vec<String> = std::iter::once(caption(panel, &shown, script)).chain(told).collect();
    let mut lines = wrap(&parts.join("; "), columns);
    let side = if script == Script::Braille { '│' } else { '|' };
    for (label, row) in labels.iter().zip(canvas.lines()) {
        let gap = width - label.chars().count();
        lines.push(format!("{:gap$}{label} {side}{row}", "").trim_end().to_owned());
    }
    lines.extend(time_lines(&frame).map(|line| format!("{:width$} {line}", "")));
    if script == Script::Ascii {
        lines.iter_mut().for_each(|line| *line = plain(line));
    }
    lines
}

/// Which values are shown, and which limits among them.
struct Shown {
    range: (f64, f64),
    limits: Vec<f64>,
}

impl Shown {
    fn of(panel: &Panel, points: &[(f64, f64)]) -> Self {
        let low = points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
        let high = points.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max);
        let least = FLAT * low.abs().max(high.abs()).max(FLAT);
        let span = (high - low).max(least);
        let (mut range, mut limits) = ((high - span, high), Vec::new());
        let mut ends: Vec<f64> =
            panel.bands.iter().flat_map(|band| [band.low, band.high]).collect();
        ends.retain(|end| end.is_finite());
        let away = |end: &f64| (low - end).max(end - high);
        ends.sort_by(|a, b| away(a).total_cmp(&away(b)));
        for end in ends {
            let wider = (range.0.min(end), range.1.max(end));
            if wider.1 - wider.0 <= MOST_AIR * span {
                range = wider;
                limits.push(end);
            }
        }
        Self { range, limits }
    }
}

/// What is drawn, and its windows.
fn caption(panel: &Panel, shown: &Shown, script: Script) -> String {
    let line = if script == Script::Braille { "┄" } else { "-" };
    let windows = panel.bands.iter().map(|band| {
        let ends = match (band.low.is_finite(), band.high.is_finite()) {
            (true, true) => format!("{} .. {}", volts(panel, band.low), volts(panel, band.high)),
            (true, false) => format!("from {}", volts(panel, band.low)),
            _ => format!("to {}", volts(panel, band.high)),
        };
        let drawn = [band.low, band.high].iter().filter(|end| shown.limits.contains(end)).count();
        let mark = if drawn > 0 { format!(" {line}") } else { String::new() };
        format!("{}{mark} {ends}", band.label)
    });
    let windows: Vec<String> = windows.collect();
    match windows.len() {
        0 => panel.label.clone(),
        _ => format!("{}, {}", panel.label, windows.join(", ")),
    }
}

fn volts(panel: &Panel, value: f64) -> String {
    engineering(value, panel.unit, DIGITS)
}

/// Characters that every terminal has.
fn plain(line: &str) -> String {
    line.chars()
        .map(|c| match c {
            'µ' => 'u',
            'Ω' => 'O',
            c if c.is_ascii() => c,
            _ => '?',
        })
        .collect()
}
