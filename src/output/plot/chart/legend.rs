//! The legend: rows over the panels, where it covers no curve.

use super::ruler::measure;
use super::style::{Look, Palette, plain};
use super::{Chart, Style};
use crate::output::plot::canvas::{Align, Canvas, INK, Pen, letters_width};
use crate::output::plot::heading::shortened;

const SIZE: f64 = 11.5;
const ROW: f64 = 17.0;
/// Length of the sample of a line: shows a pattern twice.
const SAMPLE: f64 = 30.0;
const AFTER_SAMPLE: f64 = 6.0;
const AFTER_TEXT: f64 = 16.0;
const BELOW: f64 = 4.0;

/// A line and what it stands for.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Entry {
    pub(super) text: String,
    pub(super) look: Look,
    /// Whether it explains a style rather than a label.
    pub(super) style: bool,
}

/// One entry a label, in order of appearance, then the styles.
pub(super) fn entries(chart: &Chart, palette: &Palette<'_>) -> Vec<Entry> {
    let mut found: Vec<(&str, Entry, bool)> = Vec::new();
    for panel in &chart.panels {
        for curve in panel.curves.iter().filter(|curve| !curve.label.is_empty()) {
            let drawn = curve.points.iter().any(|&(x, y)| {
                measure(x, chart.x.scale).is_some() && measure(y, panel.y.scale).is_some()
            });
            match found.iter_mut().find(|(label, ..)| *label == curve.label) {
                Some((.., any)) => *any |= drawn,
                None => {
                    let entry = Entry {
                        text: curve.label.clone(),
                        look: palette.look(curve),
                        style: false,
                    };
                    found.push((&curve.label, entry, drawn));
                }
            }
        }
    }
    let curves = found.into_iter().map(|(_, mut entry, drawn)| {
        if !drawn {
            entry.text.push_str(" (no values)");
        }
        entry
    });
    let told = |(style, text): &(Style, String)| Entry {
        text: text.clone(),
        look: plain(*style),
        style: true,
    };
    curves.chain(chart.styles.iter().map(told)).collect()
}

/// Where entries stand: left end of each and its row. Texts too long for a row are shortened;
/// styles begin a row of their own when not everything fits into one.
pub(super) fn rows(mut entries: Vec<Entry>, width: f64) -> Vec<(f64, usize, Entry)> {
    for entry in &mut entries {
        entry.text = shortened(&entry.text, SIZE, width - SAMPLE - AFTER_SAMPLE);
    }
    let length = |entry: &Entry| SAMPLE + AFTER_SAMPLE + letters_width(&entry.text, SIZE);
    let all: f64 = entries.iter().map(|entry| length(entry) + AFTER_TEXT).sum();
    let (mut x, mut row, mut styles) = (0.0, 0, all - AFTER_TEXT <= width);
    let mut placed = Vec::with_capacity(entries.len());
    for entry in entries {
        let length = length(&entry);
        if x > 0.0 && (x + length > width || (entry.style && !styles)) {
            (x, row) = (0.0, row + 1);
        }
        styles |= entry.style;
        placed.push((x, row, entry));
        x += length + AFTER_TEXT;
    }
    placed
}

/// Draws it from `left`, `top` on and gives back where it ends.
pub(super) fn draw(
    canvas: &mut Canvas<'_>,
    rows: &[(f64, usize, Entry)],
    left: f64,
    top: f64,
) -> f64 {
    let pen = Pen { size: SIZE, colour: INK, bold: false };
    for (x, row, Entry { text, look, .. }) in rows {
        let y = top + (*row as f64 + 0.5) * ROW;
        let (from, to) = (left + x, left + x + SAMPLE);
        canvas.broken_line(&[(from, y), (to, y)], (look.colour, look.width), look.pattern);
        canvas.text(text, (to + AFTER_SAMPLE, y), pen, Align::Left);
    }
    rows.last().map_or(top, |(_, row, _)| top + (*row as f64 + 1.0) * ROW + BELOW)
}

#[cfg(test)]
mod tests {
    use super::{Entry, letters_width, plain, rows};
    use crate::output::plot::chart::Style;

    fn entry(text: &str, style: bool) -> Entry {
        Entry { text: text.to_owned(), look: plain(Style::Solid), style }
    }

    #[test]
    fn entries_stand_beside_each_other_and_go_on_in_a_new_row() {
        let placed = rows((0..40).map(|i| entry(&format!("{i} mA"), false)).collect(), 860.0);
        for pair in placed.windows(2) {
            let [(x, row, entry), (next, next_row, _)] = pair else { unreachable!() };
            let end = x + 36.0 + letters_width(&entry.text, 11.5);
            assert!(end <= 860.0 && (*next_row == row + 1 && *next == 0.0 || *next > end));
        }
        assert!((1..10).contains(&placed[39].1));
    }

    #[test]
    fn a_text_longer_than_a_row_is_shortened() {
        let placed = rows(vec![entry("a", false), entry(&"wide ".repeat(80), false)], 860.0);
        assert!(placed[1].2.text.ends_with('…') && letters_width(&placed[1].2.text, 11.5) <= 824.0);
        assert_eq!((placed[1].0, placed[1].1), (0.0, 1));
    }

    #[test]
    fn styles_share_the_row_of_the_labels_or_have_their_own() {
        let with = |count| {
            let labels = (0..count).map(|i| entry(&format!("{i} mA"), false));
            let styles = ["falling", "rising"].map(|text| entry(text, true));
            let placed = rows(labels.chain(styles).collect(), 400.0);
            placed.into_iter().filter(|p| p.2.style).map(|p| p.1).collect::<Vec<_>>()
        };
        assert_eq!(with(2), [0, 0]);
        assert_eq!(with(4), [1, 1]);
    }
}
